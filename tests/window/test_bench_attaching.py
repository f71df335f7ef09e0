"""A bench attached: what each instrument says is told, and no card says more than what is known."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from helpers.bench_rig import Person, two_meters
from helpers.fake_link import FakeLink
from helpers.far_end import far_end, multimeter
from pytestqt.qtbot import QtBot

from benchlog.commands.simulated import Simulated
from benchlog.errors import WATCH, BadInput
from benchlog.recorder.client import messages
from benchlog.window.keys import Keys
from benchlog.window.look import Look
from benchlog.window.offer import Offer
from benchlog.window.run_view import Phase
from benchlog.window.runner import Runner
from benchlog.window.shapes import Shape
from benchlog.window.shelf import Shelf
from benchlog.window.work import Work

# The offscreen platform says of every window with a least size that it cannot hand it on.
pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints")

Make = Callable[..., Work]


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


class TestAttaching:
    @pytest.fixture
    def opened(self, person: Person, link: FakeLink, tmp_path: Path) -> Person:
        person.open(two_meters(), tmp_path)
        person.until(lambda: link.of(messages.OpenBench))
        return person

    def test_a_bench_of_ones_own_is_attached_as_it_opens(self, opened: Person, link: FakeLink) -> None:
        (request,) = link.of(messages.OpenBench)
        assert isinstance(request, messages.OpenBench)
        assert (request.text, request.place, request.rate) == (two_meters(), "opened.toml", 1.0)
        assert request.profiles == opened.work.shelf.profiles
        assert opened.work.runner.view.bench == opened.page.draft.bench
        assert opened.stands == ("Bench", Shape.DOUBT, "being tried")
        link.say(messages.Meter(job="lamp", state="open", text="A,B,C,D", identity="A,B,C,D"))
        link.answer(messages.OpenBench, meters={"lamp": ["open", "A,B,C,D"], "+B": ["open", ""]})
        assert opened.stands == ("Bench", Shape.GOOD, "2 meters")
        assert opened.state("lamp") == "lamp: answers"
        assert opened.lines[:2] == ["the bench is tried", "lamp  answers: A,B,C,D"]

    def test_one_that_does_not_answer_says_why(self, opened: Person, link: FakeLink) -> None:
        link.answer(messages.OpenBench, meters={"lamp": ["open", ""], "+B": ["refused", "+B: nobody there."]})
        assert opened.stands == ("Bench", Shape.DOUBT, "1 of 2 answer")
        assert opened.state("+B") == "+B: refused"
        assert opened.page.view.cards["+B"]._why.text() == "nobody there."
        link.say(messages.Meter(job="+B", state="open", text="A,B,C,D", identity="A,B,C,D"))
        assert opened.stands == ("Bench", Shape.GOOD, "2 meters")

    def test_a_bench_that_is_refused_says_why(self, opened: Person, link: FakeLink) -> None:
        link.refuse(messages.OpenBench, BadInput("open_bench", "a run is open", "close it first"))
        assert opened.page.faults.isVisible()
        assert opened.stands == ("Bench", Shape.TO_DO, "2 meters, not tried")

    def test_readings_are_told_as_they_come_and_then_only_what_is_none(
        self, opened: Person, link: FakeLink
    ) -> None:
        link.answer(messages.OpenBench, meters={"lamp": ["open", ""], "+B": ["open", ""]})
        rows: list[tuple[int, int, float | None, str]] = [(n, n, 2.31, "ok") for n in range(1, 9)]
        link.say(messages.Readings(batches=[messages.Batch("lamp", rows)]))
        link.say(messages.Readings(batches=[messages.Batch("lamp", [(9, 9, None, "missing")])]))
        told = [line for line in opened.lines if line.startswith("lamp")]
        assert told == ["lamp  asked, answered +2.31 V AC (ok)"] * 5 + [
            "lamp  asked, answered no answer (missing)"
        ]
        opened.page._show_readings()
        assert opened.page.view.cards["lamp"]._number.isVisible()
        assert opened.page.view.cards["lamp"]._age.text() == "no answer"

    def test_one_whose_answers_cannot_be_read_does_not_look_good(
        self, opened: Person, link: FakeLink
    ) -> None:
        link.answer(messages.OpenBench, meters={"lamp": ["open", ""], "+B": ["open", ""]})
        link.say(messages.Readings(batches=[messages.Batch("lamp", [(1, 1, None, "malformed")])]))
        assert opened.state("lamp") == "lamp: not readable"
        assert opened.state("+B") == "+B: answers"
        assert opened.stands == ("Bench", Shape.DOUBT, "1 of 2 can be read")
        assert "without lamp" in opened.page.view.says.text()
        link.say(messages.Readings(batches=[messages.Batch("lamp", [(2, 2, 2.3, "ok")])]))
        assert opened.state("lamp") == "lamp: answers"
        assert opened.stands == ("Bench", Shape.GOOD, "2 meters")

    def test_what_cannot_be_read_when_tried_says_why_and_counts_as_not_tried_when_mended(
        self, opened: Person, link: FakeLink
    ) -> None:
        link.refuse(messages.OpenBench, BadInput("open_bench", "a run is open", "close it first"))
        opened.press("Try it", 0)
        read, why = [("", "volts_ac", "malformed", None)], 'mine.toml: reply: "1 V" ends in "V".'
        link.answer(messages.Try, lines=[], read=read, identity="A", wrong="", unreadable=why)
        assert opened.state("lamp") == "lamp: not readable"
        assert opened.page.view.cards["lamp"]._why.text() == why
        assert why in opened.lines[-1]
        opened.page.attached.doubt_profiles(frozenset({"another"}))
        opened.page._stand()
        assert opened.state("lamp") == "lamp: not readable"
        opened.page.attached.doubt_profiles(frozenset({"scpi-multimeter"}))
        opened.page._stand()
        assert opened.state("lamp") == "lamp: not tried"

    def test_what_was_changed_must_be_tried_again(self, opened: Person, link: FakeLink) -> None:
        link.answer(messages.OpenBench, meters={"lamp": ["open", ""], "+B": ["open", ""]})
        opened.press("Change", 1)
        opened.page.form.address.setText("tcp://192.0.2.99:5025")
        opened.press("Keep the change")
        opened.until(lambda: opened.stands == ("Bench", Shape.DOUBT, "changed, not tried"))
        assert opened.state("lamp") == "lamp: answers"
        assert opened.state("+B") == "+B: not tried"
        opened.press("Try the bench")
        request = link.of(messages.OpenBench)[-1]
        assert isinstance(request, messages.OpenBench)
        assert "192.0.2.99" in request.text

    def test_while_a_run_is_open_nothing_is_attached(
        self, opened: Person, link: FakeLink, tmp_path: Path
    ) -> None:
        link.answer(messages.OpenBench, meters={"lamp": ["open", ""], "+B": ["open", ""]})
        view = opened.work.runner.view
        view.phase = Phase.ARMED
        opened.work.runner.phase_changed.emit(Phase.ARMED)
        assert "A run is open" in opened.page.view.says.text()
        assert not opened.button("Try the bench").isEnabled()
        assert not opened.button("Try it").isEnabled()
        opened.open(two_meters("Another"), tmp_path)
        assert opened.work.runner.view is view
        assert len(link.of(messages.OpenBench)) == 1

    def test_when_the_reader_of_the_meters_is_gone_no_card_says_answers(
        self, opened: Person, link: FakeLink
    ) -> None:
        link.answer(messages.OpenBench, meters={"lamp": ["open", ""], "+B": ["open", ""]})
        link.die("ended")
        assert opened.state("lamp") == "lamp: gone"
        assert opened.stands == ("Bench", Shape.TO_DO, "2 meters, not tried")

    def test_a_complaint_of_a_recorder_that_lives_takes_nothing_away(
        self, opened: Person, link: FakeLink
    ) -> None:
        link.answer(messages.OpenBench, meters={"lamp": ["open", ""], "+B": ["open", ""]})
        link.say(messages.Notice(place=WATCH, problem="said something that cannot be understood"))
        assert opened.state("lamp") == "lamp: answers"

    def test_a_new_recorder_gets_the_bench_that_the_old_one_had(self, opened: Person, link: FakeLink) -> None:
        link.answer(messages.OpenBench, meters={"lamp": ["open", ""], "+B": ["open", ""]})
        link.die()
        assert len(link.of(messages.OpenBench)) == 1
        link.start()
        assert len(link.of(messages.OpenBench)) == 2
        assert opened.stands == ("Bench", Shape.DOUBT, "being tried")

    def test_one_that_died_as_it_attached_the_bench_gets_it_as_well(
        self, opened: Person, link: FakeLink
    ) -> None:
        link.die()
        assert opened.stands == ("Bench", Shape.TO_DO, "2 meters, not tried")
        link.start()
        assert opened.stands == ("Bench", Shape.DOUBT, "being tried")

    def test_a_bench_that_was_changed_since_is_said_to_be_not_attached(
        self, opened: Person, link: FakeLink
    ) -> None:
        link.answer(messages.OpenBench, meters={"lamp": ["open", ""], "+B": ["open", ""]})
        opened.press("Remove", 1)
        opened.until(lambda: len(opened.page.draft.bench.meter) == 1)
        link.die()
        link.start()
        assert len(link.of(messages.OpenBench)) == 1
        assert "Not attached" in opened.page.view.says.text()

    def test_right_after_begin_the_bench_stays_as_it_is_and_says_so(
        self, opened: Person, link: FakeLink
    ) -> None:
        link.answer(messages.OpenBench, meters={"lamp": ["open", ""], "+B": ["open", ""]})
        runner = opened.work.runner
        runner.view.phase = Phase.PROVEN
        runner.arm("folder")
        opened.press("Try the bench")
        opened.press("Try it", 0)
        assert len(link.of(messages.OpenBench)) == 1
        assert link.of(messages.Try) == []
        assert "stays as it is" in opened.page.view.says.text()

    def test_one_is_tried_by_itself_and_the_bench_attached_again(
        self, opened: Person, link: FakeLink
    ) -> None:
        link.answer(messages.OpenBench, meters={"lamp": ["open", ""], "+B": ["open", ""]})
        opened.press("Try it", 0)
        (request,) = link.of(messages.Try)
        assert isinstance(request, messages.Try)
        assert request.job == "lamp"
        assert "+B" not in request.text
        lines = [(0.0, "asked", "READ?"), (0.1, "answered", "+2.31E+00")]
        read = [("", "volts_ac", "ok", 2.31)]
        link.answer(messages.Try, lines=lines, read=read, identity="A,B,C,D", wrong="")
        assert opened.lines[-4:] == [
            "lamp  asked  READ?",
            "lamp  answered  +2.31E+00",
            "lamp  reads +2.31 V AC (ok)",
            "the bench is tried",
        ]
        assert len(link.of(messages.OpenBench)) == 2


def test_a_simulated_benchs_rate_is_for_its_own_addresses_alone(
    qtbot: QtBot, look: Look, link: FakeLink, tmp_path: Path
) -> None:
    shelf = Shelf(tmp_path / "library")
    with qtbot.waitSignal(shelf.opened, timeout=60_000):
        shelf.open()
    runner = Runner(link)
    runner.rate = 10.0
    person = Person(
        qtbot, Work(look, Keys(), runner, shelf, Offer(bench_text=two_meters(), bench_name="b.toml"))
    )
    person.page.open_offer()
    person.until(lambda: link.of(messages.OpenBench))
    link.answer(messages.OpenBench, meters={})
    person.open(two_meters().replace("192.0.2.8", "192.0.2.9"), tmp_path)
    person.until(lambda: len(link.of(messages.OpenBench)) == 2)
    rates = [one.rate for one in link.of(messages.OpenBench) if isinstance(one, messages.OpenBench)]
    assert rates == [10.0, 1.0]
    link.close()
    shelf.close()


# --- with a recorder and a far end that are real ---------------------------------------------------


def test_the_offered_bench_is_attached_read_and_tried_for_real(
    make_work: Make, qtbot: QtBot, tmp_path: Path
) -> None:
    with Simulated("by-hand", "healthy", 10.0, tmp_path / "witness.jsonl") as far:
        offer = Offer(bench_text=far.bench_of("by-hand"), bench_name="bench.toml")
        person = Person(qtbot, make_work(recorder=True, offer=offer))
        person.page.open_offer()
        person.until(lambda: person.stood and person.stands == ("Bench", Shape.GOOD, "3 meters"))
        person.until(lambda: any(line.startswith("lamp  asked, answered") for line in person.lines))
        person.until(lambda: any(line.startswith("+B  wrote") for line in person.lines))
        person.press("Try it", 0)
        person.until(lambda: "lamp  asked  READ?" in person.lines)
        assert any(line.startswith("lamp  answered  ") for line in person.lines)
        person.until(lambda: person.stands == ("Bench", Shape.GOOD, "3 meters"))
        person.until(lambda: not person.page.attached.at_work)


def test_a_meter_that_is_not_there_is_told_and_the_other_answers(
    make_work: Make, qtbot: QtBot, tmp_path: Path
) -> None:
    with far_end(multimeter()) as gone:
        nowhere = gone.address
    with far_end(multimeter(b"+4.41000000E+01\n")) as far:
        text = two_meters().replace("tcp://192.0.2.7:5025", nowhere)
        person = Person(qtbot, make_work(recorder=True))
        person.open(text.replace("tcp://192.0.2.8:5025", far.address), tmp_path)
        person.until(lambda: person.stands == ("Bench", Shape.DOUBT, "1 of 2 answer"))
        person.until(lambda: "+B  asked, answered +44.1 V DC (ok)" in person.lines)
        person.press("Try it", 0)
        person.until(lambda: "lamp  tried by itself" in person.lines)
        person.until(lambda: not person.page.attached.at_work)


class TestPedals:
    def test_a_pedal_stands_with_the_instruments_and_each_press_is_told(
        self, person: Person, link: FakeLink, tmp_path: Path
    ) -> None:
        pedal = '\n[[pedal]]\njob = "foot"\naddress = "/dev/ttyUSB3"\n'
        person.open(two_meters() + pedal, tmp_path)
        person.until(lambda: link.of(messages.OpenBench))
        link.answer(messages.OpenBench, meters={"lamp": ["open", "A"], "+B": ["open", ""]})
        assert person.state("foot") == "foot: being opened"
        link.say(messages.Meter(job="foot", state="open"))
        assert person.state("foot") == "foot: answers"
        link.say(messages.Pedal(job="foot", does="cut"), messages.Pedal(job="foot", does="take"))
        assert person.lines[-2:] == ["foot  pressed: cut", "foot  pressed: take, on the Parts page"]
        link.say(messages.Meter(job="foot", state="gone", text="the port broke"))
        assert person.state("foot") == "foot: gone"
        assert "without foot" in person.page.view.says.text()
