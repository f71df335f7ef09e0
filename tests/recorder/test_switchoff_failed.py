"""An off-switch that did not act has failed, whoever switches off then: told, and proven anew with its fault named."""

import threading
from collections.abc import Callable, Iterator

import pytest
from helpers.off_switches import Desk, hand, supply
from helpers.rig import Rig, live
from helpers.stand_ins import HANG, STILL_LIVE, UNKNOWN, VERIFIED, Switch
from helpers.until import until

from benchlog.domain.offproof import CutOutcome, Finding
from benchlog.errors import BadInput, BenchlogError
from benchlog.recorder.cut import CutThread, Evidence
from benchlog.recorder.messages import CutState, Prompt
from benchlog.recorder.switchoff import SwitchOff
from benchlog.store import query

ANOTHERS = Finding(
    CutOutcome.STILL_LIVE, "did not act: mains read 230 V 2.5 s after off was asked; off since", off=True
)


@pytest.fixture
def desk() -> Iterator[Desk]:
    made = Desk()
    yield made
    made.close()


def welded_and_pulled(desk: Desk) -> SwitchOff:
    """The relay stays in, a hand switches off."""
    relay, wall = Switch(), hand()
    relay.finds, relay.patient = STILL_LIVE, 0.0
    off = desk.off(relay, wall)
    off.prove()
    desk.bell.sound()
    desk.cut(off)
    until(lambda: desk.outcomes()[-1:] == ["asked, still live"], "what the relay did not do")
    assert desk.is_off == []
    relay.finds, wall.finds = ANOTHERS, VERIFIED
    until(lambda: desk.is_off, "the off")
    until(lambda: all(cut.finding and cut.finding.seen_off for cut in off._cuts), "what each of them did")
    return off


def in_thread(off: SwitchOff, ends: list[str]) -> threading.Thread:
    """Prove, and keep what comes of it."""

    def prove() -> None:
        try:
            ends.extend(off.prove())
        except BenchlogError as error:
            ends.append(str(error))

    thread = threading.Thread(target=prove)
    thread.start()
    return thread


# --- whose doing it was ---------------------------------------------------------------------------


def test_a_relay_that_stayed_in_has_failed_though_a_hand_switched_off(desk: Desk) -> None:
    off = welded_and_pulled(desk)
    assert set(desk.is_off) == {True}
    assert not desk.bell.sounding
    assert (off.outcome, off.failed) == ("verified off", ["mains relay"])
    assert set(desk.outcomes()) == {"asked", "asked, still live"}
    assert desk.outcomes("wall switch")[-1] == "verified off"
    last = [state for state in desk.outbox.of(CutState) if state.path == "mains relay"][-1]
    assert (last.outcome, last.seen_off, last.text) == ("asked, still live", True, ANOTHERS.text)


def test_its_proof_is_void_and_arming_is_refused_in_one_sentence(desk: Desk) -> None:
    off = welded_and_pulled(desk)
    why = "failed at its last cut (did not act: mains read 230 V 2.5 s after off was asked)"
    assert off.unproven() == [("mains relay", why)]


def test_the_run_after_it_asks_for_the_fault_by_name_before_it_is_proven(desk: Desk) -> None:
    welded_and_pulled(desk)
    relay = Switch()
    after = desk.off(relay)
    ends: list[str] = []
    thread = in_thread(after, ends)
    number = until(lambda: desk.open_prompts("mended"), "the question")[0]
    fault = "did not act: mains read 230 V 2.5 s after off was asked"
    assert desk.outbox.of(Prompt)[-1].text == (
        f"mains relay failed at its last cut: {fault}. Was its fault found and mended?"
    )
    desk.prompts.answer(number, False)
    thread.join(HANG)
    assert ends == [f"mains relay: failed at its last cut ({fault}); find its fault, then prove it anew."]
    assert relay.did == []
    thread = in_thread(after, ends)
    desk.prompts.answer(until(lambda: desk.open_prompts("mended"), "the question")[0], True)
    thread.join(HANG)
    assert ends[-1] == "mains relay works"
    assert after.unproven() == []
    assert after.told == [f"told: the fault of mains relay was found and mended ({fault})"]


def test_a_mended_relay_that_fails_its_proof_has_still_failed(desk: Desk) -> None:
    welded_and_pulled(desk)
    relay = Switch()
    relay.broken = BadInput("mains relay", "did not click in and out")
    after = desk.off(relay)
    ends: list[str] = []
    thread = in_thread(after, ends)
    desk.prompts.answer(until(lambda: desk.open_prompts("mended"), "the question")[0], True)
    thread.join(HANG)
    ((name, why),) = after.unproven()
    assert (name, why.startswith("failed at its last cut")) == ("mains relay", True)


def test_one_that_acts_late_within_its_own_time_has_not_failed(desk: Desk) -> None:
    slow = supply("bench supply")
    slow.finds, slow.patient = STILL_LIVE, 0.0
    off = desk.off(slow)
    desk.cut(off)
    until(lambda: desk.outcomes("bench supply")[-1:] == ["asked, still live"], "the alarm")
    slow.finds = VERIFIED
    until(lambda: desk.is_off == [True], "the off")
    assert (off.outcome, off.failed, off.unproven()) == ("verified off", [], [])


def test_a_relay_that_stayed_in_beside_a_supply_that_is_gone_is_live(desk: Desk) -> None:
    relay, gone = Switch(), supply("bench supply")
    relay.finds, relay.patient, gone.patient = STILL_LIVE, 0.0, 0.0
    off = desk.off(relay, gone)
    desk.cut(off)
    until(lambda: desk.outcomes("bench supply")[-1:] == ["unknown"], "the supply")
    until(lambda: desk.outcomes()[-1:] == ["asked, still live"], "the relay")
    assert (off.outcome, off.failed) == ("asked, still live", ["mains relay"])
    # Somebody pulls the plug: what the supply did nobody knows.
    relay.finds = ANOTHERS
    until(lambda: off._cuts[0].finding == ANOTHERS, "the off")
    assert (off.outcome, desk.is_off) == ("unknown", [])


# --- until it is off ------------------------------------------------------------------------------


@pytest.mark.parametrize("make", [Switch, lambda: supply("bench supply")], ids=["relay", "supply"])
def test_a_word_against_what_is_seen_quiets_nothing_and_is_asked_for_again(
    desk: Desk, make: Callable[[], Switch], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(CutThread, "INSIST", 0.05)
    switch = make()
    switch.finds, switch.patient = STILL_LIVE, 0.0
    off = desk.off(switch)
    desk.cut(off)
    first = until(lambda: desk.open_prompts("switch_off"), "the prompt")[0]
    assert desk.outbox.of(Prompt)[-1].text == "STILL LIVE: 44 V. Pull the plug."
    desk.prompts.answer(first, True)
    again = until(lambda: desk.open_prompts("switch_off"), "the prompt, again")[0]
    assert again != first
    assert desk.bell.sounding
    assert desk.is_off == []
    assert len(desk.outbox.events("overdue")) == 1
    # Nobody is asked the same thing twice at a time.
    rung = len(desk.bell.rung)
    until(lambda: len(desk.bell.rung) > rung + 2, "the alarm, again and again")
    assert desk.open_prompts("switch_off") == [again]
    switch.finds = VERIFIED
    until(lambda: desk.is_off == [True], "the off")
    until(lambda: not desk.bell.sounding, "the quiet")
    assert desk.open_prompts("switch_off") == []


def test_a_word_that_no_meter_denies_is_not_asked_for_again(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(CutThread, "INSIST", 0.05)
    relay = Switch()
    relay.patient = 0.0
    off = desk.off(relay)
    desk.cut(off)
    desk.prompts.answer(until(lambda: desk.open_prompts("switch_off"), "the prompt")[0], True)
    looks: list[Finding] = []

    def confirm(evidence: Evidence) -> Finding:
        looks.append(evidence())
        return UNKNOWN

    relay.confirm = confirm  # type: ignore[method-assign]
    until(lambda: len(looks) > 4, "several looks")
    assert not desk.bell.sounding
    assert desk.open_prompts("switch_off") == []


# --- in a run -------------------------------------------------------------------------------------


def test_a_run_says_that_off_is_seen_and_that_the_relay_failed(make: Callable[..., Rig]) -> None:
    relay, wall = Switch(), hand()
    wall.finds = None
    relay.finds, relay.patient = STILL_LIVE, 0.0
    rig = make(relay, wall)
    path = live(rig)
    rig.run.cut("cut by the operator")
    rig.until(lambda: rig.outbox.events("overdue"), "the escalation")
    assert rig.bell.sounding
    relay.finds = ANOTHERS
    rig.show(mains=0.0, lamp=0.0, rail=0.0)
    rig.until(rig.run.closed.is_set, "the end of the tail")
    rig.close()
    (closed,) = query.events(path, "closed")
    assert (closed.data["off"], closed.data["failed"]) == ("verified off", ["mains relay"])
    assert not rig.bell.sounding
