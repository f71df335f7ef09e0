"""A hand as off-switch: drilled at the lowest stage, called by an alarm, believed only when the meters agree."""

from collections.abc import Callable

import pytest
from helpers.rig import LAMP_HIGH, Rig, break_lamp, live, off_event
from helpers.stand_ins import Switch
from helpers.watched import LAMP, PLUS

from benchlog.domain.stages import State
from benchlog.errors import BadInput
from benchlog.recorder import messages
from benchlog.store import query

Make = Callable[..., Rig]


@pytest.fixture
def by_hand(make: Make) -> Rig:
    wall = Switch("wall switch", "hand", automatic=False)
    wall.finds = None
    return make(wall, traces=(LAMP, PLUS), limits=(LAMP_HIGH,))


def goes_dark(rig: Rig) -> None:
    rig.meters |= {"lamp": 0.0}


def test_a_unit_that_is_seen_on_counts_as_on_before_anybody_says_so(by_hand: Rig) -> None:
    by_hand.arm()
    by_hand.run.act("next")
    by_hand.answer("set_dial")
    number = by_hand.prompt("switch_on")
    by_hand.show(mains=92.0, lamp=18.4, rail=13.8)
    by_hand.until_state(State.MOVING, State.DWELLING)
    assert by_hand.outbox.events("on")[0].text == "seen: the unit is on"
    by_hand.prompts.answer(number, False)
    assert by_hand.run.guard.feed.on_since is not None


@pytest.mark.parametrize("told", [True, False], ids=["told", "cut"])
def test_a_unit_that_is_seen_on_after_it_was_told_or_cut_is_no_news(by_hand: Rig, told: bool) -> None:
    by_hand.arm()
    by_hand.run.act("next")
    by_hand.answer("set_dial")
    number = by_hand.prompt("switch_on")
    # The watch has looked at the meters, and comes to say so only after somebody else has been heard.
    if told:
        by_hand.prompts.answer(number, True)
    else:
        by_hand.run.cut("enough")
    before = by_hand.state
    by_hand.run._source_did("on", by_hand.clock.now())
    assert by_hand.state is before
    assert before is (State.MOVING if told else State.TAIL)
    assert by_hand.outbox.of(messages.Trip) == []


def test_a_unit_that_is_on_though_nobody_was_asked_is_cut(by_hand: Rig) -> None:
    by_hand.arm()
    by_hand.show(mains=230.0, lamp=46.0, rail=35.0)
    by_hand.until_state(State.TAIL)
    assert off_event(by_hand).text == "the unit is on, and nobody was asked to switch it on"
    assert by_hand.bell.sounding


def test_the_hand_is_drilled_at_the_lowest_stage(by_hand: Rig) -> None:
    by_hand.arm()
    by_hand.go_up(92.0)
    by_hand.until_state(State.DRILL)
    assert by_hand.bell.sounding
    by_hand.answer("switch_off")
    assert not by_hand.bell.sounding
    goes_dark(by_hand)
    by_hand.until(lambda: by_hand.outbox.events("drill"), "the end of the drill")
    drill = by_hand.outbox.events("drill")[0]
    assert drill.data["seen"] is True
    assert drill.text.startswith("drill: off seen after")
    by_hand.answer("switch_on")
    by_hand.meters |= {"lamp": 18.4}
    by_hand.until_state(State.READY)


@pytest.mark.parametrize("yes", [True, False])
def test_a_drill_that_fails_ends_the_run(by_hand: Rig, yes: bool) -> None:
    live(by_hand)
    by_hand.until_state(State.DRILL)
    by_hand.answer("switch_off", yes=yes)
    by_hand.until_state(State.TAIL)
    if yes:
        assert by_hand.outbox.events("drill")[0].text == "drill: the unit was not seen to go off"
    assert off_event(by_hand).text == "the off-switch was not seen to work in its drill"
    assert by_hand.bell.sounding


def test_a_cut_in_the_middle_of_a_drill_sounds_on_and_asks_in_earnest(by_hand: Rig) -> None:
    live(by_hand)
    by_hand.until_state(State.DRILL)
    drill = by_hand.prompt("switch_off")
    by_hand.run.cut("cut by the operator")
    assert by_hand.bell.sounding
    with pytest.raises(BadInput):
        by_hand.prompts.answer(drill, True)
    assert by_hand.prompt("switch_off") != drill
    assert by_hand.outbox.of(messages.Prompt)[-1].text == "Switch the unit off now."


def test_a_trip_by_hand_sounds_until_the_person_has_switched_off(by_hand: Rig) -> None:
    path = live(by_hand)
    break_lamp(by_hand)
    assert by_hand.bell.sounding
    goes_dark(by_hand)
    by_hand.meters["+B"] = None
    by_hand.answer("switch_off")
    assert not by_hand.bell.sounding
    by_hand.until(by_hand.run.closed.is_set, "the end of the tail")
    by_hand.close()
    assert query.events(path, "closed")[0].data["told_off"] is True
