"""A hand as off-switch: an alarm that was heard, and traces as the only proof."""

import pytest
from helpers.stand_ins import STILL_LIVE, VERIFIED, Bell, says

from benchlog.errors import BadInput
from benchlog.recorder.off_hand import LEAST_PATIENCE, HandSwitch


@pytest.fixture
def bell() -> Bell:
    return Bell()


def hand(bell: Bell, player: str = "paplay") -> HandSwitch:
    return HandSwitch("wall switch", player=player, sound=bell)


def test_its_proof_plays_the_alarm_while_asking_whether_it_is_heard(bell: Bell) -> None:
    asked: list[tuple[str, bool]] = []

    def ask(kind: str, text: str, data: dict[str, object]) -> bool:
        asked.append((kind, bell.sounding))
        return True

    said = hand(bell).prove(ask)
    assert asked == [("heard_alarm", True)]
    assert bell.rung == ["sound", "quiet"]
    assert said == "wall switch: the alarm was heard; the hand is drilled at the lowest stage"


def test_an_alarm_that_nobody_heard_proves_nothing_and_sounds_no_longer(bell: Bell) -> None:
    with pytest.raises(BadInput, match="wall switch: the alarm was not heard; turn the loudspeaker up"):
        hand(bell).prove(lambda *_: False)
    assert not bell.sounding


def test_an_alarm_is_quiet_again_whatever_happens_while_asking(bell: Bell) -> None:
    def ask(*_: object) -> bool:
        raise BadInput("prompt", "is gone")

    with pytest.raises(BadInput):
        hand(bell).prove(ask)
    assert not bell.sounding


def test_without_a_player_a_hand_alone_is_not_proven(bell: Bell) -> None:
    with pytest.raises(BadInput, match="no player for the alarm was found"):
        hand(bell, "none").prove(lambda *_: True)
    assert bell.rung == []


def test_switching_on_is_the_persons_own_doing(bell: Bell) -> None:
    told: list[str] = []
    hand(bell).switch_on(told.append)
    assert told == [""]


def test_a_cut_sounds_the_alarm_and_the_traces_alone_tell_what_came_of_it(bell: Bell) -> None:
    switch = hand(bell)
    switch.fire()
    assert bell.sounding
    assert switch.confirm(says(STILL_LIVE)) is STILL_LIVE
    assert switch.confirm(says(VERIFIED)) is VERIFIED
    switch.close()
    assert bell.sounding


def test_a_hand_has_five_seconds_of_plan_time_and_never_less_than_a_real_one(bell: Bell) -> None:
    assert hand(bell).patience(1.0) == 5.0
    assert hand(bell).patience(2.0) == 2.5
    assert hand(bell).patience(100.0) == LEAST_PATIENCE
    assert not HandSwitch.automatic
