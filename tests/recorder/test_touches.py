"""What is touched at a live bench: a clip, a trimmer, a limit; kept as it happened, refused with a reason."""

from collections.abc import Callable

import msgspec
import pytest
from helpers.rig import LAMP_HIGH, Rig, live
from helpers.stand_ins import Switch
from helpers.watched import IDLE, LAMP, MAINS, PLUS

from benchlog.domain import clips
from benchlog.domain.stages import State
from benchlog.errors import BadInput
from benchlog.recorder import messages
from benchlog.store import query

Make = Callable[..., Rig]
IDLE_LOW = "trace='idle L', kind='low', value=0.0033, once_set=true, action='warn'"
RAIL = 0.196 * 0.8 * 92.0 - 0.65


def stage(rig: Rig) -> messages.Stage:
    """How the run stood when it was last told."""
    return rig.outbox.of(messages.Stage)[-1]


def test_nothing_is_touched_before_a_run_is_armed_or_after_it_was_cut(rig: Rig) -> None:
    touches = rig.run.touches
    asked: tuple[Callable[[], str], ...] = (
        lambda: touches.clip("+B"),
        touches.trimmer,
        lambda: touches.idle("idle L"),
        lambda: touches.limit(0, 50.0, "", ""),
    )
    for ask in asked:
        with pytest.raises(BadInput, match="no run is armed"):
            ask()
    live(rig)
    rig.run.cut("enough")
    for ask in asked:
        with pytest.raises(BadInput, match="no run is armed"):
            ask()


def test_a_clip_is_moved_and_kept_with_its_doubt(rig: Rig) -> None:
    path = live(rig)
    said = rig.run.touches.clip("+B")
    rig.meters["+B"] = 60.0
    rig.until(lambda: stage(rig).clips, "the countdown")
    ((name, left),) = stage(rig).clips
    assert (name, 0.0 < left <= clips.RESTS) == ("+B", True)
    assert (1, None) in stage(rig).unarmed
    assert rig.outbox.events("warn") == []
    rig.meters["+B"] = RAIL
    rig.until(lambda: rig.run.guard.traces["+B"].doubt, "the doubt")
    assert rig.run.touches.clip("+B") == "+B is read again"
    rig.until(lambda: not stage(rig).clips, "the end")
    rig.until(lambda: len(query.events(path, "clip")) == 2, "both events in the file")
    first, second = query.events(path, "clip")
    assert (first.text, first.data) == (said, {"trace": "+B", "doubt": "clip being moved"})
    assert (second.text, second.data) == ("+B is read again", {"trace": "+B", "doubt": ""})


def test_a_clip_that_stays_in_the_air_switches_off(rig: Rig, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clips, "RESTS", 0.3)
    live(rig)
    rig.run.touches.clip("+B")
    rig.meters["+B"] = None
    rig.until(rig.fired, "the cut")
    (trip,) = rig.outbox.of(messages.Trip)
    assert (trip.trace, trip.limit) == ("+B", "lost")


def test_a_clip_that_is_back_in_its_time_is_said_to_be(rig: Rig, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(clips, "RESTS", 0.3)
    live(rig)
    rig.run.touches.clip("+B")
    rig.until(lambda: len(rig.outbox.events("clip")) == 2, "its return")
    assert rig.outbox.of(messages.Trip) == []


def test_a_trimmer_is_told_and_counted_down(rig: Rig) -> None:
    path = live(rig)
    assert rig.run.touches.trimmer() == (
        "a trimmer is turned: a runaway is looked for anew in 60 s, ceilings stay armed"
    )
    rig.until(lambda: 0.0 < stage(rig).adjusting <= 60.0, "the countdown")
    rig.until(lambda: query.events(path, "trimmer"), "the event")
    rig.until(lambda: stage(rig).adjusting == 0.0, "its end")


def test_no_trimmer_rests_the_limit_on_a_current_that_rises_while_a_capacitor_is_reformed(make: Make) -> None:
    rig = make(head='cold = []\nkind = "reform"')
    live(rig)
    with pytest.raises(BadInput, match="a capacitor that is re-formed has none"):
        rig.run.touches.trimmer()
    assert rig.run.guard.touched is None


def test_an_idle_marked_as_set_must_not_fall_until_it_is_unmarked(make: Make) -> None:
    rig = make(traces=(MAINS, LAMP, PLUS, IDLE), limits=(LAMP_HIGH, IDLE_LOW))
    rig.meters["idle L"] = 0.0165
    path = live(rig)
    assert rig.run.guard.arming(rig.clock.now())[1] == float("inf")
    assert rig.run.touches.idle("idle L") == "idle L: idle marked as set"
    rig.until(lambda: (1, None) not in stage(rig).unarmed, "the limit to be armed")
    rig.meters["idle L"] = 0.001
    rig.until(lambda: rig.outbox.events("warn"), "the warning")
    assert rig.run.touches.idle("idle L") == "idle L: idle not set after all"
    rig.until(lambda: (1, None) in stage(rig).unarmed, "the limit to rest")
    with pytest.raises(BadInput, match="shows no idle"):
        rig.run.touches.idle("+B")
    rig.until(lambda: len(query.events(path, "idle")) == 2, "both in the file")
    assert [event.data for event in query.events(path, "idle")] == [
        {"trace": "idle L", "set": True},
        {"trace": "idle L", "set": False},
    ]


def test_an_idle_that_was_set_earlier_in_the_visit_is_set_from_the_start(make: Make) -> None:
    rig = make(traces=(MAINS, LAMP, PLUS, IDLE), limits=(LAMP_HIGH, IDLE_LOW))
    rig.run.prove()
    for name in rig.meters:
        rig.read(name)
    # +B shows no idle in this plan, whatever it was called in another.
    request = msgspec.structs.replace(rig.request(), idle_set=["+B", "idle L"])
    rig.run.arm(request, bench="", profiles={}, program="")
    assert rig.run.guard.idle_set == {"idle L"}
    (event,) = rig.outbox.events("idle")
    assert (event.text, event.data) == (
        "idle L: idle marked as set, earlier in this visit",
        {"trace": "idle L", "set": True},
    )


def test_a_limit_is_set_with_old_and_new(rig: Rig) -> None:
    path = live(rig)
    touches = rig.run.touches
    with pytest.raises(BadInput, match="no reason is given"):
        touches.limit(0, 120.0, "", "")
    touches.limit(0, 120.0, "", "a larger lamp")
    rig.until(lambda: query.events(path, "limit"), "the event")
    (event,) = query.events(path, "limit")
    assert event.text == "lamp high loosened from 100 V to 120 V: a larger lamp"
    assert event.data == {
        "limit": 0,
        "field": "value",
        "old": 100.0,
        "new": 120.0,
        "loosened": True,
        "reason": "a larger lamp",
    }
    # The reservoirs' ceiling stays where the plan check saw it.
    with pytest.raises(BadInput, match="no further than 46 V while it is live"):
        touches.limit(1, 47.0, "", "it is only a warning")
    touches.limit(0, 10.0, "", "")
    rig.until(rig.fired, "the cut")
    assert rig.outbox.of(messages.Trip)[0].bound == 10.0


def test_no_clip_is_moved_in_a_drill(make: Make) -> None:
    rig = make(Switch("wall switch", "hand", automatic=False))
    rig.arm()
    rig.go_up(92.0)
    rig.until_state(State.DRILL)
    with pytest.raises(BadInput, match="the off-switch is being drilled"):
        rig.run.touches.clip("+B")
