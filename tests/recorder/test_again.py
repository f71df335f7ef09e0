"""Up again after a trip: by the file of that run, by what is read now and by a cause; or why not, in one sentence."""

import dataclasses
import re
import sqlite3
from collections.abc import Callable
from pathlib import Path

import msgspec
import pytest
from helpers.rig import LAMP_HIGH, Rig, break_lamp
from helpers.watched import LAMP, MAINS, MINUS, OFFSET, PLUS

from benchlog.domain.offproof import CutOutcome, Finding
from benchlog.domain.stages import State
from benchlog.errors import BadInput
from benchlog.recorder import again, messages, run
from benchlog.store import query

Make = Callable[..., Rig]

OFFSET_HIGH = "trace='offset L', kind='high', value=1.0, persistence=0.5"
STAGES = tuple(f"name='{f} %', fraction={f / 100}, dwell=30.0" for f in (10, 40, 100))
SINK = "name='sink L', role='sink'"


def made(make: Make, **more: object) -> Rig:
    """A run of the plan that is climbed twice."""
    plan = {
        "traces": (MAINS, LAMP, PLUS, OFFSET, SINK),
        "limits": (LAMP_HIGH, OFFSET_HIGH),
        "stages": STAGES,
    }
    rig = make(**(plan | more))
    rig.meters["sink L"] = 24.0
    return rig


def climbs(rig: Rig, *volts: float) -> None:
    """One stage after the other, each rested at."""
    for one in volts:
        rig.go_up(one)
        rig.until_state(State.READY)


def tripped(make: Make, break_it: Callable[[Rig], None] | None = None) -> Path:
    """The file of a run that tripped at its second stage, and was seen off."""
    rig = made(make)
    path = rig.arm()
    climbs(rig, 23.0)
    rig.go_up(92.0)
    if break_it is None:
        rig.meters["offset L"] = 2.0
    else:
        break_it(rig)
    rig.until(rig.fired, "the trip")
    rig.goes_off()
    rig.meters["offset L"] = 0.0
    rig.until(rig.run.closed.is_set, "the end of the tail")
    rig.close()
    return path


def arm(rig: Rig, path: Path, cause: str = "probe slipped", **more: str) -> Path:
    """Prove and arm, to go on from that run."""
    rig.run.prove()
    for name in rig.meters:
        rig.read(name)
    request = msgspec.structs.replace(rig.request(), again=str(path), cause=cause, **more)
    return rig.run.arm(request, bench="", profiles={}, program="benchlog 0")


def dwell(rig: Rig) -> str:
    """What the stage says of its dwell."""
    return rig.outbox.of(messages.Stage)[-1].waits[0][0]


def test_dwells_are_short_below_the_stage_of_the_trip_and_the_plans_own_from_there(make: Make) -> None:
    before = tripped(make)
    rig = made(make)
    path = arm(rig, before)
    said = []
    for volts in (23.0, 92.0, 230.0):
        climbs(rig, volts)
        said.append(dwell(rig))
    assert said == ["dwell 10 s", "dwell 30 s", "dwell 30 s"]
    rig.close()
    (event,) = query.events(path, "again")
    old = query.state(before).head
    assert event.data == {
        "session": old.id,
        "file": before.name,
        "tripped": query.events(before, "trip")[0].text,
        "cause": "probe slipped",
        "stage": 1,
    }
    assert event.text.startswith("again up to 40 %, dwells of 10 s at most below it; the run of ")
    assert event.text.endswith("; cause named: probe slipped")


def test_a_run_that_is_refused_is_not_armed_and_may_go_up_with_full_dwells(make: Make) -> None:
    before = tripped(make)
    rig = made(make)
    with pytest.raises(BadInput, match="No cause has been named"):
        arm(rig, before, " ")
    assert rig.run.session is None
    rig.run.arm(rig.request(), bench="", profiles={}, program="")
    climbs(rig, 23.0)
    assert dwell(rig) == "dwell 30 s"


def test_a_cut_that_comes_while_the_old_run_is_read_ends_the_arming(
    make: Make, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = tripped(make)
    rig = made(make)

    def read_before(path: Path) -> again.Before:
        rig.run.cut("cut by the pedal")
        return again.read_before(path)

    monkeypatch.setattr(run, "read_before", read_before)
    with pytest.raises(BadInput, match="it was cut while"):
        arm(rig, before)
    assert rig.run.session is None


def test_never_after_a_short(make: Make) -> None:
    before = tripped(make, break_lamp)
    with pytest.raises(BadInput, match="drew too much, as with a short; go up with full dwells"):
        arm(made(make), before)


def test_not_on_a_rail_that_still_stands_nor_on_a_sink_that_is_warm(make: Make) -> None:
    before = tripped(make)
    rig = made(make)
    rig.meters["+B"] = 12.0
    with pytest.raises(BadInput, match=r"\+B still stands at 12\.0 V"):
        arm(rig, before)
    rig.meters |= {"+B": 0.2, "sink L": 40.0}
    with pytest.raises(BadInput, match=r"sink L is 16\.0 K above its start"):
        arm(rig, before)


def test_not_of_another_unit_another_plan_or_a_run_that_did_not_trip(make: Make) -> None:
    before = tripped(make)
    with pytest.raises(BadInput, match="was of another unit"):
        arm(made(make), before, unit="another")
    with pytest.raises(BadInput, match="had other stages"):
        arm(made(make, stages=STAGES[:2]), before)
    rig = made(make)
    path = rig.arm()
    rig.run.act("close")
    rig.until(rig.run.closed.is_set, "its close")
    rig.close()
    with pytest.raises(BadInput, match="did not trip"):
        arm(made(make), path)


def test_what_was_watched_then_must_be_seen_back_also_where_this_plan_leaves_it_out(make: Make) -> None:
    before = tripped(make)
    for without, name in ((SINK, "sink L"), (PLUS, "+B")):
        rig = made(make, traces=[one for one in (MAINS, LAMP, PLUS, OFFSET, SINK, MINUS) if one != without])
        rig.meters["-B"] = 0.2
        rig.meters.pop(name, None)
        with pytest.raises(BadInput, match=re.escape(f"{name} is not read now")):
            arm(rig, before)


def test_a_persons_word_does_not_stand_against_a_meter(make: Make) -> None:
    rig = made(make)
    path = rig.arm()
    climbs(rig, 23.0)
    rig.switches[0].finds = Finding(CutOutcome.STILL_LIVE, "STILL LIVE: 30 V")
    rig.switches[0].patient = 0.0
    rig.meters["offset L"] = 2.0
    rig.until(rig.fired, "the trip")
    rig.until(lambda: rig.run.off.outcome == CutOutcome.STILL_LIVE, "what is seen")
    rig.answer("switch_off")
    rig.until(rig.run.closed.is_set, "the end of the tail")
    rig.close()
    (closed,) = query.events(path, "closed")
    assert closed.data["told_off"] is True
    assert again.read_before(path).tripped.off_known is False


def test_a_file_that_does_not_tell_when_it_was_is_refused(make: Make) -> None:
    before = tripped(make)
    with sqlite3.connect(before) as connection:
        connection.execute("DELETE FROM anchor")
    connection.close()
    with pytest.raises(BadInput, match="does not tell when it was"):
        again.read_before(before)


def test_not_where_nobody_has_seen_it_off_nor_long_after(make: Make) -> None:
    before = again.read_before(tripped(make))
    guard = made(make).run.guard
    unseen = dataclasses.replace(before.tripped, off_known=False)
    with pytest.raises(BadInput, match="STILL LIVE"):
        again.going_on(dataclasses.replace(before, tripped=unseen), guard, "u", "probe slipped")
    long_ago = before.at.replace(year=before.at.year - 1)
    with pytest.raises(BadInput, match="not known to be less than an hour ago"):
        again.going_on(dataclasses.replace(before, at=long_ago), guard, "u", "probe slipped")
