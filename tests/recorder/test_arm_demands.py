"""What a plan demands before it may go live: cold checks, and somebody who stays or an off-switch that acts alone."""

from collections.abc import Callable
from pathlib import Path

import msgspec
import pytest
from helpers.rig import Rig
from helpers.stand_ins import Switch
from helpers.watched import MAINS

from benchlog.domain.cold_checks import ColdAnswer, ColdCheck, told
from benchlog.domain.stages import State
from benchlog.errors import BadInput
from benchlog.recorder import messages
from benchlog.store import query
from benchlog.store.records import Ending

Make = Callable[..., Rig]
DEMANDS = 'cold = ["earth", "presets"]'


def arm(rig: Rig, *cold: ColdAnswer, alone: bool = False) -> Path:
    rig.run.prove()
    for name in rig.meters:
        rig.read(name)
    request = msgspec.structs.replace(rig.request(), cold=list(cold), alone=alone)
    return rig.run.arm(request, bench="", profiles={}, program="")


def test_nothing_goes_live_while_a_cold_check_is_missing_and_each_is_named(make: Make) -> None:
    rig = make(Switch("mains relay"), head=DEMANDS)
    with pytest.raises(BadInput) as caught:
        arm(rig)
    assert [fault.place for fault in caught.value.faults] == [
        "protective earth continuous",
        "presets at minimum",
    ]
    assert rig.run.session is None


def test_a_failed_earth_is_refused_however_the_window_puts_it(make: Make) -> None:
    rig = make(Switch("mains relay"), head=DEMANDS)
    forced = ColdAnswer(ColdCheck.EARTH, holds=False, by="told", overridden=True)
    with pytest.raises(BadInput, match="no key overrides"):
        arm(rig, forced, told(ColdCheck.PRESETS, yes=True))


def test_how_each_check_stood_is_kept_with_the_run(make: Make) -> None:
    rig = make(Switch("mains relay"), head=DEMANDS)
    over = ColdAnswer(ColdCheck.PRESETS, overridden=True)
    path = arm(rig, told(ColdCheck.EARTH, yes=True), over)
    rig.until(lambda: len(query.events(path, "cold")) == 2, "the events")
    kept = {event.data["check"]: event.data for event in query.events(path, "cold")}
    assert (kept["earth"]["holds"], kept["earth"]["overridden"]) == (True, False)
    assert (kept["presets"]["holds"], kept["presets"]["overridden"]) == (None, True)


def test_answers_cross_the_pipe_as_they_are() -> None:
    request = messages.Arm(id=1, session="s", folder="f", cold=[told(ColdCheck.EARTH, yes=False)], alone=True)
    back = msgspec.json.decode(msgspec.json.encode(request), type=messages.Arm)
    assert back == request
    assert not back.cold[0].passes


def test_left_alone_it_needs_an_off_switch_that_acts_by_itself(make: Make) -> None:
    hand = Switch("wall switch", "hand", automatic=False)
    rig = make(hand)
    with pytest.raises(BadInput, match="nobody stays with it, and no off-switch acts by itself"):
        arm(rig, alone=True)
    both = make(Switch("mains relay"), Switch("wall switch", "hand", automatic=False))
    assert arm(both, alone=True).is_file()


def test_left_alone_it_goes_off_by_itself_once_its_last_stage_is_done(make: Make) -> None:
    rig = make(
        Switch("mains relay"), traces=(MAINS,), limits=(), stages=("name='soak', fraction=1.0, dwell=5.0",)
    )
    path = arm(rig, alone=True)
    rig.run.act("next")
    rig.show(mains=230.0, lamp=0.0, rail=0.0)
    rig.until(lambda: rig.state is State.TAIL, "the end of the soak")
    rig.goes_off()
    rig.until(rig.run.closed.is_set, "the close")
    closed = rig.close()
    assert closed is not None
    assert closed.outcome == Ending.COMPLETED
    assert "nobody stays" in closed.reason
    assert query.events(path, "alone")
