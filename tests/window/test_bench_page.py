"""The bench page: put together by keys, opened and saved with a real library."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from helpers.bench_rig import Person, two_meters
from helpers.fake_link import FakeLink
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QLabel, QWidget
from pytestqt.qtbot import QtBot

from benchlog import resources
from benchlog.domain.leads import LeadNull
from benchlog.domain.reading import Function
from benchlog.errors import Fault
from benchlog.instruments.bench import MeterEntry, PedalEntry, SupplyEntry
from benchlog.instruments.profile import find_profile
from benchlog.recorder.client import messages
from benchlog.window import bench_file
from benchlog.window.bench_card import warnings
from benchlog.window.keys import Keys
from benchlog.window.look import Look
from benchlog.window.runner import Runner
from benchlog.window.shapes import Shape
from benchlog.window.shelf import Shelf
from benchlog.window.work import Work

# The offscreen platform says of every window with a least size that it cannot hand it on.
pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints")

ENTER = Qt.Key.Key_Return
EXAMPLE = resources.path("examples", "by-hand", "bench.toml").read_text(encoding="utf-8")


@pytest.fixture
def link() -> FakeLink:
    return FakeLink()


@pytest.fixture
def person(qtbot: QtBot, look: Look, link: FakeLink, tmp_path: Path) -> Iterator[Person]:
    shelf = Shelf(tmp_path / "library")
    with qtbot.waitSignal(shelf.opened, timeout=60_000):
        shelf.open()
    yield Person(qtbot, Work(look, Keys(), Runner(link), shelf))
    link.close()
    shelf.close()


class TestPuttingTogether:
    def test_an_empty_bench_says_what_to_do(self, person: Person) -> None:
        assert "Attach each instrument by its job" in person.page.view._empty.text()
        assert not person.button("Try the bench").isEnabled()
        assert person.stands == ("Bench", Shape.TO_DO, "")

    def test_enter_goes_through_the_form_and_puts_a_meter_on_the_bench(self, person: Person) -> None:
        person.press("Attach an instrument")
        form = person.page.form
        person.type(form.job, "lamp", ENTER)
        assert form.kind.hasFocus()
        person.bot.keyClick(form.kind, ENTER)
        assert form.address.hasFocus()
        person.type(form.address, "TCPIP::192.0.2.7::5025::SOCKET", ENTER)
        form.function.setCurrentIndex(form.function.findData("volts_ac"))
        person.bot.keyClick(form.function, ENTER)
        person.type(form.clipped_to, "across the series lamp", ENTER)
        form.isolated.setCurrentText("yes")
        person.bot.keyClick(form.isolated, ENTER)
        person.type(form.rating, "CAT II 300 V", ENTER)
        person.type(form.interval, "0,25", ENTER)
        person.type(form.error, "0.5%+2@0.1", ENTER)
        person.until(lambda: "lamp" in person.page.view.cards)
        (entry,) = person.page.draft.bench.meter
        assert entry.interval == 0.25
        assert entry.clipped_to == "across the series lamp"
        assert (entry.link_isolated, entry.rating, entry.error) == ("yes", "CAT II 300 V", "0.5%+2@0.1")
        assert person.stands == ("Bench", Shape.TO_DO, "1 meter, not tried")

    def test_every_fault_is_told_by_the_names_of_the_fields_and_nothing_typed_is_lost(
        self, person: Person
    ) -> None:
        person.press("Attach an instrument")
        form = person.page.form
        person.type(form.job, "lamp")
        person.type(form.address, "tcp:/x")
        person.type(form.error, "huh")
        person.press("Put it on the bench")
        person.until(form.faults.isVisible)
        assert [fault.place for fault in form.faults.faults] == ["Its address", "Its error"]
        assert form.address.text() == "tcp:/x"
        assert person.page.draft.empty

    def test_a_fault_of_the_whole_instrument_is_told_by_its_job(self) -> None:
        faults = (
            Fault("bench.toml: meter[1]", "does not serve"),
            Fault("bench.toml: meter[1].job", "as meter[2]"),
        )
        told = bench_file.in_words(faults, {"job": "Its job"}, "lamp")
        assert [str(fault) for fault in told] == ["lamp: does not serve.", "Its job: as another instrument."]

    def test_a_profile_that_was_mended_mends_the_card(self, person: Person, tmp_path: Path) -> None:
        folder = Path(person.work.shelf.profiles[0])
        folder.mkdir(parents=True, exist_ok=True)
        good = find_profile("scpi-multimeter").text
        (folder / "mine.toml").write_text(good + "oops", encoding="utf-8")
        bench = (
            'file = "benchlog bench 1"\nname = "b"\n[[meter]]\njob = "lamp"\nprofile = "mine"\n'
            'function = "volts_dc"\naddress = "tcp://192.0.2.7:5025"\n'
        )
        person.open(bench, tmp_path)
        person.until(lambda: person.stands == ("Bench", Shape.DOUBT, "1 thing to mend"))
        (folder / "mine.toml").write_text(good, encoding="utf-8")
        person.page.came()
        person.until(lambda: person.stands == ("Bench", Shape.TO_DO, "1 meter, not tried"))
        assert person.page.draft.text == bench

    def test_a_time_that_is_none_is_told(self, person: Person) -> None:
        person.press("Attach an instrument")
        person.page.form.interval.setText("often")
        person.press("Put it on the bench")
        assert [fault.place for fault in person.page.form.faults.faults] == ["Seconds between readings"]

    def test_an_address_is_said_in_words_and_the_mains_side_gets_its_caution(self, person: Person) -> None:
        person.press("Attach an instrument")
        form = person.page.form
        for text, said in (
            ("COM3", "Serial port COM3."),
            ("tcp://10.0.0.1:5025", "Network: 10.0.0.1, port 5025."),
            ("usb:0403:6001:A1", "USB serial adapter 0403:6001, number A1."),
            ("USB0::1::INSTR", "Through VISA, in a process of its own."),
            ("nonsense", '"nonsense" is not an address.'),
        ):
            form.address.setText(text)
            assert form._says.text() == said
        assert not form._caution.isVisible()
        form.job.setText("lamp")
        form.function.setCurrentIndex(form.function.findData("volts_ac"))
        assert form._caution.isVisible()

    def test_a_supply_has_no_leads_and_needs_a_way_for_the_cut(self, person: Person) -> None:
        person.press("Attach an instrument")
        form = person.page.form
        form.kind.setCurrentIndex(form.kind.findData("scpi-supply"))
        assert not form.clipped_to.isVisible()
        person.until(form.cut_address.isVisible)
        person.type(form.job, "bench supply")
        person.type(form.address, "tcp://192.0.2.9:5025")
        person.press("Put it on the bench")
        person.until(lambda: person.page.draft.bench.supply)
        assert person.page.draft.bench.supply == (
            SupplyEntry(job="bench supply", profile="scpi-supply", address="tcp://192.0.2.9:5025"),
        )
        person.press("Add an off-switch")
        assert person.page.switch.kind.currentData() == "supply"
        person.press("Put it on the bench")
        person.until(lambda: person.page.view.switch_cards)
        assert person.page.draft.bench.off_switch[0].supply == "bench supply"

    def test_a_relay_and_a_hand_are_off_switches(self, person: Person) -> None:
        person.attach_one("+B", "tcp://192.0.2.8:5025", "volts_dc")
        person.press("Add an off-switch")
        switch = person.page.switch
        switch.kind.setCurrentIndex(switch.kind.findData("relay"))
        person.press("Put it on the bench")
        person.until(switch.faults.isVisible)
        assert [fault.place for fault in switch.faults.faults] == ["Serial port of the relay"]
        person.type(switch.address, "/dev/ttyUSB3")
        switch.beat.setText("0.1")
        switch.drop_out.setText("0.4")
        person.press("Put it on the bench")
        person.until(lambda: person.page.view.switch_cards)
        person.press("Add an off-switch")
        switch.kind.setCurrentIndex(switch.kind.findData("hand"))
        person.type(switch.job, "wall switch", ENTER)
        person.until(lambda: len(person.page.view.switch_cards) == 2)
        relay, hand = person.page.draft.bench.off_switch
        assert (relay.kind, relay.job, relay.beat, relay.drop_out) == ("relay", "relay", 0.1, 0.4)
        assert (hand.kind, hand.job) == ("hand", "wall switch")

    def test_a_relay_may_be_held_by_a_level_which_is_second_best(self, person: Person) -> None:
        person.attach_one("+B", "tcp://192.0.2.8:5025", "volts_dc")
        person.press("Add an off-switch")
        switch = person.page.switch
        switch.kind.setCurrentIndex(switch.kind.findData("relay"))
        assert (switch.beat.isVisible(), switch.level.isVisible()) == (True, False)
        switch.line.setCurrentIndex(switch.line.findData("rts"))
        assert (switch.beat.isVisible(), switch.level.isVisible()) == (False, True)
        assert "Second best" in switch._about.text()
        switch.level.setCurrentIndex(switch.level.findData("low"))
        person.type(switch.address, "/dev/ttyUSB3")
        person.press("Put it on the bench")
        person.until(lambda: person.page.view.switch_cards)
        (relay,) = person.page.draft.bench.off_switch
        assert (relay.kind, relay.line, relay.level, relay.beat) == ("relay", "rts", "low", 0.05)
        shown = [one.text() for one in person.page.view.switch_cards[0].findChildren(QLabel)]
        assert "/dev/ttyUSB3, held by RTS low, second best, drops after 0.5 s" in shown
        person.press("Change", 1)
        switch.line.setCurrentIndex(switch.line.findData("pump"))
        person.press("Keep the change")
        person.until(lambda: person.page.draft.bench.off_switch[0].line == "pump")
        assert person.page.draft.bench.off_switch[0].level == "high"

    def test_a_pedal_is_put_on_changed_and_removed(self, person: Person) -> None:
        person.attach_one("+B", "tcp://192.0.2.8:5025", "volts_dc")
        person.press("Add a pedal")
        form = person.page.pedal
        person.type(form.job, "+B")
        person.type(form.address, "nowhere")
        person.press("Put it on the bench")
        person.until(form.faults.isVisible)
        assert [fault.place for fault in form.faults.faults] == ["What you call it", "Its serial port"]
        form.job.setText("mushroom")
        form.address.setText("/dev/ttyUSB3")
        form.pressed.setCurrentIndex(form.pressed.findData("open"))
        form.line.setCurrentIndex(form.line.findData("dsr"))
        person.press("Put it on the bench")
        person.until(lambda: "mushroom" in person.page.view.cards)
        (pedal,) = person.page.draft.bench.pedal
        assert pedal == PedalEntry(job="mushroom", address="/dev/ttyUSB3", line="dsr", pressed="open")
        shown = [one.text() for one in person.page.view.cards["mushroom"].findChildren(QLabel)]
        assert "cuts, and nothing else, when its contact opens; a broken wire cuts too" in shown
        person.press("Change", 1)
        assert form.pressed.currentData() == "open"
        form.does.setCurrentIndex(form.does.findData("take"))
        person.press("Keep the change")
        person.until(lambda: person.page.draft.bench.pedal[0].does == "take")
        person.press("Remove", 1)
        person.until(lambda: not person.page.draft.bench.pedal)
        person.press("Put mushroom back")
        person.until(lambda: "mushroom" in person.page.view.cards)

    def test_an_entry_is_changed_removed_and_put_back(self, person: Person, tmp_path: Path) -> None:
        person.open(EXAMPLE.replace("simulated:", "/dev/"), tmp_path)
        person.press("Change", 1)
        assert person.page.form.job.text() == "+B"
        person.page.form.job.setText("minus")
        person.press("Keep the change")
        person.until(lambda: "minus" in person.page.view.cards)
        person.press("Remove", 0)
        person.until(lambda: "lamp" not in person.page.view.cards)
        person.press("Put lamp back")
        person.until(lambda: list(person.page.view.cards) == ["lamp", "minus", "parts meter"])

    def test_what_the_form_does_not_show_stays_with_the_meter(self, person: Person) -> None:
        meter = MeterEntry(
            job="parts meter",
            profile="scpi-multimeter",
            address="tcp://192.0.2.7:5025",
            function=Function.OHMS,
            errors={"ohms": "0.2%+2"},
            range=1000.0,
            calibrated=date(2001, 2, 3),
            null=LeadNull(value=0.12, time=datetime(2026, 5, 3, 10, 15, tzinfo=UTC)),
        )
        person.page.form.begin(meter)
        form = person.page.form
        form.know(bench_file.known_kinds([]))
        assert form._entry(None) == meter
        form.function.setCurrentIndex(form.function.findData("volts_dc"))
        assert form._entry(None) == replace(meter, function=Function.VOLTS_DC, range=None)
        form.kind.setCurrentIndex(form.kind.findData("ascii-handheld"))
        changed = form._entry(None)
        assert isinstance(changed, MeterEntry)
        assert (changed.errors, changed.null, changed.calibrated) == ({}, None, date(2001, 2, 3))

    def test_a_meter_past_its_calibration_says_so_on_its_card(self) -> None:
        due = MeterEntry(job="+B", profile="x", address="x", calibrated=date(2001, 2, 3))
        assert list(warnings(due)) == ["It was last calibrated on 2001-02-03, longer ago than 12 months."]
        assert list(warnings(replace(due, calibrated=None))) == []

    def test_an_input_rated_too_low_for_the_mains_side_is_told_on_its_card(self) -> None:
        low = MeterEntry(
            job="lamp",
            profile="x",
            address="x",
            function=Function.VOLTS_AC,
            clipped_to="across the series lamp",
        )
        said = {
            rating: list(warnings(replace(low, rating=rating)))
            for rating in ("", "CAT I 600 V", "CAT II 300 V")
        }
        assert said[""][-1] == "Mains side: input and leads rated CAT II 300 V or better, fused?"
        assert said["CAT I 600 V"][-1].startswith("Its input is rated CAT I 600 V: a power-up refuses it")
        assert not any("rated" in text for text in said["CAT II 300 V"])

    def test_escape_gives_a_form_up(self, person: Person) -> None:
        person.press("Attach an instrument")
        person.bot.keyClick(person.page.form.job, Qt.Key.Key_Escape)
        assert person.page.views.shown is person.page.view


class TestOpeningAndSaving:
    def test_a_bench_is_saved_under_its_name_and_opened_again(self, person: Person, tmp_path: Path) -> None:
        person.attach_one("lamp", "tcp://192.0.2.7:5025", "volts_ac")
        person.press("Save")
        assert [fault.place for fault in person.page.faults.faults] == ["Name"]
        person.type(person.page.view.name, "Hall bench", ENTER)
        person.press("Save")
        person.until(lambda: person.said)
        assert person.said == ["Saved as hall-bench.toml."]
        assert not person.button("Save").isEnabled()
        person.press("Open a bench")
        person.until(
            lambda: person.page.choice.list.count() == 1 + len(list(resources.path("examples").iterdir()))
        )
        assert person.page.choice.list.rows[0].head == "Hall bench"
        person.bot.keyClick(person.page.choice.list, ENTER)
        person.until(lambda: person.page.views.shown is person.page.view)
        assert [entry.job for entry in person.page.draft.bench.meter] == ["lamp"]

    def test_what_was_not_changed_is_saved_with_its_comments(self, person: Person, tmp_path: Path) -> None:
        person.open(two_meters(), tmp_path)
        person.press("Save")
        file = person.work.shelf.folder / "benches" / "small-bench.toml"
        person.until(file.exists)
        person.until(lambda: person.said)
        assert file.read_text(encoding="utf-8") == two_meters()

    def test_another_bench_of_that_file_name_is_not_written_over(
        self, person: Person, tmp_path: Path
    ) -> None:
        person.open(two_meters(), tmp_path)
        person.press("Save")
        person.until(lambda: person.said)
        person.open(two_meters("Small: bench"), tmp_path)
        person.press("Save")
        person.until(person.page.faults.isVisible)
        assert "holds another bench already" in person.page.faults.faults[0].problem

    def test_an_example_is_opened_to_put_addresses_in(self, person: Person, link: FakeLink) -> None:
        person.press("Open a bench")
        person.until(lambda: person.page.choice.list.count() == 4)
        person.page.choice.list.setCurrentRow(2)
        person.bot.keyClick(person.page.choice.list, ENTER)
        person.until(lambda: "parts meter" in person.page.view.cards)
        assert person.stands == ("Bench", Shape.DOUBT, "3 things to mend")
        assert link.of(messages.OpenBench) == []
        assert not person.button("Try it", 0).isEnabled()

    def test_every_fault_of_a_file_is_told_and_the_bench_at_hand_stays(
        self, person: Person, tmp_path: Path
    ) -> None:
        person.attach_one("lamp", "tcp://192.0.2.7:5025")
        file = tmp_path / "bad.toml"
        file.write_text('file = "benchlog bench 1"\nname = 1\n[[meter]]\njob = "a"\n', encoding="utf-8")
        person.press("Open a bench")
        person.press("Open one from a file")
        person.page.choose.chosen.emit(file)
        person.until(person.page.faults.isVisible)
        assert len(person.page.faults.faults) == 3
        assert [entry.job for entry in person.page.draft.bench.meter] == ["lamp"]


@pytest.mark.parametrize("width", [600, 1240])
def test_nothing_is_wider_than_the_page_or_cut_off(person: Person, tmp_path: Path, width: int) -> None:
    person.page.resize(width, 640)
    long = EXAMPLE.replace("simulated:", "/dev/").replace("across the series lamp", "across " * 20)
    person.open(long, tmp_path)
    cards = [*person.page.view.cards.values(), *person.page.view.switch_cards]
    person.until(lambda: all(one.isVisible() for one in cards))
    person.until(lambda: all(one.height() >= one.heightForWidth(one.width()) for one in cards))
    wide = [
        one
        for one in person.page.findChildren(QWidget)
        if one.isVisible() and one.mapTo(person.page, one.rect().topRight()).x() >= width
    ]
    assert wide == []


def test_all_of_the_benchs_name_can_be_read_at_half_of_a_small_screen(person: Person) -> None:
    name = person.page.view.name
    person.page.resize(600, 640)
    text = "Hall bench: network meters, a handheld on the mains, a mains relay"
    name.setText(text)
    person.until(lambda: name.fontMetrics().horizontalAdvance(text) < name.width() - 24)
    assert name.toolTip() == text
