"""Off is only what the far end shows; whatever was falling, near nothing or unseen proves nothing."""

from collections.abc import Callable

import pytest
from helpers.watched import LAMP, MAINS, MINUS, PLUS, Value, Watched, plan_of, ramp

from benchlog.domain.offproof import CutOutcome, OffProof
from benchlog.domain.reading import Outcome
from benchlog.domain.trace import LOST

LIVE_MAINS: dict[str, Value] = {"mains": 230.0, "lamp": 60.0, "+B": 30.0, "-B": -30.0}
LIVE_LAMP: dict[str, Value] = {"lamp": 60.0, "+B": 30.0, "-B": -30.0}


def on(*traces: str, live: dict[str, Value], seconds: float = 5.0, rate: float = 1.0) -> Watched:
    """A bench that has stood like this for some seconds at full mains."""
    bench = Watched(plan_of(*traces), rate=rate)
    bench.at_rest(230.0)
    bench.play(seconds, live)
    return bench


def discharge(start: float, since: float, fraction: float) -> Callable[[float], float]:
    """A reservoir that loses that fraction of its voltage each second."""
    return lambda t: float(start * (1.0 - fraction) ** max(t - since, 0.0))


def off(bench: Watched, **other: Value) -> dict[str, Value]:
    """What meters read from now on where the cut has worked."""
    readings: dict[str, Value] = {
        "mains": 0.3,
        "lamp": 0.1,
        "+B": discharge(30.0, bench.now, 0.1),
        "-B": discharge(-30.0, bench.now, 0.1),
    }
    return {name: value for name, value in (readings | other).items() if name in bench.guard.traces}


def outcome(proof: OffProof) -> CutOutcome:
    """What is proven so far."""
    return proof.finding().outcome


class TestByTheMainsMeter:
    """Downstream of the off-switch, below 5 % of its value just before."""

    def test_mains_gone_is_verified_off_though_the_rails_still_stand(self) -> None:
        bench = on(MAINS, LAMP, PLUS, MINUS, live=LIVE_MAINS)
        proof = bench.ask_for_off()
        bench.play(1.0, off(bench, **{"+B": 30.0, "-B": -30.0}))
        assert proof.finding().outcome is CutOutcome.VERIFIED
        assert proof.finding().text == "mains fell to 0.30 V"

    def test_until_then_the_number_that_still_stands_is_said(self) -> None:
        bench = on(MAINS, LAMP, PLUS, MINUS, live=LIVE_MAINS)
        proof = bench.ask_for_off()
        bench.play(1.0, LIVE_MAINS)
        assert proof.finding().outcome is CutOutcome.STILL_LIVE
        assert proof.finding().text == "STILL LIVE: mains reads 230.0 V"

    def test_a_tenth_of_mains_is_still_live(self) -> None:
        bench = on(MAINS, live={"mains": 230.0})
        proof = bench.ask_for_off()
        bench.play(2.0, {"mains": 23.0})
        assert outcome(proof) is CutOutcome.STILL_LIVE

    def test_dark_lamp_and_falling_rails_do_not_outvote_a_mains_meter_that_still_reads(self) -> None:
        bench = on(MAINS, LAMP, PLUS, MINUS, live=LIVE_MAINS)
        proof = bench.ask_for_off()
        bench.play(5.0, off(bench, mains=230.0))
        assert outcome(proof) is CutOutcome.STILL_LIVE

    def test_before_a_reading_was_begun_after_the_request_nothing_is_known(self) -> None:
        bench = on(MAINS, live={"mains": 230.0})
        bench.play(0.15, {"mains": 230.0})
        proof = bench.ask_for_off()
        assert proof.finding().text == "no reading from mains since off was asked: pull the plug"
        # The reading that arrives now was begun before: the meter takes a quarter second for each.
        bench.play(0.2, {"mains": 0.0})
        assert proof.finding().text == "no reading from mains since off was asked: pull the plug"
        bench.play(0.25, {"mains": 0.0})
        assert proof.finding().text == "one reading of mains alone proves nothing"
        bench.play(0.25, {"mains": 0.0})
        assert outcome(proof) is CutOutcome.VERIFIED

    def test_one_reading_of_nothing_may_be_a_meter_that_changes_its_range(self) -> None:
        bench = on(MAINS, live={"mains": 230.0})
        proof = bench.ask_for_off()
        bench.play(0.5, {"mains": 230.0})
        bench.now += 0.25
        bench.give("mains", 0.0)
        assert proof.finding().outcome is CutOutcome.UNKNOWN
        assert proof.finding().text == "one reading of mains alone proves nothing"
        bench.play(0.3, {"mains": 230.0})
        assert outcome(proof) is CutOutcome.STILL_LIVE

    def test_a_mains_meter_that_falls_silent_proves_nothing(self) -> None:
        bench = on(MAINS, LAMP, PLUS, MINUS, live=LIVE_MAINS)
        proof = bench.ask_for_off()
        bench.play(6.0, off(bench, mains=None))
        assert outcome(proof) is CutOutcome.UNKNOWN

    @pytest.mark.parametrize(
        "reply", [Outcome.MALFORMED, Outcome.MISSING, Outcome.OVERLOAD, Outcome.NOT_A_NUMBER]
    )
    def test_bad_replies_prove_nothing(self, reply: Outcome) -> None:
        bench = on(MAINS, live={"mains": 230.0})
        proof = bench.ask_for_off()
        bench.play(6.0, {"mains": reply})
        assert outcome(proof) is CutOutcome.UNKNOWN

    def test_what_a_meter_shows_is_counted_in_plan_time_beside_a_simulated_bench(self) -> None:
        bench = on(MAINS, live={"mains": 230.0}, rate=10.0)
        bench.play(0.15, {"mains": 230.0})
        proof = bench.ask_for_off()
        bench.play(0.2, {"mains": 0.0})
        assert proof.finding().text == "no reading from mains since off was asked: pull the plug"
        bench.play(0.25, {"mains": 0.0})
        assert proof.finding().text == "one reading of mains alone proves nothing"
        bench.play(0.25, {"mains": 0.0})
        assert outcome(proof) is CutOutcome.VERIFIED

    def test_a_few_volts_of_mains_may_fall_to_nothing_but_noise_may_not(self) -> None:
        for before, proven in ((3.0, CutOutcome.VERIFIED), (1.9, CutOutcome.UNKNOWN)):
            bench = on(MAINS, live={"mains": before})
            proof = bench.ask_for_off()
            bench.play(2.0, {"mains": 0.0})
            assert outcome(proof) is proven

    def test_a_mains_meter_that_read_nothing_before_leaves_it_to_the_lamp(self) -> None:
        bench = on(MAINS, LAMP, PLUS, MINUS, live=LIVE_MAINS | {"mains": 0.1})
        proof = bench.ask_for_off()
        bench.play(6.0, off(bench, mains=0.1))
        assert outcome(proof) is CutOutcome.VERIFIED


ACTS = 0.8
"""Seconds in which a relay acts if it works."""


class TestWhoseDoing:
    """The traces see the unit: a switch is convicted by a reading begun after it should have acted."""

    @staticmethod
    def live_for(seconds: float, *traces: str, rate: float = 1.0) -> OffProof:
        """A unit that goes off so long after it was asked for."""
        bench = on(*traces, live={}, rate=rate)
        live = {name: value for name, value in LIVE_MAINS.items() if name in bench.guard.traces}
        bench.play(5.0, live)
        proof = bench.ask_for_off()
        bench.play(seconds, live)
        bench.play(4.0, off(bench))
        return proof

    @pytest.mark.parametrize("others", [False, True])
    def test_off_within_its_time_is_its_own_doing(self, others: bool) -> None:
        proof = self.live_for(0.5, MAINS, LAMP, PLUS, MINUS)
        assert proof.of_switch(ACTS, others=others) == proof.finding()
        assert outcome(proof) is CutOutcome.VERIFIED

    @pytest.mark.parametrize("others", [False, True])
    @pytest.mark.parametrize(
        "traces", [(MAINS, LAMP, PLUS, MINUS), (LAMP, PLUS, MINUS)], ids=["mains", "lamp"]
    )
    def test_off_long_after_its_time_is_anothers_and_it_has_failed(
        self, traces: tuple[str, ...], others: bool
    ) -> None:
        proof = self.live_for(3.0, *traces)
        assert outcome(proof) is CutOutcome.VERIFIED
        finding = proof.of_switch(ACTS, others=others)
        assert (finding.outcome, finding.seen_off) == (CutOutcome.STILL_LIVE, True)
        read = "mains read 230.0 V" if MAINS in traces else "lamp read 60.00 V"
        assert finding.text == f"did not act: {read} 2.5 s after off was asked; off since, not by this one"

    def test_as_long_as_it_is_live_the_number_of_now_is_said(self) -> None:
        bench = on(MAINS, live={"mains": 230.0})
        proof = bench.ask_for_off()
        bench.play(3.0, {"mains": 230.0})
        assert proof.of_switch(ACTS, others=True) == proof.finding()
        assert proof.finding().text == "STILL LIVE: mains reads 230.0 V"

    def test_it_has_failed_though_no_meter_says_what_came_of_it(self) -> None:
        bench = on(MAINS, live={"mains": 230.0})
        proof = bench.ask_for_off()
        bench.play(3.0, {"mains": 230.0})
        bench.now += 0.25
        bench.give("mains", 0.0)
        finding = proof.of_switch(ACTS, others=False)
        assert (finding.outcome, finding.seen_off) == (CutOutcome.STILL_LIVE, False)
        assert finding.text.endswith("; one reading of mains alone proves nothing")

    def test_between_the_two_it_is_nobodys_where_a_person_was_called_as_well(self) -> None:
        # A meter that averages reads something for a while after the contact has opened.
        proof = self.live_for(1.4, MAINS)
        assert proof.of_switch(ACTS, others=False).outcome is CutOutcome.VERIFIED
        finding = proof.of_switch(ACTS, others=True)
        assert (finding.outcome, finding.seen_off) == (CutOutcome.UNKNOWN, True)
        assert finding.text == "mains fell to 0.30 V; not known which switched it off"

    def test_a_person_is_never_too_late(self) -> None:
        proof = self.live_for(9.0, MAINS)
        assert proof.of_switch(float("inf"), others=True).outcome is CutOutcome.VERIFIED

    def test_what_its_time_is_in_plan_time_depends_on_the_rate(self) -> None:
        assert (
            self.live_for(7.0, MAINS, rate=10.0).of_switch(ACTS, others=True).outcome is CutOutcome.VERIFIED
        )
        assert (
            self.live_for(16.0, MAINS, rate=10.0).of_switch(ACTS, others=True).outcome
            is CutOutcome.STILL_LIVE
        )

    def test_where_nothing_stood_before_nothing_convicts_it(self) -> None:
        bench = on(MAINS, LAMP, live={"mains": 0.1, "lamp": 0.0})
        proof = bench.ask_for_off()
        bench.play(4.0, {"mains": 0.1, "lamp": 0.0})
        assert proof.of_switch(ACTS, others=False).outcome is CutOutcome.UNKNOWN


class TestByTheLamp:
    """It stood at a tenth or more and fell below a quarter, and every rail began to fall only then."""

    def test_a_lamp_gone_dark_and_rails_that_begin_to_fall_are_verified_off(self) -> None:
        bench = on(LAMP, PLUS, MINUS, live=LIVE_LAMP)
        proof = bench.ask_for_off()
        bench.play(1.5, off(bench))
        assert outcome(proof) is CutOutcome.UNKNOWN
        bench.play(2.0, off(bench, **{"+B": discharge(30.0, 5.0, 0.1), "-B": discharge(-30.0, 5.0, 0.1)}))
        finding = proof.finding()
        assert finding.outcome is CutOutcome.VERIFIED
        assert finding.text.startswith("lamp fell to 100 mV, rails falling: +B ")

    def test_a_lamp_that_glows_on_is_still_live(self) -> None:
        bench = on(LAMP, PLUS, MINUS, live=LIVE_LAMP)
        proof = bench.ask_for_off()
        bench.play(4.0, off(bench, lamp=60.0))
        assert proof.finding().outcome is CutOutcome.STILL_LIVE
        assert proof.finding().text == "STILL LIVE: lamp reads 60.00 V"

    def test_a_lamp_at_a_third_is_still_live(self) -> None:
        bench = on(LAMP, PLUS, MINUS, live=LIVE_LAMP)
        proof = bench.ask_for_off()
        bench.play(4.0, off(bench, lamp=20.0))
        assert outcome(proof) is CutOutcome.STILL_LIVE

    def test_a_lamp_that_was_dark_already_proves_nothing(self) -> None:
        bench = on(LAMP, PLUS, MINUS, live=LIVE_LAMP | {"lamp": 15.0})
        proof = bench.ask_for_off()
        bench.play(6.0, off(bench))
        assert outcome(proof) is CutOutcome.UNKNOWN

    def test_a_rail_that_stands_while_the_lamp_went_dark_proves_nothing(self) -> None:
        # The lamp may be bypassed, or its clip come off.
        for standing in ({"+B": 30.0}, {"-B": -30.0}):
            bench = on(LAMP, PLUS, MINUS, live=LIVE_LAMP)
            proof = bench.ask_for_off()
            bench.play(6.0, off(bench, **standing))
            assert outcome(proof) is CutOutcome.UNKNOWN

    def test_a_rail_that_falls_on_its_bleeder_alone_proves_nothing(self) -> None:
        bench = on(LAMP, PLUS, MINUS, live=LIVE_LAMP)
        proof = bench.ask_for_off()
        bench.play(6.0, off(bench, **{"+B": discharge(30.0, bench.now, 0.01)}))
        assert outcome(proof) is CutOutcome.UNKNOWN

    @pytest.mark.parametrize("each_second", [0.015, 0.05])
    @pytest.mark.parametrize("sign", [1.0, -1.0])
    def test_a_rail_that_was_falling_before_the_request_proves_nothing(
        self, each_second: float, sign: float
    ) -> None:
        name, trace = ("+B", PLUS) if sign > 0 else ("-B", MINUS)
        falling = discharge(sign * 30.0, 0.0, each_second)
        bench = on(LAMP, trace, live={"lamp": 60.0, name: falling})
        proof = bench.ask_for_off()
        later = discharge(falling(bench.now), bench.now, 0.1)
        bench.play(6.0, {"lamp": 0.1, name: later})
        assert outcome(proof) is CutOutcome.UNKNOWN

    def test_a_rail_that_was_falling_is_not_forgiven_for_crossing_zero(self) -> None:
        bench = on(LAMP, PLUS, live={"lamp": 60.0, "+B": ramp(30.0, 0.0, -2.0)})
        proof = bench.ask_for_off()
        bench.play(6.0, {"lamp": 0.1, "+B": ramp(20.0, bench.now, -4.0)})
        bench.give("+B", -0.01)
        assert outcome(proof) is CutOutcome.UNKNOWN

    def test_a_rail_that_was_rising_was_not_falling(self) -> None:
        bench = on(LAMP, PLUS, live={"lamp": 60.0, "+B": ramp(20.0, 0.0, 2.0)})
        proof = bench.ask_for_off()
        bench.play(6.0, {"lamp": 0.1, "+B": discharge(30.0, bench.now, 0.1)})
        assert outcome(proof) is CutOutcome.VERIFIED

    def test_a_rail_nobody_saw_standing_proves_nothing(self) -> None:
        # Two readings before the cut: whether it was falling already cannot be said.
        bench = on(LAMP, PLUS, live={"lamp": 60.0})
        bench.play(0.4, {"lamp": 60.0, "+B": 30.0})
        proof = bench.ask_for_off()
        bench.play(6.0, {"lamp": 0.1, "+B": discharge(30.0, bench.now, 0.1)})
        assert outcome(proof) is CutOutcome.UNKNOWN

    def test_a_rail_whose_meter_fell_silent_proves_nothing(self) -> None:
        bench = on(LAMP, PLUS, MINUS, live=LIVE_LAMP)
        proof = bench.ask_for_off()
        bench.play(6.0, off(bench, **{"-B": None}))
        assert outcome(proof) is CutOutcome.UNKNOWN

    def test_a_rail_whose_reading_is_not_believed_leaves_nothing_to_the_lamp(self) -> None:
        bench = on(LAMP, PLUS, MINUS, live={"lamp": 60.0, "+B": 0.0, "-B": -30.0})
        bench.guard.traces["+B"].doubt = "fell"
        proof = bench.ask_for_off()
        bench.play(6.0, off(bench, **{"+B": 0.0}))
        assert proof.finding().outcome is CutOutcome.UNKNOWN
        assert (
            proof.finding().text
            == "lamp fell to 100 mV, but +B cannot be seen to fall: off not proven: pull the plug"
        )
        assert proof.seen_falling() == "lamp fell to 100 mV, by the lamp alone: +B is not seen"

    def test_a_rail_of_which_nothing_was_ever_read_leaves_nothing_to_the_lamp(self) -> None:
        bench = on(LAMP, PLUS, live={"lamp": 60.0})
        proof = bench.ask_for_off()
        bench.play(6.0, {"lamp": 0.1})
        assert outcome(proof) is CutOutcome.UNKNOWN

    def test_a_rail_that_was_low_when_its_meter_fell_silent_leaves_nothing_to_the_lamp(self) -> None:
        bench = on(LAMP, PLUS, live={"lamp": 10.0, "+B": 3.0})
        bench.play(LOST + 1.0, {"lamp": 60.0})
        proof = bench.ask_for_off()
        bench.play(6.0, {"lamp": 0.1})
        assert outcome(proof) is CutOutcome.UNKNOWN

    def test_a_rail_that_never_moved_is_said_to_bear_nothing_out(self) -> None:
        bench = on(LAMP, PLUS, live={"lamp": 60.0, "+B": 0.0})
        bench.guard.traces["+B"].unproven = True
        proof = bench.ask_for_off()
        bench.play(2.0, {"lamp": 0.1, "+B": 0.0})
        assert proof.finding().outcome is CutOutcome.VERIFIED
        assert proof.finding().text == "lamp fell to 100 mV, by the lamp alone; +B was never seen to move"

    def test_beside_one_that_falls_it_is_said_as_well(self) -> None:
        bench = on(LAMP, PLUS, MINUS, live={"lamp": 60.0, "+B": 0.0, "-B": -30.0})
        bench.guard.traces["+B"].unproven = True
        proof = bench.ask_for_off()
        bench.play(6.0, off(bench, **{"+B": 0.0}))
        assert proof.finding().outcome is CutOutcome.VERIFIED
        assert ", rails falling: -B " in proof.finding().text
        assert proof.finding().text.endswith("; +B was never seen to move")

    def test_a_rail_near_nothing_is_not_asked(self) -> None:
        # A shorted output: full lamp, no rail to speak of.
        bench = on(LAMP, PLUS, live={"lamp": 200.0, "+B": 2.0})
        proof = bench.ask_for_off()
        bench.play(1.0, {"lamp": 0.1, "+B": 2.0})
        assert proof.finding().outcome is CutOutcome.VERIFIED
        assert proof.finding().text == "lamp fell to 100 mV; no rail stood above 5 V to bear it out"

    def test_a_rail_of_more_than_five_volts_is_asked(self) -> None:
        for before, proven in ((5.5, CutOutcome.UNKNOWN), (4.9, CutOutcome.VERIFIED)):
            bench = on(LAMP, PLUS, live={"lamp": 60.0, "+B": before})
            proof = bench.ask_for_off()
            bench.play(5.0, {"lamp": 0.1, "+B": before})
            assert outcome(proof) is proven

    def test_what_is_said_is_the_last_reading(self) -> None:
        bench = on(LAMP, PLUS, live={"lamp": 60.0, "+B": 30.0})
        proof = bench.ask_for_off()
        bench.play(2.0, {"lamp": 8.0, "+B": ramp(30.0, bench.now, -3.0)})
        bench.play(2.0, {"lamp": 2.0, "+B": ramp(24.0, bench.now, -3.0)})
        assert proof.finding().text == "lamp fell to 2.00 V, rails falling: +B 18.60 V"
        bench.play(1.0, {"lamp": 40.0, "+B": 18.0})
        assert proof.finding().text == "STILL LIVE: lamp reads 40.00 V"

    def test_one_dark_reading_of_the_lamp_alone_proves_nothing(self) -> None:
        bench = on(LAMP, PLUS, live={"lamp": 200.0, "+B": 2.0})
        proof = bench.ask_for_off()
        bench.play(0.5, {"lamp": 200.0, "+B": 2.0})
        bench.now += 0.25
        bench.give("lamp", 0.0)
        assert outcome(proof) is CutOutcome.UNKNOWN

    def test_without_mains_meter_and_lamp_falling_rails_prove_nothing(self) -> None:
        bench = on(PLUS, MINUS, live={"+B": 30.0, "-B": -30.0})
        proof = bench.ask_for_off()
        bench.play(6.0, off(bench))
        assert proof.finding().outcome is CutOutcome.UNKNOWN
        assert proof.finding().text == "off not proven: pull the plug"

    def test_before_the_first_reading_of_the_lamp_nothing_is_known(self) -> None:
        bench = on(LAMP, PLUS, MINUS, live=LIVE_LAMP)
        assert outcome(bench.ask_for_off()) is CutOutcome.UNKNOWN

    def test_a_unit_that_was_off_already_proves_nothing(self) -> None:
        bench = Watched(plan_of(LAMP, PLUS))
        bench.play(5.0, {"lamp": 60.0, "+B": 30.0})
        proof = bench.ask_for_off()
        bench.play(6.0, {"lamp": 0.0, "+B": discharge(30.0, bench.now, 0.1)})
        assert outcome(proof) is CutOutcome.UNKNOWN

    def test_a_rail_at_nothing_does_not_fall_any_further(self) -> None:
        bench = on(LAMP, PLUS, live={"lamp": 60.0, "+B": 30.0})
        proof = bench.ask_for_off()
        bench.play(6.0, {"lamp": 0.1, "+B": 0.0})
        assert outcome(proof) is CutOutcome.UNKNOWN


class TestTheDrill:
    """The lamp goes dark, or a rail that stood begins to fall."""

    def test_a_lamp_that_goes_dark_is_enough(self) -> None:
        bench = on(LAMP, PLUS, live={"lamp": 9.0, "+B": 15.0})
        proof = bench.ask_for_off()
        bench.play(1.0, {"lamp": 0.1, "+B": 15.0})
        assert proof.seen_falling()

    def test_a_lamp_that_glows_on_was_not_switched_off_whatever_the_rails_do(self) -> None:
        bench = on(LAMP, PLUS, live={"lamp": 9.0, "+B": 15.0})
        proof = bench.ask_for_off()
        bench.play(5.0, {"lamp": 9.0, "+B": discharge(15.0, bench.now, 0.1)})
        assert not proof.seen_falling()

    def test_a_lamp_that_barely_glowed_counts_from_a_volt_on(self) -> None:
        for before, seen in ((1.5, True), (0.9, False)):
            bench = on(LAMP, PLUS, live={"lamp": before, "+B": 15.0})
            proof = bench.ask_for_off()
            bench.play(1.0, {"lamp": 0.0, "+B": 15.0})
            assert bool(proof.seen_falling()) is seen

    def test_where_the_lamp_is_dark_a_rail_that_begins_to_fall_is_enough(self) -> None:
        bench = on(LAMP, PLUS, live={"lamp": 0.4, "+B": 15.0})
        proof = bench.ask_for_off()
        bench.play(5.0, {"lamp": 0.1, "+B": discharge(15.0, bench.now, 0.1)})
        assert proof.seen_falling()

    def test_a_rail_that_was_falling_already_is_no_drill(self) -> None:
        bench = on(PLUS, live={"+B": discharge(20.0, 0.0, 0.05)})
        proof = bench.ask_for_off()
        bench.play(5.0, {"+B": discharge(15.0, bench.now, 0.1)})
        assert not proof.seen_falling()

    def test_nothing_is_seen_before_anything_was_read(self) -> None:
        bench = on(LAMP, PLUS, live={"lamp": 9.0, "+B": 15.0})
        assert not bench.ask_for_off().seen_falling()


def test_readings_of_other_traces_are_no_evidence() -> None:
    bench = on(MAINS, "name='idle', role='idle'", live={"mains": 230.0, "idle": 0.02})
    proof = bench.ask_for_off()
    bench.play(3.0, {"idle": 0.0})
    assert outcome(proof) is CutOutcome.UNKNOWN
