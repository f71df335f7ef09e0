"""A supply as off-switch: one line that waits for nothing, and a cut that is true only when the supply says so."""

import logging
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.cutting import OFF, Cutting
from helpers.until import until

from benchlog.domain.offproof import CutOutcome, Finding
from benchlog.errors import Refused
from benchlog.recorder import off_supply


@pytest.fixture
def cutting(tmp_path: Path) -> Iterator[Cutting]:
    made = Cutting(tmp_path)
    yield made
    made.close()


# --- the proof ------------------------------------------------------------------------------------


def test_its_proof_sends_the_cut_and_reads_off_back(cutting: Cutting) -> None:
    assert cutting.switch.prove(lambda *_: False) == "bench supply: the supply answers: off, 0 V, 0 V"
    assert cutting.outputs.offs == 1
    assert not any(cutting.outputs.on.values())


def test_a_proof_waits_for_charged_reservoirs_to_be_seen_falling(cutting: Cutting) -> None:
    cutting.outputs.left = 0.97
    said = cutting.switch.prove(lambda *_: False)
    assert re.fullmatch(
        r"bench supply: the supply answers: off, 1\d\.?\d* V and falling, 1\d.* and falling", said
    )


def test_a_supply_that_says_off_and_whose_volts_stand_is_not_proven(
    cutting: Cutting, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(off_supply, "OWN_SECONDS", 0.2)
    cutting.outputs.left = 1.0
    problem = r"the supply says off, and 20 V stand at its output 1, 14\.2 V stand at its output 2"
    with pytest.raises(Refused, match=problem):
        cutting.switch.prove(lambda *_: False)


def test_a_supply_that_stays_on_is_not_proven(cutting: Cutting, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(off_supply, "OWN_SECONDS", 0.0)
    cutting.outputs.deaf = True
    with pytest.raises(Refused, match=r"STILL LIVE: output 1: 20 V, 2: 14\.2 V; check the supply"):
        cutting.switch.prove(lambda *_: False)


# --- the cut --------------------------------------------------------------------------------------


def test_a_cut_is_one_whole_line_and_waits_for_no_answer(cutting: Cutting) -> None:
    cutting.outputs.mute = True
    before = len(cutting.outputs.far.heard)
    cutting.switch.fire()
    until(lambda: len(cutting.outputs.far.heard) > before, "the line")
    assert cutting.outputs.far.heard[before:] == [OFF]
    assert not any(cutting.outputs.on.values())


def test_an_off_is_verified_by_what_the_supply_says(cutting: Cutting) -> None:
    cutting.switch.fire()
    assert cutting.confirm() == Finding(CutOutcome.VERIFIED, "the supply answers: off, 0 V, 0 V")


def test_an_off_whose_volts_stand_is_still_live_until_they_fall(cutting: Cutting) -> None:
    cutting.outputs.left = 1.0
    cutting.outputs.volts["2"] = 0.4
    cutting.switch.fire()
    for _ in range(3):
        text = "STILL LIVE: the supply says off, and 20 V stand at its output 1"
        assert cutting.confirm() == Finding(CutOutcome.STILL_LIVE, text)
    cutting.outputs.left = 0.98
    found = cutting.until_verified().text
    assert found.startswith("the supply answers: off, 1")
    assert " V and falling, " in found


def test_volts_that_fell_once_and_stand_again_are_no_fall(cutting: Cutting) -> None:
    terminals = off_supply.Terminals(20.0)
    assert not terminals.dead
    assert not terminals.falling
    for at, volts in ((0, 20.0), (60, 19.0), (120, 19.0)):
        terminals.reading(at * 1_000_000, volts)
    assert not terminals.falling
    terminals.reading(180 * 1_000_000, 18.9)
    assert terminals.falling
    assert terminals.text == "18.9 V and falling"


def test_two_readings_too_close_together_are_no_fall() -> None:
    terminals = off_supply.Terminals(20.0)
    terminals.reading(0, 20.0)
    terminals.reading(40_000_000, 19.0)
    assert not terminals.falling


@pytest.mark.parametrize(
    ("before", "volts", "dead"), [(20.0, 0.9, True), (20.0, 1.1, False), (60.0, 2.9, True)]
)
def test_hardly_anything_is_a_volt_or_a_twentieth_of_what_stood(
    before: float, volts: float, dead: bool
) -> None:
    terminals = off_supply.Terminals(before)
    terminals.reading(0, -volts)
    assert terminals.dead is dead


def test_a_deaf_supply_is_still_live_and_told_again_at_each_look(cutting: Cutting) -> None:
    cutting.outputs.deaf = True
    cutting.switch.fire()
    for offs in (2, 3):
        assert cutting.confirm() == Finding(CutOutcome.STILL_LIVE, "STILL LIVE: output 1: 20 V, 2: 14.2 V")
        assert cutting.outputs.offs == offs
    cutting.outputs.deaf = False
    cutting.until_verified()


def test_one_output_that_stays_on_keeps_the_supply_live(cutting: Cutting) -> None:
    cutting.outputs.deaf = True
    cutting.outputs.on["1"] = False
    assert cutting.confirm() == Finding(CutOutcome.STILL_LIVE, "STILL LIVE: output 2: 14.2 V")


def test_a_supply_that_refuses_says_so_itself(cutting: Cutting) -> None:
    cutting.outputs.deaf = True
    cutting.outputs.refuses = ['-203,"Command protected"']
    found = cutting.confirm()
    assert found.outcome is CutOutcome.REFUSED
    assert found.text == 'the supply refuses: -203,"Command protected"; pull the plug'


def test_an_output_whose_protection_fired_is_off_when_it_says_so(cutting: Cutting) -> None:
    cutting.outputs.protected = {"1"}
    cutting.switch.fire()
    assert cutting.confirm().outcome is CutOutcome.VERIFIED


def test_an_output_that_claims_protection_and_is_on_is_live(cutting: Cutting) -> None:
    cutting.outputs.protected = {"1"}
    cutting.outputs.deaf = True
    assert cutting.confirm() == Finding(CutOutcome.STILL_LIVE, "STILL LIVE: output 1: 20 V, 2: 14.2 V")


def test_a_supply_that_went_off_between_two_questions_is_seen_off_at_the_next_look(cutting: Cutting) -> None:
    answer = cutting.outputs.far.answer
    cutting.outputs.on = {"1": False, "2": False}

    def slow(line: str) -> bytes | None:
        return b"1,1\n" if line == "OUTP? (@1,2)" else answer(line)

    cutting.outputs.far.answer = slow
    assert cutting.confirm() == Finding(CutOutcome.STILL_LIVE, "STILL LIVE")
    cutting.outputs.far.answer = answer
    assert cutting.confirm().outcome is CutOutcome.VERIFIED


def test_a_supply_that_was_still_on_after_its_time_has_failed_whatever_becomes_of_it(
    cutting: Cutting, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(off_supply, "OWN_SECONDS", 0.0)
    cutting.outputs.deaf = True
    cutting.switch.fire()
    assert cutting.confirm() == Finding(CutOutcome.STILL_LIVE, "STILL LIVE: output 1: 20 V, 2: 14.2 V")
    cutting.outputs.deaf = False
    found = cutting.until_found(lambda finding: finding.seen_off)
    assert found.outcome is CutOutcome.STILL_LIVE
    assert found.text.startswith("STILL LIVE: output 1: 20 V, 2: 14.2 V; the supply answers: off, ")
    # It is proven anew, and then stands as it does.
    cutting.switch.prove(lambda *_: True)
    assert cutting.until_verified().text.startswith("the supply answers: off")


def test_a_supply_that_failed_and_is_gone_is_still_one_that_failed(
    cutting: Cutting, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(off_supply, "OWN_SECONDS", 0.0)
    cutting.outputs.deaf = True
    cutting.outputs.refuses = ['-203,"Command protected"']
    cutting.switch.fire()
    cutting.until_found(lambda finding: finding.outcome is CutOutcome.REFUSED)
    cutting.outputs.far.close()
    found = cutting.until_found(lambda finding: "does not answer" in finding.text)
    assert (found.outcome, found.seen_off) == (CutOutcome.REFUSED, False)


# --- a supply that vanishes -----------------------------------------------------------------------


def test_a_supply_that_does_not_answer_is_unknown_never_off(cutting: Cutting) -> None:
    cutting.outputs.mute = True
    cutting.switch.fire()
    found = cutting.confirm()
    assert found.outcome is CutOutcome.UNKNOWN
    assert found.text.startswith("the supply does not answer (did not answer OUTP? (@1,2)")
    assert found.text.endswith("pull the plug")


def test_a_supply_that_vanishes_between_fire_and_reading_back_is_reached_again_and_told_again(
    cutting: Cutting,
) -> None:
    cutting.outputs.deaf = True
    cutting.switch.fire()
    until(lambda: cutting.outputs.offs == 1, "the line")
    cutting.outputs.deaf = False
    cutting.outputs.far.hang_up()
    assert cutting.confirm().outcome is CutOutcome.UNKNOWN
    assert cutting.until_verified().text.startswith("the supply answers: off")
    assert cutting.outputs.offs == 2
    assert len(cutting.opened) == 2


def test_a_cut_on_a_dead_wire_raises_nothing_and_is_made_up_for(
    cutting: Cutting, caplog: pytest.LogCaptureFixture
) -> None:
    with caplog.at_level(logging.CRITICAL):
        cutting.outputs.far.hang_up(reset=True)
        cutting.opened[0].close()
        cutting.switch.fire()
        assert cutting.outputs.offs == 0
        assert cutting.confirm().outcome is CutOutcome.UNKNOWN
        cutting.switch.fire()  # Between two connections there is nothing to send on.
        assert cutting.outputs.offs == 0
        cutting.until_verified()
    assert cutting.outputs.offs == 1


def test_a_supply_that_is_gone_for_good_stays_unknown(cutting: Cutting) -> None:
    cutting.switch.fire()
    cutting.outputs.far.close()
    for _ in range(3):
        found = cutting.confirm()
        assert found.outcome is CutOutcome.UNKNOWN
        assert "pull the plug" in found.text


# --- a connection that waits ----------------------------------------------------------------------


def test_a_connection_that_waits_is_used_and_tells_what_stood_before_the_cut(cutting: Cutting) -> None:
    cutting.outputs.volts = {"1": 60.0, "2": 60.0}
    cutting.switch.keep()
    assert cutting.outputs.offs == 0
    cutting.outputs.left = 0.04
    cutting.switch.fire()
    assert cutting.confirm().outcome is CutOutcome.VERIFIED  # 2.4 V are a twenty-fifth.


def test_a_connection_that_died_while_waiting_is_opened_again_before_the_cut(cutting: Cutting) -> None:
    cutting.outputs.far.hang_up()
    cutting.switch.keep()
    assert len(cutting.opened) == 2
    assert cutting.outputs.offs == 0
    cutting.switch.fire()
    cutting.until_verified()
    assert cutting.outputs.offs == 1


def test_a_cut_that_finds_no_connection_is_sent_on_the_next(cutting: Cutting) -> None:
    cutting.switch._lose()
    cutting.switch.fire()
    assert cutting.outputs.offs == 0
    cutting.switch.keep()
    until(lambda: cutting.outputs.offs == 1, "the line")


def test_a_connection_that_cannot_be_opened_again_is_tried_at_the_next_use(cutting: Cutting) -> None:
    cutting.outputs.far.close()
    cutting.switch.keep()
    cutting.switch.keep()
    assert len(cutting.opened) == 1


def test_a_cut_does_not_wait_for_a_connection_in_use(cutting: Cutting) -> None:
    with cutting.switch._talking:
        cutting.switch.keep()  # Somebody uses it: nothing to do.
        cutting.switch.fire()
        until(lambda: cutting.outputs.offs == 1, "the line")


def test_a_cut_does_not_wait_behind_the_same_line(cutting: Cutting, monkeypatch: pytest.MonkeyPatch) -> None:
    with cutting.switch._lock:
        cutting.switch.fire()
    assert cutting.outputs.offs == 0


def test_where_a_send_may_block_a_thread_of_its_own_sends(cutting: Cutting) -> None:
    cutting.switch.close()
    switch = cutting.made(at_once=False)
    assert switch.was_let_go(0.0)
    with switch._lock:
        switch.fire()  # Does not wait for it.
        assert not switch.was_let_go(0.0)
    switch.fire()
    assert switch.was_let_go(30.0)
    until(lambda: cutting.outputs.offs >= 1, "the line")
    assert switch.prove(lambda *_: False) == "bench supply: the supply answers: off, 0 V, 0 V"
    switch.close()


# --- switching on ---------------------------------------------------------------------------------


def test_switching_on_is_asked_of_who_sets_the_supply(cutting: Cutting) -> None:
    told: list[str] = []
    cutting.switch.switch_on(told.append)
    (was_cut, done), *_ = cutting.asked_on
    assert not was_cut()
    done("output 2 is protected")
    assert told == ["output 2 is protected"]
    assert cutting.outputs.offs == 0


def test_a_cut_before_the_supply_was_switched_on_keeps_it_from_being_so(cutting: Cutting) -> None:
    cutting.switch.switch_on(lambda _: None)
    cutting.switch.fire()
    (was_cut, _), *_ = cutting.asked_on
    assert was_cut()
    # A new run begins anew.
    cutting.switch.switch_on(lambda _: None)
    was_cut, _ = cutting.asked_on[1]
    assert not was_cut()


def test_a_cut_that_comes_while_the_supply_is_switched_on_is_sent_again_and_not_proven_before(
    cutting: Cutting,
) -> None:
    told: list[str] = []
    cutting.switch.switch_on(told.append)
    cutting.switch.fire()
    until(lambda: cutting.outputs.offs == 1, "the line")
    assert cutting.confirm().outcome is CutOutcome.UNKNOWN
    cutting.outputs.on = {"1": True, "2": True}  # The other connection was behind.
    _, done = cutting.asked_on[0]
    done("")
    assert told == [""]
    assert cutting.until_verified().outcome is CutOutcome.VERIFIED
    assert cutting.outputs.offs == 2


def test_it_lets_go_of_its_connection_once_for_all(cutting: Cutting) -> None:
    cutting.switch.close()
    cutting.switch.close()
    cutting.switch.keep()
    assert len(cutting.opened) == 1
    cutting.switch.fire()
    assert cutting.switch.patience(10.0) == 1.0
    assert cutting.outputs.offs == 0
