"""All off-switches of a run: proven before, fired together, followed to the end, and quiet only when off is seen."""

import threading
from collections.abc import Callable, Iterator

import pytest
from helpers.off_switches import BOARD_PLAN, Desk, hand, supply
from helpers.stand_ins import HANG, REFUSED, STILL_LIVE, UNKNOWN, VERIFIED, Switch
from helpers.until import until

from benchlog.domain.offproof import Finding
from benchlog.domain.reading import Outcome
from benchlog.errors import BadInput, BenchlogError, Refused
from benchlog.recorder import switchoff
from benchlog.recorder.clock import SECOND
from benchlog.recorder.messages import CutState, Prompt


@pytest.fixture
def desk() -> Iterator[Desk]:
    made = Desk()
    yield made
    made.close()


# --- proof before live ----------------------------------------------------------------------------


def test_every_off_switch_is_proven_and_each_proof_is_kept(desk: Desk) -> None:
    relay, wall = Switch(), hand()
    off = desk.off(relay, wall)
    assert off.unproven() == [("mains relay", "is not proven"), ("wall switch", "is not proven")]
    assert off.prove() == ["mains relay works", "wall switch works"]
    assert off.unproven() == []
    assert [(e.text, e.data) for e in desk.outbox.events("proof")] == [
        ("mains relay works", {"switch": "mains relay"}),
        ("wall switch works", {"switch": "wall switch"}),
    ]


def test_a_proof_that_fails_leaves_the_rest_unproven(desk: Desk) -> None:
    relay, wall = Switch(), hand()
    relay.broken = Refused("mains relay", "the port cannot be opened")
    off = desk.off(relay, wall)
    with pytest.raises(Refused):
        off.prove()
    assert [name for name, _ in off.unproven()] == ["mains relay", "wall switch"]


def test_a_proof_that_fails_undoes_an_earlier_one(desk: Desk) -> None:
    relay = Switch()
    off = desk.off(relay)
    off.prove()
    relay.broken = Refused("mains relay", "the port cannot be opened")
    with pytest.raises(Refused):
        off.prove()
    assert off.unproven() == [("mains relay", "is not proven")]


def test_a_proof_holds_for_four_hours(desk: Desk) -> None:
    off = desk.off(Switch())
    off.prove()
    off._proven["mains relay"] -= int((switchoff.PROOF_HOLDS - 60.0) * SECOND)
    assert off.unproven() == []
    off._proven["mains relay"] -= 60 * SECOND
    assert off.unproven() == [("mains relay", "was proven more than four hours ago")]
    off.prove()
    assert off.unproven() == []


def test_every_normal_end_renews_the_proof(desk: Desk) -> None:
    relay = Switch()
    relay.finds = VERIFIED
    off = desk.off(relay)
    off.prove()
    off._proven["mains relay"] -= int(switchoff.PROOF_HOLDS * SECOND)
    desk.cut(off)
    until(lambda: desk.is_off == [True], "the off")
    assert off.unproven() == []


def test_a_cut_makes_an_end_of_a_proof_that_waits_for_a_person(desk: Desk) -> None:
    relay = Switch()
    relay.asks = ("set_dial", "relay_clicked")
    off = desk.off(relay)
    ends: list[str] = []

    def prove() -> None:
        try:
            off.prove()
        except BenchlogError as error:
            ends.append(error.problem)

    thread = threading.Thread(target=prove)
    thread.start()
    until(lambda: desk.open_prompts("set_dial"), "the question")
    off.end()
    desk.prompts.drop()
    thread.join(HANG)
    assert ends == ["set_dial was denied"]
    assert relay.did == ["prove", "off"]
    # Nor is anything asked from now on.
    with pytest.raises(BenchlogError):
        off.prove()


# --- switching on ---------------------------------------------------------------------------------


def test_the_unit_is_on_when_every_automatic_switch_says_so(desk: Desk) -> None:
    relay, one, wall = Switch(), supply("plus"), hand()
    one.holds_on = True
    told: list[str] = []
    desk.off(relay, one, wall).switch_on(told.append)
    assert told == []
    one.on()
    assert told == [""]
    assert (relay.did, one.did, wall.did) == (["on"], ["on"], [])


def test_what_is_half_on_is_switched_off_again(desk: Desk) -> None:
    relay, one = Switch(), supply("plus")
    one.fault = "plus: output 2 was switched on and is protected."
    told: list[str] = []
    desk.off(relay, one).switch_on(told.append)
    assert told == ["plus: output 2 was switched on and is protected."]
    assert (relay.did, one.did) == (["on", "off"], ["on", "off"])


def test_after_a_cut_nothing_is_switched_on_any_more(desk: Desk) -> None:
    relay = Switch()
    off = desk.off(relay)
    off.fire()
    told: list[str] = []
    off.switch_on(told.append)
    assert told == ["the run was cut before it was switched on"]
    assert relay.did == ["off"]


def test_a_cut_that_comes_while_switching_on_goes_before(desk: Desk) -> None:
    relay = Switch()
    off = desk.off(relay)
    relay.holds_on = True
    cut_meanwhile = relay.switch_on

    def switch_on(done: Callable[[str], None]) -> None:
        off.fire()
        cut_meanwhile(done)

    relay.switch_on = switch_on  # type: ignore[method-assign]
    off.switch_on(lambda _: None)
    assert relay.did == ["off", "on", "off"]


# --- the cut --------------------------------------------------------------------------------------


def test_every_off_switch_is_fired_at_once_although_one_of_them_hangs(desk: Desk) -> None:
    relay, one, wall = Switch(), supply("plus"), hand()
    relay.hangs = one.hangs = wall.hangs = True
    off = desk.off(relay, one, wall)
    desk.cut(off)
    assert [switch.did[0] for switch in (relay, one, wall)] == ["off", "off", "off"]
    off.fire()
    assert [switch.did.count("off") for switch in (relay, one, wall)] == [2, 2, 2]


def test_an_off_that_is_seen_quiets_the_alarm_and_takes_the_persons_prompt_back(desk: Desk) -> None:
    wall = hand()
    off = desk.off(wall)
    assert off.outcome == ""
    desk.bell.sound()
    desk.cut(off)
    until(lambda: off.outcome == "asked", "the asking")
    assert desk.open_prompts("switch_off")
    wall.finds = VERIFIED
    until(lambda: desk.is_off == [True], "the off")
    assert desk.outcomes("wall switch") == ["asked", "verified off"]
    assert off.outcome == "verified off"
    assert not desk.bell.sounding
    assert not desk.open_prompts("switch_off")
    states = desk.outbox.of(CutState)
    assert states[0].asked_ns == states[1].asked_ns <= states[0].at_ns <= states[1].at_ns
    assert [(e.text, e.data["outcome"]) for e in desk.outbox.events("cut")] == [
        ("wall switch: asked", "asked"),
        ("wall switch: it is off", "verified off"),
    ]


@pytest.mark.parametrize(
    ("finding", "asks"),
    [
        (UNKNOWN, "Off is not proven. Pull the plug."),
        (STILL_LIVE, "STILL LIVE: 44 V. Pull the plug."),
        (REFUSED, "the supply refuses. Pull the plug."),
    ],
)
def test_an_off_that_is_overdue_sounds_the_alarm_and_asks_for_the_plug(
    desk: Desk, finding: Finding, asks: str
) -> None:
    relay = Switch()
    relay.finds, relay.patient = finding, 0.0
    off = desk.off(relay)
    desk.cut(off)
    until(lambda: desk.open_prompts("switch_off"), "the prompt")
    assert desk.bell.sounding
    assert [event.text for event in desk.outbox.events("overdue")] == [
        "mains relay: off is not proven; pull the plug"
    ]
    assert desk.outbox.of(Prompt)[-1].text == asks
    assert off.outcome == finding.outcome
    assert desk.is_off == []


def test_a_persons_word_quiets_the_alarm_where_the_meters_cannot_tell(desk: Desk) -> None:
    wall = hand()
    wall.finds = None
    off = desk.off(wall)
    desk.bell.sound()
    desk.cut(off)
    desk.prompts.answer(desk.open_prompts("switch_off")[0], True)
    assert off.told_off
    assert not desk.bell.sounding
    assert desk.is_off == [False]
    assert desk.outbox.events("told")[0].text == "told: the unit is off"
    # A word is no proof.
    assert off.outcome != "verified off"


def test_a_persons_word_quiets_nothing_while_the_meters_show_it_live(desk: Desk) -> None:
    for number in range(40):
        desk.guard.reading("mains", 230.0, Outcome.OK, number * SECOND // 10, number * SECOND // 10)
    wall = hand()
    wall.finds = None
    off = desk.off(wall)
    desk.bell.sound()
    off.fire()
    with desk.lock:
        off.begin(4 * SECOND)
        for number in range(41, 60):
            desk.guard.reading("mains", 230.0, Outcome.OK, number * SECOND // 10, number * SECOND // 10)
            off.reading("mains", 230.0, number * SECOND // 10)
    off.ask_hand("Switch the unit off now.")
    desk.prompts.answer(desk.open_prompts("switch_off")[0], True)
    assert off.told_off
    assert desk.bell.sounding
    assert desk.is_off == []


def test_a_prompt_that_is_taken_back_is_nobodys_word(desk: Desk) -> None:
    off = desk.off(hand())
    off.ask_hand("Switch the unit off now.")
    desk.prompts.drop()
    assert not off.told_off
    assert desk.outbox.events("told") == []


def test_before_a_cut_is_noted_nothing_is_evidence(desk: Desk) -> None:
    wall = hand()
    wall.finds = None
    off = desk.off(wall)
    off.reading("mains", 0.0, 1)
    assert off._evidence().outcome is UNKNOWN.outcome


# --- several off-switches -------------------------------------------------------------------------


def test_with_two_supplies_the_one_that_is_still_live_counts(desk: Desk) -> None:
    plus, minus = supply("plus"), supply("minus")
    plus.finds, minus.finds = VERIFIED, STILL_LIVE
    minus.patient = 0.0
    off = desk.off(plus, minus)
    desk.bell.sound()
    desk.cut(off)
    until(lambda: desk.outcomes("plus")[-1:] == ["verified off"], "the one that is off")
    until(lambda: desk.outcomes("minus")[-1:] == ["asked, still live"], "the other")
    assert off.outcome == "asked, still live"
    assert desk.bell.sounding
    assert desk.is_off == []
    minus.finds = VERIFIED
    until(lambda: desk.is_off == [True], "the off of both")
    assert off.outcome == "verified off"
    assert not desk.bell.sounding


def test_a_supply_of_which_nothing_was_heard_yet_is_not_off(desk: Desk) -> None:
    plus, minus = supply("plus"), supply("minus")
    plus.finds = VERIFIED
    minus.hangs = True
    off = desk.off(plus, minus)
    off.fire()
    off._cuts[0].follow()
    until(lambda: desk.outcomes("plus")[-1:] == ["verified off"], "the one that is off")
    assert off.outcome == "asked"
    assert desk.is_off == []


def test_of_relay_and_hand_the_one_that_is_seen_counts_and_the_other_is_not_escalated(desk: Desk) -> None:
    relay, wall = Switch(), hand()
    wall.patient = 0.0
    wall.hangs = True
    relay.finds = VERIFIED
    off = desk.off(relay, wall)
    desk.cut(off)
    until(lambda: desk.is_off == [True], "the off")
    wall.goes_on.set()
    until(lambda: desk.outcomes("wall switch")[-1:] == ["unknown"], "what the hand's thread found")
    assert off.outcome == "verified off"
    off.stop()
    assert desk.outbox.events("overdue") == []
    assert desk.open_prompts("switch_off") == []


def test_a_hand_that_no_trace_can_show_does_not_hold_up_a_supply_that_is_off() -> None:
    desk = Desk(BOARD_PLAN)
    plus, wall = supply("plus"), hand()
    plus.finds = VERIFIED
    wall.patient = 0.0
    wall.hangs = True
    off = desk.off(plus, wall)
    desk.cut(off)
    until(lambda: desk.is_off == [True], "the off")
    wall.goes_on.set()
    until(lambda: desk.outcomes("wall switch")[-1:] == ["unknown"], "what the hand's thread found")
    desk.close()
    assert off.outcome == "verified off"
    assert desk.outbox.events("overdue") == []


def test_a_supply_that_is_off_says_nothing_of_the_mains_that_the_traces_show(desk: Desk) -> None:
    plus, relay = supply("plus"), Switch()
    plus.finds, relay.finds = VERIFIED, STILL_LIVE
    relay.patient = 0.0
    off = desk.off(plus, relay)
    desk.cut(off)
    until(lambda: desk.outbox.events("overdue"), "the escalation")
    assert off.outcome == "asked, still live"
    assert desk.is_off == []
    relay.finds = VERIFIED
    until(lambda: desk.is_off == [True], "the off of both")
    assert off.outcome == "verified off"


def test_before_a_run_a_cut_takes_back_what_a_proof_switched_on(desk: Desk) -> None:
    relay, wall = Switch(), hand()
    off = desk.off(relay, wall)
    off.let_go()
    assert (relay.did, wall.did) == (["off"], [])
    assert off.prove() == ["mains relay works", "wall switch works"]


class Buggy(Switch):
    """One whose order for off has a bug."""

    def fire(self) -> None:
        raise ZeroDivisionError


@pytest.mark.parametrize("open_run", [True, False])
def test_a_program_that_ends_by_a_bug_asks_every_off_switch_and_a_person_only_beside_an_open_run(
    desk: Desk, open_run: bool
) -> None:
    relay, wall = Switch(), hand()
    off = desk.off(Buggy("buggy"), relay, wall)
    off.abandon(open_run=open_run)
    assert relay.did == ["off"]
    assert wall.did == (["off"] if open_run else [])


def test_proving_a_broken_switch_names_it(desk: Desk) -> None:
    wall = hand()
    wall.broken = BadInput("wall switch", "the alarm was not heard")
    with pytest.raises(BadInput, match="wall switch: the alarm was not heard"):
        desk.off(wall).prove()
