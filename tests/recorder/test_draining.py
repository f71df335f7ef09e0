"""After off a run stays open until its reservoirs were seen to discharge, tells how they stand, and asks once more."""

from collections.abc import Callable
from pathlib import Path

import pytest
from helpers.rig import Rig, live
from helpers.watched import PLUS

from benchlog.domain import discharge
from benchlog.domain.discharge import Charge
from benchlog.domain.reading import Outcome
from benchlog.domain.stages import State
from benchlog.recorder import messages
from benchlog.recorder.clock import SECOND
from benchlog.store import query
from benchlog.store.records import Ending

MakeRig = Callable[..., Rig]

TAU = 40.0
"""Plan seconds of the reservoir's fall."""


def cut_live(rig: Rig, *, to_discharge: bool = True) -> Path:
    """On at the first stage, cut, seen off; the rail still stands at what it had."""
    rig.to_discharge = to_discharge
    path = live(rig)
    rig.run.cut("cut by the operator")
    rail = rig.meters["+B"]
    rig.goes_off()
    rig.meters["+B"] = rail
    rig.answer("set_dial")
    return path


def fall(rig: Rig, down_to: float) -> None:
    """Let the rail fall along a curve."""

    def one_step() -> bool:
        volts = rig.meters["+B"]
        assert isinstance(volts, float)
        volts *= 1.0 - 0.5 / TAU
        rig.meters["+B"] = volts
        return volts <= down_to

    rig.until(one_step, f"the rail down to {down_to} V")


def charges(rig: Rig) -> list[str]:
    return [event.data["charge"] for event in rig.outbox.events("discharge")]


def seconds_off(rig: Rig) -> float:
    return (rig.clock.now() - rig.run.stages._off_at) / SECOND


def test_it_stays_open_until_the_rail_was_seen_down_and_read_again_and_someone_has_measured(rig: Rig) -> None:
    path = cut_live(rig)
    fall(rig, 2.0)
    assert rig.state is State.TAIL
    assert charges(rig)[-1] == Charge.FALLING
    fall(rig, 0.8)
    asked = rig.prompt("rebound")
    assert charges(rig)[-2:] == [Charge.DECAYED, Charge.STAYED]
    assert rig.state is State.TAIL
    rig.prompts.answer(asked, True)
    rig.until(rig.run.closed.is_set, "the end of the tail")
    rig.close()
    told = [event.text for event in query.events(path, "told")]
    assert "told: measured across each capacitor's own terminals, under 1 V" in told
    (closed,) = query.events(path, "closed")
    assert closed.data["reservoirs"]["+B"]["charge"] == Charge.STAYED
    assert [event.data["trace"] for event in query.events(path, "discharge")] == ["+B"] * len(charges(rig))


def test_nobody_is_asked_twice_and_a_no_is_kept(rig: Rig) -> None:
    path = cut_live(rig)
    fall(rig, 0.8)
    rig.prompts.answer(rig.prompt("rebound"), False)
    rig.until(rig.run.closed.is_set, "the end of the tail")
    rig.close()
    assert [prompt.kind for prompt in rig.outbox.of(messages.Prompt)].count("rebound") == 1
    told = [event.text for event in query.events(path, "told")]
    assert "told: measured across each capacitor's own terminals, not all under 1 V" in told


def test_a_rail_that_stays_up_keeps_it_open_for_so_long_and_no_longer(
    rig: Rig, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(discharge, "LONGEST", 150.0)
    cut_live(rig)
    rig.until(lambda: seconds_off(rig) > 100.0, "nearly so long")
    assert rig.state is State.TAIL
    rig.until(rig.run.closed.is_set, "the end after so long")
    assert charges(rig)[-1] == Charge.STANDS


def test_it_closes_at_once_when_that_is_asked(rig: Rig) -> None:
    path = cut_live(rig)
    fall(rig, 10.0)
    rig.run.act("close")
    assert rig.run.closed.is_set()
    rig.close()
    (closed,) = query.events(path, "closed")
    assert closed.data["reservoirs"]["+B"]["volts"] == pytest.approx(10.0, rel=0.8)


def test_a_question_that_the_close_takes_back_was_never_answered(rig: Rig) -> None:
    path = cut_live(rig)
    fall(rig, 0.8)
    rig.prompt("rebound")
    rig.run.act("close")
    rig.close()
    assert not [event for event in query.events(path, "told") if "measured" in event.text]


@pytest.mark.parametrize("to_discharge", [True, False])
def test_it_waits_for_no_reservoir_where_nobody_looks_after_it(rig: Rig, to_discharge: bool) -> None:
    cut_live(rig, to_discharge=to_discharge)
    if to_discharge:
        rig.run.leave("the window or terminal of this run ended", Ending.ALONE)
    rig.until(rig.run.closed.is_set, "the end of the tail")
    assert seconds_off(rig) < 60.0
    assert charges(rig)[-1] in (Charge.STANDS, Charge.FALLING)


def test_a_reading_that_says_nothing_is_told_as_not_proven(make: MakeRig) -> None:
    rig = make(traces=("name='mains', role='mains'", PLUS), limits=())
    cut_live(rig)
    rig.meters["+B"] = Outcome.OVERLOAD
    rig.until(lambda: charges(rig)[-1:] == [Charge.NOT_PROVEN], "not proven")
    text = rig.outbox.events("discharge")[-1].text
    assert (
        text == "+B: not proven, beyond the range of its meter: measure across the capacitor's own terminals"
    )
