"""A lamp changed between two stages of a run: off through the off-switch, seen off, asked for, and on again."""

from collections.abc import Callable

import pytest
from helpers.rig import Rig
from helpers.stand_ins import STILL_LIVE, VERIFIED, Switch
from helpers.watched import HALL, LAMP, MAINS, PLUS

from benchlog.domain.discharge import Charge
from benchlog.domain.stages import State
from benchlog.recorder import messages
from benchlog.recorder.clock import SECOND
from benchlog.store.records import Ending

Make = Callable[..., Rig]

WALL = HALL.replace("lamp_watts=100.0", "lamp_watts=40.0")
RUNGS = (
    "name='40 W', fraction=1.0, dwell=2.0, lamp_watts=40.0",
    "name='100 W', fraction=1.0, dwell=2.0, lamp_watts=100.0",
)
BRIGHT = "trace='lamp', kind='high', of_source=0.35, lamp_watts=100.0"


def climbed(make: Make, switch: Switch) -> Rig:
    """On behind the smaller lamp, with the larger one offered."""
    rig = make(switch, traces=(MAINS, LAMP, PLUS), limits=(BRIGHT,), source=WALL, stages=RUNGS)
    rig.arm()
    rig.run.act("next")
    rig.answer("fit_lamp")
    if not switch.automatic:
        rig.answer("switch_on")
    rig.show(mains=230.0, lamp=110.0, rail=22.9)
    if not switch.automatic:
        rig.prompt("switch_off")
        rig.show(mains=0.0, lamp=0.0, rail=0.0)
        rig.answer("switch_off")
        rig.answer("switch_on")
        rig.show(mains=230.0, lamp=110.0, rail=22.9)
    rig.until_state(State.READY)
    return rig


@pytest.fixture
def relay() -> Switch:
    switch = Switch()
    switch.finds = None
    return switch


def test_a_relay_puts_the_unit_off_and_the_meters_must_show_it(make: Make, relay: Switch) -> None:
    rig = climbed(make, relay)
    rig.run.act("next")
    assert relay.did == ["prove", "on", "off"]
    rig.until_state(State.GOING_OFF)
    assert rig.outbox.of(messages.Prompt)[-1].data["watts"] == 40.0
    rig.show(mains=0.0, lamp=0.0, rail=0.0)
    rig.answer("fit_lamp")
    assert relay.did == ["prove", "on", "off", "on"]
    rig.show(mains=230.0, lamp=50.0, rail=35.0)
    rig.until_state(State.READY)
    assert rig.run.stages.index == 1
    assert rig.outbox.of(messages.Trip) == []
    (paused,) = rig.outbox.events("paused")
    assert paused.text == "off for a change: mains fell to 0.00 V"
    told = [event.text for event in rig.outbox.events("told") if event.data.get("prompt") == "fit_lamp"]
    assert told == ["told: 40 W lamp done", "told: 100 W lamp done"]


def test_a_relay_that_hangs_is_a_trip_and_nobody_is_asked_to_touch_anything(
    make: Make, relay: Switch
) -> None:
    rig = climbed(make, relay)
    relay.patient = 0.1
    asked = len(rig.outbox.of(messages.Prompt))
    rig.run.act("next")
    rig.until(lambda: rig.run.ended, "the end of the run")
    (off,) = rig.outbox.events("off")
    assert off.text == "the unit was not seen to go off for the change"
    assert "fit_lamp" not in {prompt.kind for prompt in rig.outbox.of(messages.Prompt)[asked:]}


def test_a_cut_goes_before_and_what_was_seen_off_is_proof_still(make: Make, relay: Switch) -> None:
    rig = climbed(make, relay)
    rig.run.act("next")
    rig.show(mains=0.0, lamp=0.0, rail=0.0)
    number = rig.prompt("fit_lamp")
    rig.run.cut("cut by the operator")
    assert number not in rig.prompts._open
    rig.until(lambda: rig.run.off.outcome == "verified off", "an off that is seen")
    assert relay.did[-1] == "off"
    assert "on" not in relay.did[2:]


def left(rig: Rig) -> None:
    rig.run.leave("the window was closed", Ending.ALONE)


@pytest.mark.parametrize("end", [lambda rig: rig.run.act("close"), left], ids=["close", "leave"])
def test_one_put_off_and_not_changed_ends_as_one_that_was_on(
    make: Make, relay: Switch, end: Callable[[Rig], None]
) -> None:
    rig = climbed(make, relay)
    rig.run.act("next")
    rig.show(mains=0.0, lamp=0.0, rail=0.0)
    rig.answer("fit_lamp", yes=False)
    rig.until_state(State.STANDING)
    end(rig)
    (off,) = rig.outbox.events("off")
    assert off.data["was_on"] is True
    assert relay.did[-1] == "off"
    rig.until(lambda: rig.run.off.outcome == "verified off", "an off that is seen")
    rig.until(rig.run.closed.is_set, "the end of the tail")
    assert rig.run.proven_off


def test_one_put_off_and_not_changed_is_not_off_for_want_of_a_meter(make: Make, relay: Switch) -> None:
    rig = climbed(make, relay)
    rig.run.act("next")
    rig.show(mains=0.0, lamp=0.0, rail=0.0)
    rig.answer("fit_lamp", yes=False)
    rig.until_state(State.STANDING)
    rig.meters["mains"] = 230.0
    rig.read("mains")
    rig.run.act("close")
    assert not rig.run.proven_off


def test_a_unit_that_comes_on_while_it_is_changed_is_cut(make: Make, relay: Switch) -> None:
    rig = climbed(make, relay)
    rig.run.act("next")
    rig.show(mains=0.0, lamp=0.0, rail=0.0)
    rig.prompt("fit_lamp")
    rig.show(mains=230.0, lamp=110.0, rail=22.9)
    rig.until(lambda: rig.run.ended, "the end of the run")
    assert "nobody was asked to switch it on" in rig.outbox.events("off")[0].text


def test_a_hand_is_asked_and_believed_only_with_the_meters(make: Make) -> None:
    wall = Switch("wall switch", "hand", automatic=False)
    wall.finds = None
    rig = climbed(make, wall)
    rig.run.act("next")
    rig.prompt("switch_off")
    rig.show(mains=0.0, lamp=0.0, rail=0.0)
    rig.answer("switch_off")
    rig.answer("fit_lamp")
    rig.answer("switch_on")
    rig.show(mains=230.0, lamp=50.0, rail=35.0)
    rig.until_state(State.READY)
    assert wall.did == ["prove"]


def test_a_supply_s_own_word_is_enough_and_nothing_more_is_asked(make: Make) -> None:
    supply = Switch("supply", "supply")
    supply.finds = STILL_LIVE
    rig = climbed(make, supply)
    rig.run.act("next")
    supply.finds = VERIFIED
    rig.show(mains=0.0, lamp=0.0, rail=0.0)
    rig.prompt("fit_lamp")
    assert rig.state is State.CHANGING


def test_a_person_who_takes_a_minute_to_switch_off_is_not_told_of_a_restless_source(make: Make) -> None:
    hand = Switch(automatic=False)
    hand.finds = None
    rig = climbed(make, hand)
    rig.run.act("next")
    rig.prompt("switch_off")
    begun = rig.clock.now()
    rig.until(lambda: rig.clock.now() - begun > 70 * SECOND, "a slow hand")
    assert rig.state is State.GOING_OFF
    assert rig.outbox.events("warn") == []


def test_what_stood_in_a_reservoir_before_a_change_is_known_after_a_cut_in_it(
    make: Make, relay: Switch
) -> None:
    rig = climbed(make, relay)
    rig.run.act("next")
    rig.show(mains=0.0, lamp=0.0, rail=22.9)
    rig.to_discharge = rig.run.draining.stay_open = True
    rig.prompt("fit_lamp")
    volts = 22.9

    def falls() -> bool:
        nonlocal volts
        volts *= 0.98
        rig.meters["+B"] = volts
        return volts < 3.0

    rig.until(falls, "a rail that falls while its lamp is changed")
    assert rig.outbox.events("discharge") == []
    rig.run.cut("cut by the operator")
    rig.until(lambda: rig.outbox.events("discharge"), "how it stands")
    assert rig.outbox.events("discharge")[0].data["charge"] == Charge.FALLING


def test_what_fell_for_a_change_is_forgotten_once_the_unit_is_on_again(make: Make, relay: Switch) -> None:
    rig = climbed(make, relay)
    rig.run.act("next")
    rig.show(mains=0.0, lamp=0.0, rail=3.0)
    rig.answer("fit_lamp")
    rig.show(mains=230.0, lamp=50.0, rail=4.5)
    rig.until(lambda: rig.state in (State.DWELLING, State.READY), "the next stage")
    rig.run.cut("cut by the operator")
    rig.until(lambda: rig.outbox.events("discharge"), "how it stands")
    (told, *_) = rig.outbox.events("discharge")
    assert "never seen above 5 V" in told.text
