"""A plan is checked against the bench before anything is live, and the honest delay is said."""

from dataclasses import replace
from pathlib import Path

import pytest
from helpers.watched import (
    AMPS,
    BENCH_SUPPLY,
    DIRECT,
    HALL,
    LAMP,
    MAINS,
    MINUS,
    PLUS,
    SINK,
    STATE,
    VOLTS,
    plan_of,
)

from benchlog import textfile
from benchlog.domain.plan import Plan
from benchlog.domain.plan_limit import Limit, LimitKind
from benchlog.domain.reference import Reference, Stood
from benchlog.errors import BadInput
from benchlog.instruments import bench as benches
from benchlog.instruments.bench import Bench, MeterEntry, OffSwitchEntry, PedalEntry, SupplyEntry
from benchlog.recorder.plancheck import check, off_seconds, worst_delay

EXAMPLES = Path(__file__).parents[2] / "resources" / "examples"
HAND = OffSwitchEntry(kind="hand", job="hand")
RELAY = OffSwitchEntry(kind="relay", job="mains relay", address="COM3", drop_out=0.5)
CUT = OffSwitchEntry(kind="supply", job="bench supply", supply="bench supply")
SUPPLY = SupplyEntry(job="bench supply", profile="scpi-supply", address="tcp://127.0.0.1:1")
ONE_VOLT = ["name='1', volts=1.0, current_limit=0.1, dwell=1.0"]


def meter(job: str, **more: object) -> MeterEntry:
    """A meter of that job with an isolated link."""
    values: dict[str, object] = {"link_isolated": "yes", "rating": "CAT III 600 V", **more}
    return MeterEntry(job=job, profile="x", address="tcp://127.0.0.1:1", **values)  # type: ignore[arg-type]


def bench(*meters: MeterEntry, supply: bool = False, off: tuple[OffSwitchEntry, ...] = (RELAY,)) -> Bench:
    """A bench of these meters."""
    return Bench(name="Hall", meter=meters, supply=(SUPPLY,) if supply else (), off_switch=off)


def said_of(plan: Plan, on: Bench) -> list[str]:
    """The sentences beyond those that every small plan gets."""
    standing = (
        "Not guarded",
        "A critical meter that falls silent",
        "No limit of this plan",
        "The leads of ",
        "What ",
        "Clip a meter",
    )
    found = check(plan, on, "plan.toml")
    return [said for said in found if not said.startswith(standing) and "has no ceiling" not in said]


def faults(plan: Plan, on: Bench) -> dict[str, str]:
    """Place -> problem of every fault."""
    with pytest.raises(BadInput) as caught:
        check(plan, on, "plan.toml")
    return {fault.place: fault.problem for fault in caught.value.faults}


@pytest.mark.parametrize("name", ["amplifier", "by-hand", "board"])
def test_every_shipped_plan_fits_its_bench(name: str) -> None:
    folder = EXAMPLES / name
    text = (folder / "bench.toml").read_text("utf-8").replace('"simulated:', '"socket://127.0.0.1:1" #')
    plan = textfile.read(folder / "plan.toml", Plan)
    said = check(plan, benches.parse(text, "bench.toml"), "plan.toml")
    assert any("from fault to off" in sentence for sentence in said)


class TestTheHonestDelay:
    """One interval, the persistence up to the next reading, and the off-switch's own time."""

    @pytest.mark.parametrize(
        ("persistence", "off", "seconds"),
        [
            # A handheld at three a second, a relay that drops in half a second, or a hand's two seconds.
            (0.0, 0.5, 1.2),
            (1.0, 0.5, 1.8),
            (0.0, 2.0, 2.7),
        ],
    )
    def test_it_is_what_a_handheld_and_an_off_switch_amount_to(
        self, persistence: float, off: float, seconds: float
    ) -> None:
        limit = Limit(trace="+B", kind=LimitKind.HIGH, value=50.0, persistence=persistence)
        assert worst_delay(limit, 1 / 3, off) == pytest.approx(seconds, abs=0.05)

    def test_a_persistence_of_whole_intervals_is_not_rounded_up_by_binary_dust(self) -> None:
        limit = Limit(trace="+B", kind=LimitKind.HIGH, value=50.0, persistence=0.3)
        assert worst_delay(limit, 0.1, 0.0) == pytest.approx(0.4)

    def test_more_readings_take_longer(self) -> None:
        limit = Limit(trace="+B", kind=LimitKind.HIGH, value=50.0, readings=5)
        assert worst_delay(limit, 0.25, 0.0) == pytest.approx(0.25 + 4 * 0.25)

    def test_the_slowest_off_switch_counts_and_no_hand_beside_another(self) -> None:
        assert off_seconds(bench(off=(HAND,))) == 2.0
        assert off_seconds(bench(off=(HAND, RELAY))) == 0.5
        assert off_seconds(bench(supply=True, off=(CUT,))) == pytest.approx(0.1)
        assert off_seconds(bench(supply=True, off=(CUT, RELAY, HAND))) == 0.5

    def test_it_is_said_for_each_limit_that_trips_and_for_no_warning(self) -> None:
        plan = plan_of(
            PLUS,
            MINUS,
            limits=[
                "trace='+B', kind='rail_low'",
                "trace='-B', kind='high', value=50.0",
                "trace='+B', kind='high', value=45.0, action='warn'",
            ],
        )
        said = said_of(plan, bench(meter("+B", interval=0.25), meter("-B")))
        assert said == [
            "+B lower than the source should give: from fault to off at worst 2.8 s",
            "-B above 50.00 V: from fault to off at worst 1.3 s",
        ]

    def test_two_rails_wait_for_the_slower_meter(self) -> None:
        plan = plan_of(PLUS, MINUS, limits=["trace='+B', kind='apart', partner='-B'"])
        said = said_of(plan, bench(meter("+B", interval=0.1), meter("-B", interval=1.0)))
        assert said == ["+B apart from -B: from fault to off at worst 3.5 s"]

    def test_a_supply_is_read_at_the_pace_of_its_rounds(self) -> None:
        plan = plan_of(STATE, source=BENCH_SUPPLY, stages=ONE_VOLT, limits=["trace='state', kind='supply'"])
        said = said_of(plan, bench(supply=True, off=(CUT,)))
        assert said == ["state limiting, protecting or off by itself: from fault to off at worst 0.7 s"]

    def test_what_arms_late_says_so(self) -> None:
        plan = plan_of(
            PLUS,
            limits=[
                "trace='+B', kind='high', value=50.0, after_on=3.0, after_steady=1.5",
                "trace='+B', kind='high', value=48.0, gate={any_of=['+B'], above=22.0, seconds=5.0}",
            ],
        )
        said = check(plan, bench(meter("+B", interval=0.25)), "plan.toml")
        assert said[2:] == [
            "A critical meter that falls silent: off at worst 5.5 s after its last reading.",
            "+B above 50.00 V: from fault to off at worst 1.0 s; "
            "it looks only from 3 s after switching on and 1.5 s after the source is steady",
            "+B above 48.00 V: from fault to off at worst 1.0 s; "
            "it looks only from when +B has stood above 22 V for 5 s",
        ]

    def test_the_silence_of_a_slow_meter_is_seen_later_but_not_for_ever(self) -> None:
        for interval, seconds in ((1.0, 5.5), (2.0, 8.5), (2.5, 10.5), (4.0, 10.5)):
            said = check(
                plan_of(PLUS, LAMP),
                bench(meter("+B", interval=interval), meter("lamp", interval=0.3)),
                "plan.toml",
            )
            expected = f"A critical meter that falls silent: off at worst {seconds} s after its last reading."
            assert expected in said

    def test_of_a_meter_whose_pace_the_bench_does_not_say_the_longest_silence_is_told_too(self) -> None:
        silence = "A critical meter that falls silent: off at worst 5.5 s after its last reading"
        said = check(plan_of(PLUS, LAMP), bench(meter("+B", interval=1.0), meter("lamp")), "plan.toml")
        assert f"{silence}, up to 10.5 s where it reads less often than every 1.25 s." in said
        both = bench(meter("+B", interval=1.0), meter("lamp", interval=0.3))
        assert f"{silence}." in check(plan_of(PLUS, LAMP), both, "plan.toml")

    def test_limits_that_differ_by_their_trace_alone_are_one_sentence_at_the_slower_meters_pace(self) -> None:
        plan = plan_of(PLUS, MINUS, limits=["trace='+B', kind='polarity'", "trace='-B', kind='polarity'"])
        said = said_of(plan, bench(meter("+B", interval=0.25), meter("-B", interval=1.0)))
        assert said == ["+B and -B of the wrong sign: from fault to off at worst 2.5 s"]

    def test_the_longest_comes_first(self) -> None:
        limits = [
            "trace='+B', kind='high', value=50.0",
            "trace='+B', kind='rail_low'",
            "trace='+B', kind='high', value=48.0, persistence=9.0",
        ]
        said = check(plan_of(PLUS, limits=limits), bench(meter("+B", interval=0.25)), "plan.toml")
        assert [sentence.split(" at worst ")[1][:3] for sentence in said[2:-1]] == [
            "9.8",
            "5.5",
            "2.8",
            "1.0",
        ]

    def test_a_plan_without_critical_traces_does_not_speak_of_their_silence(self) -> None:
        plan = plan_of(PLUS, limits=["trace='+B', kind='high', value=50.0"])
        loose = replace(plan, trace=tuple(replace(trace, critical=False) for trace in plan.trace))
        assert not any("falls silent" in said for said in check(loose, bench(meter("+B")), "plan.toml"))


class TestWarnings:
    """What should be said before anything is live."""

    def test_a_first_stage_with_nothing_that_limits_the_current_is_named(self) -> None:
        said = said_of(plan_of(PLUS, source=DIRECT), bench(meter("+B")))
        assert said == ["Nothing limits the current at the first stage: put a lamp in series."]

    @pytest.mark.parametrize("source", [HALL, DIRECT.replace("'wall'", "'wall', '22 ohm safety Resistors'")])
    def test_a_lamp_or_safety_resistors_limit_it(self, source: str) -> None:
        assert said_of(plan_of(PLUS, source=source), bench(meter("+B"))) == []

    def test_a_plan_that_never_trips_and_a_rail_without_a_ceiling_are_named(self) -> None:
        warns = "trace='+B', kind='high', value=50.0, action='warn'"
        said = check(plan_of(PLUS, MINUS, limits=[warns]), bench(meter("+B"), meter("-B")), "plan.toml")
        assert said[:-1] == [
            "Not guarded: the lamp, +B (watched only), -B (watched only), idle current, offset, heat sinks.",
            "No limit of this plan switches off: only a critical meter that falls silent does.",
            "+B has no ceiling: give it a high limit at the rating of its capacitors.",
            "-B has no ceiling: give it a high limit at the rating of its capacitors.",
        ]

    def test_a_supply_limits_its_own_current(self) -> None:
        plan = plan_of(VOLTS, source=BENCH_SUPPLY, stages=ONE_VOLT)
        assert said_of(plan, bench(supply=True, off=(CUT,))) == []

    def test_a_relay_held_by_a_level_is_second_best(self) -> None:
        high = OffSwitchEntry(kind="relay", job="mains relay", address="COM3", line="rts")
        assert said_of(plan_of(PLUS), bench(meter("+B"), off=(high,))) == [
            "mains relay is held in by the level of RTS, second best: a program that hangs, a computer that sleeps "
            "or an adapter that inverts holds it in. Keep the hand switch in reach."
        ]
        (said,) = said_of(plan_of(PLUS), bench(meter("+B"), off=(replace(high, level="low"),)))
        assert "and so does a program that died" in said

    def test_a_pedal_whose_broken_wire_nobody_would_see_is_told_of(self) -> None:
        foot = PedalEntry(job="foot", address="COM4")
        mushroom = PedalEntry(job="mushroom", address="COM4", line="dsr", pressed="open")
        with_both = replace(bench(meter("+B"), off=(RELAY,)), pedal=(foot, mushroom))
        assert said_of(plan_of(PLUS), with_both) == [
            "foot cuts while its wire is whole, and nothing but pressing it shows that."
        ]

    def test_one_meter_is_best_put_across_the_lamp(self) -> None:
        said = "Clip a meter across the lamp first: it shows a short before anything else does."
        assert said in check(plan_of(PLUS), bench(meter("+B")), "plan.toml")
        assert said not in check(plan_of(LAMP), bench(meter("lamp")), "plan.toml")
        assert said not in check(plan_of(PLUS, source=DIRECT), bench(meter("+B")), "plan.toml")

    def test_eyes_alone_are_said_to_guard_nothing(self) -> None:
        said = check(plan_of(), bench(), "plan.toml")
        assert "Eyes alone watch this run: nothing switches off by itself. Your hand is the guard." in said

    def test_a_stage_without_the_lamp_is_named_where_only_the_lamp_is_watched(self) -> None:
        stages = (
            "name='40 W', fraction=1.0, dwell=1.0",
            "name='direct', fraction=1.0, dwell=1.0, lamp_watts=0.0",
        )
        said = check(plan_of(LAMP, stages=stages), bench(meter("lamp")), "plan.toml")
        assert any(sentence.startswith("At stage direct no limit watches the unit") for sentence in said)

    def test_a_hand_alone_is_told_to_stay(self) -> None:
        said = said_of(plan_of(PLUS), bench(meter("+B"), off=(HAND,)))
        assert said == ["Your hand is the only off-switch: stay at the bench, one hand on the switch."]
        assert said_of(plan_of(PLUS), bench(meter("+B"), off=(HAND, RELAY))) == []

    def test_a_link_on_the_mains_side_that_nobody_knows_to_be_isolated_is_named(self) -> None:
        on = bench(meter("mains", link_isolated="unknown"), meter("+B", link_isolated="unknown"))
        assert said_of(plan_of(MAINS, PLUS), on) == [
            "mains is on the mains side and nobody has said whether its link is isolated."
        ]

    def test_inputs_and_leads_on_the_mains_side_are_asked_for_and_said(self) -> None:
        on = bench(meter("mains", rating=""), meter("lamp", rating="600 V"), meter("+B", rating=""))
        said = check(plan_of(MAINS, LAMP, PLUS), on, "plan.toml")
        assert said[-4:-1] == [
            "mains is on the mains side: is its input rated CAT II 300 V or better, fused?",
            "lamp is on the mains side: is its input rated CAT II 300 V or better, fused?",
            "The leads of mains and lamp hang on the mains as well: CAT II 300 V or better, fused.",
        ]


class TestMisfits:
    """What the plan asks for and the bench does not have, all at once."""

    def test_every_misfit_is_told_with_its_place(self) -> None:
        plan = plan_of(
            MAINS, LAMP, PLUS, "name='spare', role='supply_volts', meter='bench supply'", SINK, source=HALL
        )
        on = bench(
            meter("mains", link_isolated="no"),
            meter("lamp", function="volts_dc", link_isolated="no"),
            meter("sink L", function="temperature"),
            supply=True,
            off=(),
        )
        with pytest.raises(BadInput) as caught:
            check(plan, on, "plan.toml")
        assert [str(fault) for fault in caught.value.faults] == [
            "plan.toml: trace[1].meter: the link of mains is not isolated from the mains; "
            "use a meter with an isolated link on the mains side.",
            "plan.toml: trace[2].meter: lamp measures volts_dc, not volts_ac; change one of them.",
            "plan.toml: trace[2].meter: the link of lamp is not isolated from the mains; "
            "use a meter with an isolated link on the mains side.",
            "plan.toml: trace[3].meter: no meter of the bench has the job '+B'; "
            "it has bench supply, lamp, mains, sink L.",
            "plan.toml: trace[4].channel: is missing; name the supply's output, such as 1.",
            "plan.toml: the bench has no off-switch; add an [[off_switch]], even if it is your hand.",
        ]

    @pytest.mark.parametrize("rating", ["CAT I 1000 V", "CAT II 150 V"])
    def test_an_input_that_is_rated_too_low_is_refused_on_the_mains_side_alone(self, rating: str) -> None:
        on = bench(meter("mains", rating=rating), meter("+B", rating=rating))
        assert faults(plan_of(MAINS, PLUS), on) == {
            "plan.toml: trace[1].meter": f"the input of mains is rated {rating}, too little for the mains"
        }

    def test_a_link_that_is_not_isolated_may_sit_behind_the_transformer(self) -> None:
        assert said_of(plan_of(PLUS), bench(meter("+B", link_isolated="no"))) == []

    def test_a_mains_trace_on_a_supply_is_no_meter_with_a_link(self) -> None:
        # A plan may say so by mistake or for an AC source: it is no reason to fall over.
        plan = plan_of("name='ac', role='mains', meter='bench supply', channel='1'")
        assert said_of(plan, bench(supply=True)) == []

    def test_the_supply_that_the_program_sets_must_be_there(self) -> None:
        plan = plan_of(PLUS, source=BENCH_SUPPLY, stages=ONE_VOLT)
        assert faults(plan, bench(meter("+B"))) == {
            "plan.toml: source.supply": "the bench has no supply 'bench supply'"
        }

    def test_a_bench_with_nothing_at_all_is_told_so(self) -> None:
        with pytest.raises(BadInput, match="it has none"):
            check(plan_of(PLUS), bench(), "plan.toml")

    def test_a_walking_meter_may_be_clipped_to_a_trace(self) -> None:
        assert said_of(plan_of(PLUS), bench(meter("+B", function=None))) == []

    def test_all_traces_of_a_supply_fit(self) -> None:
        plan = plan_of(VOLTS, AMPS, STATE, source=BENCH_SUPPLY, stages=ONE_VOLT)
        assert said_of(plan, bench(supply=True, off=(CUT,))) == []

    def test_the_supply_that_the_program_sets_must_be_an_off_switch(self) -> None:
        plan = plan_of(VOLTS, source=BENCH_SUPPLY, stages=ONE_VOLT)
        assert faults(plan, bench(supply=True, off=(HAND, RELAY))) == {
            "plan.toml: source.supply": "bench supply is set by the program and is none of the off-switches"
        }

    def test_a_protection_that_the_supply_does_not_have_must_not_be_asked_for(self) -> None:
        plan = plan_of(VOLTS, source=BENCH_SUPPLY, stages=ONE_VOLT)
        on = bench(supply=True, off=(CUT,))
        with pytest.raises(
            BadInput, match=r"source\.protection: bench supply has no over-voltage protection"
        ):
            check(plan, on, "plan.toml", frozenset({"bench supply"}))
        without = replace(plan, source=replace(plan.source, protection=0.0))
        assert check(without, on, "plan.toml", frozenset({"bench supply"}))

    def test_a_critical_meter_that_is_lost_between_two_readings_does_not_guard(self) -> None:
        assert faults(plan_of(PLUS), bench(meter("+B", interval=5.0))) == {
            "plan.toml: trace[1].meter": "+B is asked every 5 s: one reading that fails and it counts as lost"
        }
        assert check(plan_of(PLUS), bench(meter("+B", interval=4.9)), "plan.toml")

    def test_a_rail_whose_meter_is_too_slow_is_told_and_no_other_trace_is(self) -> None:
        def slow(interval: float) -> list[str]:
            meters = [meter("+B", interval=interval), meter("lamp", interval=4.0)]
            said = check(plan_of(PLUS, LAMP), bench(*meters), "plan.toml")
            return [sentence for sentence in said if "too slow" in sentence]

        assert slow(2.5) == []
        assert slow(3.0) == ["+B is asked every 3 s, too slow to guard +B: ask it every 2.5 s."]


def test_a_runaway_is_honest_about_its_windows() -> None:
    slow = Limit(trace="idle L", kind=LimitKind.RUNAWAY, target=0.0165)
    assert worst_delay(slow, 0.4, 0.5) == pytest.approx(360.0 + 0.4 + 0.4 + 0.5)


class TestWhatItIsHeldAgainst:
    """From the unit's good run once there is one, else from the lamp's watts."""

    OVER = "trace='lamp', kind='high', over_healthy=0.12"
    AMPS = "name='mains current', role='mains_amps'"
    TWICE = "trace='mains current', kind='high', times_healthy=2.0"
    RUN = Reference("2026-03-12", (Stood(230.0, 100.0, 20.0, 0.2, {"+B": 40.0}),))

    def test_without_a_good_run_it_says_so(self) -> None:
        plan = plan_of(LAMP, PLUS, self.AMPS, limits=[self.OVER, "trace='+B', kind='rail_low'", self.TWICE])
        said = check(plan, bench(meter("lamp"), meter("+B"), meter("mains current")), "plan.toml")
        assert said[-2:] == [
            "What lamp and +B should read is from the lamp's wattage, with room, until a good run of this unit is"
            " kept.",
            "mains current is not judged yet: what is healthy comes from a good run of this unit.",
        ]

    def test_with_one_it_names_its_day(self) -> None:
        plan = plan_of(LAMP, PLUS, self.AMPS, limits=[self.OVER, "trace='+B', kind='rail_low'", self.TWICE])
        on = bench(meter("lamp"), meter("+B"), meter("mains current"))
        said = check(plan, on, "plan.toml", reference=self.RUN)
        assert "What lamp, +B and mains current should read is from the run of 12 March 2026." in said

    def test_one_that_kept_no_mains_current_judges_none(self) -> None:
        plan = plan_of(LAMP, PLUS, self.AMPS, limits=[self.OVER, "trace='+B', kind='rail_low'", self.TWICE])
        on = bench(meter("lamp"), meter("+B"), meter("mains current"))
        bare = Reference("2026-03-12", (Stood(230.0, 100.0, None, None, {"+B": 40.0}),))
        said = check(plan, on, "plan.toml", reference=bare)
        assert said[-3:] == [
            "What +B should read is from the run of 12 March 2026.",
            "What lamp should read is from the lamp's wattage, with room: the run of 12 March 2026 does not tell.",
            "mains current is not judged: the run of 12 March 2026 does not tell what is healthy.",
        ]

    def test_a_stage_that_it_did_not_come_to_is_named(self) -> None:
        stages = ["name='low', fraction=0.1, dwell=5.0", "name='full', fraction=1.0, dwell=5.0"]
        plan = plan_of(LAMP, self.AMPS, limits=[self.TWICE], stages=stages)
        said = check(plan, bench(meter("lamp"), meter("mains current")), "plan.toml", reference=self.RUN)
        assert said[-1] == (
            "mains current is not judged at stage low: the run of 12 March 2026 does not tell what is healthy there."
        )

    def test_a_plan_of_constant_bounds_needs_neither(self) -> None:
        plan = plan_of(PLUS, limits=["trace='+B', kind='high', value=50.0"])
        assert not any("good run" in one for one in check(plan, bench(meter("+B")), "plan.toml"))

    def test_a_rise_takes_its_window_and_then_its_readings(self) -> None:
        limit = Limit(trace="lamp", kind=LimitKind.RISE, fraction=0.25)
        assert worst_delay(limit, 0.4, 0.5) == pytest.approx(60.0 + 0.4 + 0.4 + 0.4 + 0.5)

    def test_it_says_from_when_a_rise_is_looked_for_and_a_supplys_state(self) -> None:
        rise = "trace='lamp', kind='rise', fraction=0.25"
        said = said_of(plan_of(LAMP, limits=[rise]), bench(meter("lamp")))
        assert any(one.startswith("lamp up by 25 % within 60 s: from fault") for one in said)
        assert any(one.endswith("it looks only from 30 s after the source is steady") for one in said)
        state = "trace='state', kind='supply', capacitance=0.01"
        plan = plan_of(STATE, limits=[state], source=BENCH_SUPPLY, stages=ONE_VOLT)
        said = said_of(plan, bench(supply=True, off=(CUT,)))
        assert any(one.endswith("it looks only from 0.1 s after the supply is set") for one in said)
