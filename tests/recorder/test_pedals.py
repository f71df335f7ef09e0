"""A pedal cuts without any window, takes nothing by itself, and one that cannot be read is never passed over."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from helpers.far_lines import FarLines, far_lines
from helpers.live_bench import live_bench
from helpers.near import Inside, bench_text
from helpers.plans import short_plan
from helpers.rig import Rig, in_thread
from helpers.rig import live as go_live
from helpers.stand_ins import Outbox
from helpers.until import until

from benchlog.errors import BadInput, BenchlogError
from benchlog.instruments.address import SerialAddress
from benchlog.instruments.bench import PedalEntry
from benchlog.instruments.line_port import LinePort
from benchlog.instruments.opening import open_lines
from benchlog.recorder import messages, pedals
from benchlog.recorder.outlet import Outlet
from benchlog.recorder.pedals import Pedals
from benchlog.store.records import Ending

pytestmark = pytest.mark.filterwarnings("ignore:set(Daemon|Name):DeprecationWarning")  # pyserial's own


class Feet:
    """Pedals on one port, beside a run or none."""

    def __init__(self, far: FarLines) -> None:
        self.far = far
        self.rig: Rig | None = None
        self.outbox = Outbox()
        self.states: list[tuple[str, str]] = []
        address = SerialAddress("", far.address)
        self.port = LinePort(lambda up: open_lines(address, "foot", up), frozenset({"dtr"}), pedals=True)
        self.pedals: Pedals | None = None
        self.entry = PedalEntry(job="foot", address=far.address)

    def watch(self, **entry: str) -> Pedals:
        """Begin to look."""
        self.entry = replace(self.entry, **entry)
        rig = self.rig
        self.pedals = Pedals(
            [self.entry],
            lambda _entry: self.port,
            lambda: rig.run if rig is not None else None,
            rig.outlet if rig is not None else Outlet(self.outbox.send),
            lambda job, state, _text: self.states.append((job, state)),
        )
        return self.pedals

    @property
    def told(self) -> list[messages.Pedal]:
        return (self.rig.outbox if self.rig is not None else self.outbox).of(messages.Pedal)

    def is_open(self) -> bool:
        return bool(self.states) and self.states[-1] == ("foot", "open")

    def close(self) -> None:
        if self.pedals is not None:
            self.pedals.stop()
        self.port.close()


@pytest.fixture
def feet() -> Iterator[Feet]:
    with far_lines() as far:
        made = Feet(far)
        yield made
        made.close()


@pytest.fixture
def live(feet: Feet, make: Callable[..., Rig]) -> Callable[..., Rig]:
    """Goes live with a pedal of these properties."""

    def go(**entry: str) -> Rig:
        feet.rig = rig = make()
        feet.watch(**entry).check()
        go_live(rig)
        return rig

    return go


def reason(rig: Rig) -> str:
    return rig.run._ending[1] if rig.run._ending is not None else ""


def test_a_pedal_cuts_the_live_run(feet: Feet, live: Callable[..., Rig]) -> None:
    rig = live()
    feet.far.close_contact()
    until(lambda: feet.told, "who is told")
    assert reason(rig) == "cut by foot"
    assert rig.switches[0].did[-1] == "off"
    assert feet.told == [messages.Pedal(job="foot", does="cut")]


def test_it_cuts_once_each_time_it_is_pressed(feet: Feet) -> None:
    feet.watch()
    for count in (1, 2):
        until(lambda: feet.is_open() and feet.pedals is not None, "it")
        feet.far.close_contact()
        until(lambda count=count: len(feet.told) == count, "who is told")  # type: ignore[misc]
        feet.far.open_contact()
        assert feet.pedals is not None
        until(lambda: not feet.pedals._pedals[0]._contact.pressed, "its release")  # type: ignore[union-attr]


def test_a_pedal_that_takes_never_cuts(feet: Feet, live: Callable[..., Rig]) -> None:
    rig = live(does="take")
    feet.far.close_contact()
    until(lambda: feet.told, "who is told")
    assert feet.told == [messages.Pedal(job="foot", does="take")]
    feet.far.unplug()
    until(lambda: feet.states[-1] == ("foot", "gone"), "its loss")
    assert reason(rig) == ""
    assert rig.switches[0].did[-1] == "on"
    feet.far.plug_in()


def test_it_ends_a_proof_under_way(feet: Feet, make: Callable[..., Rig]) -> None:
    feet.rig = rig = make()
    rig.switches[0].asks = ("relay_clicked",)
    feet.watch().check()
    refused: list[BenchlogError] = []

    def prove() -> None:
        try:
            rig.run.prove()
        except BenchlogError as error:
            refused.append(error)

    proving = in_thread(prove)
    rig.prompt("relay_clicked")
    feet.far.close_contact()
    proving.join(30.0)
    assert "was denied" in str(refused[0])
    assert rig.switches[0].did == ["prove", "off"]


def test_a_broken_wire_counts_as_pressed_where_the_contact_is_normally_closed(
    feet: Feet, live: Callable[..., Rig]
) -> None:
    feet.far.close_contact()
    rig = live(pressed="open")
    assert feet.told == []
    feet.far.open_contact()
    until(lambda: feet.told, "who is told")
    assert reason(rig) == "cut by foot"


def test_a_port_that_is_lost_counts_as_pressed_there(feet: Feet, live: Callable[..., Rig]) -> None:
    feet.far.close_contact()
    rig = live(pressed="open")
    feet.far.unplug()
    (trip,) = until(lambda: rig.outbox.of(messages.Trip), "its trip")
    assert trip.trace == "foot"
    assert "counts as pressed" in trip.text
    assert rig.switches[0].did[-1] == "off"
    feet.far.plug_in()


def test_elsewhere_its_loss_is_told_loudly_and_it_cuts_again_when_it_is_back(
    feet: Feet, live: Callable[..., Rig], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pedals, "AGAIN", 0.05)
    rig = live()
    feet.far.unplug()
    (notice,) = until(lambda: rig.outbox.of(messages.Notice), "who is told")
    assert notice.grave
    assert "it cuts no more" in notice.problem
    assert [event.text for event in rig.outbox.of(messages.Event) if event.kind == "warn"]
    assert reason(rig) == ""
    feet.far.plug_in()
    until(feet.is_open, "its return")
    feet.far.close_contact()
    until(lambda: reason(rig) == "cut by foot", "its cut")


# --- before anything is live ----------------------------------------------------------------------


def test_nothing_goes_live_with_a_pedal_that_is_pressed(feet: Feet) -> None:
    feet.far.close_contact()
    with pytest.raises(
        BadInput, match='foot: is pressed; let it go; if nobody presses it, set pressed = "open"'
    ):
        feet.watch().check()
    feet.far.open_contact()
    until(lambda: feet.pedals is not None and not feet.pedals._pedals[0]._contact.pressed, "its release")
    assert feet.pedals is not None
    feet.pedals.check()


def test_one_latched_before_a_run_still_speaks_against_turning_anything_up(feet: Feet) -> None:
    watched = feet.watch()
    watched.check()
    watched.may_rise()
    feet.far.close_contact()
    until(lambda: feet.told, "its press, with no run to cut")
    with pytest.raises(BadInput, match="foot: is pressed"):
        watched.may_rise()


def test_one_that_takes_and_cannot_be_read_speaks_against_nothing(feet: Feet) -> None:
    watched = feet.watch(does="take")
    watched.check()
    feet.far.unplug()
    until(lambda: feet.states[-1] == ("foot", "gone"), "its loss")
    watched.may_rise()
    feet.far.plug_in()


def test_one_that_takes_may_be_pressed_and_takes_nothing(feet: Feet) -> None:
    feet.far.close_contact()
    feet.watch(does="take").check()
    assert feet.told == []


def test_nothing_goes_live_with_a_pedal_that_cannot_be_read(
    feet: Feet, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pedals, "KNOWN", 0.1)
    feet.far.unplug()
    watched = feet.watch()
    until(lambda: feet.states == [("foot", "gone")], "its loss")
    with pytest.raises(BadInput, match="foot: cannot be read"):
        watched.check()
    feet.far.plug_in()


def test_a_port_that_a_relay_shut_on_purpose_is_not_lost(feet: Feet) -> None:
    feet.watch().check()
    held = feet.port.afresh()
    held.shut()
    assert feet.pedals is not None
    pedal = feet.pedals._pedals[0]
    until(lambda: pedal._contact.pressed is None, "that nothing is known")
    assert feet.states == [("foot", "open")]
    feet.port.afresh()
    feet.pedals.check()


def test_a_port_that_tells_nothing_is_lost(feet: Feet, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pedals, "UNTOLD", 0.05)
    monkeypatch.setattr(LinePort, "lines", lambda _port: None)
    feet.watch()
    until(lambda: feet.states == [("foot", "gone")], "its loss")


# --- the whole recorder ---------------------------------------------------------------------------


def pressed(near: Inside) -> bool | None:
    """What is known of its first pedal."""
    assert near.recorder._pedals is not None
    return near.recorder._pedals._pedals[0]._contact.pressed


def test_one_adapter_holds_the_relay_in_and_reads_the_pedal(tmp_path: Path) -> None:
    def person(prompt: messages.Prompt) -> bool:
        return bool(prompt.kind)

    with far_lines() as far, live_bench("board") as board:
        lines = (
            f'\n[[off_switch]]\nkind = "relay"\njob = "mains relay"\naddress = "{far.address}"\nline = "rts"\n'
            f'[[pedal]]\njob = "foot"\naddress = "{far.address}"\n'
        )
        near = Inside(person)
        near.open_bench(bench_text(board, "board", lines), board.bench.speed)
        said = near.load(short_plan("board"))["sentences"]
        assert [text for text in said if "held in by the level of RTS" in text]
        far.close_contact()
        near.wait(messages.Pedal)
        with pytest.raises(BadInput, match="foot: is pressed"):
            near.request(messages.Prove(id=0))
        assert not far.clicks()
        far.open_contact()
        until(lambda: not pressed(near), "its release")
        proofs = near.request(messages.Prove(id=0))["said"]
        assert [text for text in proofs if "second best" in text]
        near.arm(tmp_path)
        near.act("next")
        near.wait(messages.Stage, lambda stage: stage.state in ("dwelling", "ready"))
        assert far.levels == {"rts": True, "dtr": True}
        far.close_contact()
        until(lambda: not far.levels["rts"], "the relay's fall")
        closed = near.wait(messages.Closed)
        assert (closed.outcome, closed.reason) == (Ending.STOPPED, "cut by foot")
        near.close()
