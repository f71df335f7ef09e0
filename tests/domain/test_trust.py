"""What is believed and what is not: power-ups under a stepped clock, healthy ones and ones with a meter gone wrong."""

import random

import pytest
from helpers.stepped import CHEAP, FALLEN, HANDHELD, Kind, Meddled, Stepped, awaited, climbed, frozen, reading
from helpers.watched import LAMP, MAINS, MINUS, OFFSET, PLUS, Watched, plan_of
from hypothesis import given, settings
from hypothesis import strategies as st

from benchlog.domain.reading import Function, Outcome, Reading
from benchlog.domain.stages import State
from benchlog.domain.trust import Trust, annunciated, believed, not_live


def scaled(factor: float) -> Meddled:
    """A meter whose prefix is misread."""
    return Meddled(change=lambda value: value * factor)


# --- healthy ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("every", [None, HANDHELD, CHEAP], ids=["bench", "handheld", "cheap"])
@pytest.mark.parametrize("example", ["amplifier", "by-hand", "board"])
def test_a_healthy_power_up_is_believed_from_end_to_end(example: str, every: Kind | None) -> None:
    run = Stepped(example, 7, every=every, dwell=0.3)
    run.begin()
    assert run.climb()
    run.live(20.0)
    assert run.trips == []
    assert run.run.warnings == []
    assert run.doubted == []
    least = {"offset": "5 mV", "idle": "1 mV"}
    moving = {trace.name: least[trace.role] for trace in run.plan.trace if trace.role in least}
    assert sorted(name for _, name, _ in run.said) == sorted(2 * list(moving))
    critical = [trace for trace in run.run.guard.traces.values() if trace.plan.critical]
    assert not any(trace.unproven for trace in critical)
    for name, volts in moving.items():
        assert run.news(name) == [
            f"{name} is unproven until it has moved by {volts} with the source",
            f"{name} has moved with the source: its clip is on",
        ]


def test_single_readings_in_another_decade_cost_themselves_and_no_more() -> None:
    run = Stepped("amplifier", 3, every=CHEAP, dwell=0.3)
    count = iter(range(10_000))
    run.meddled["+B"] = Meddled(change=lambda value: 10.0 * value if next(count) % 9 == 0 else value)
    run.begin()
    assert run.climb()
    assert (run.trips, run.run.warnings) == ([], [])
    assert {(name, outcome) for _, name, outcome in run.doubted} == {("+B", Outcome.FLASH)}
    assert len(run.news("+B")) < 10 < len(run.doubted)


@settings(max_examples=8, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    counts=st.sampled_from([2000, 4000, 6000, 50_000]),
    mains=st.floats(23.0, 240.0),
    noise=st.sampled_from([0.0, 1e-5, 1e-3, 4e-3]),
    wander=st.floats(0.0, 0.004),
)
def test_a_long_dwell_with_any_meter_and_a_wandering_mains_raises_no_doubt(
    seed: int, counts: int, mains: float, noise: float, wander: float
) -> None:
    chance = random.Random(seed)
    watched = Watched(plan_of(MAINS, LAMP, PLUS, MINUS, OFFSET))
    trust = Trust(watched.guard)
    watched.at_rest(mains)
    size = mains
    for _ in range(900):
        watched.now += 1 / 3
        size += chance.gauss(0.0, wander * mains) + 0.2 * (mains - size)
        lamp = 0.1 * size
        rail = 0.196 * (size - lamp) - 0.65
        values = {"mains": size, "lamp": lamp, "+B": rail, "-B": -rail, "offset L": 0.012}
        for name, true in values.items():
            value = true * (1.0 + chance.gauss(0.0, noise))
            decimals = next(n for n in (4, 3, 2, 1, 0) if abs(value) < counts / 10**n or n == 0)
            raw = f"{value:+.{decimals}f}"
            function = watched.guard.traces[name].plan.measures
            reading = Reading(Outcome.OK, float(raw), function, watched.wire, raw, resolution=10.0**-decimals)
            assert trust.take(name, reading, watched.t) is None, (name, value)
            watched.guard.reading(name, reading.value, reading.outcome, watched.t, watched.wire)


@pytest.mark.parametrize(
    ("example", "fault", "limit"),
    [
        ("amplifier", "missing-rail", "+B 0.00 V, low"),
        ("by-hand", "missing-rail", "+B 0.00 V, low"),
        ("amplifier", "shorted-output", "the unit draws too much"),
        ("board", "missing-rail", "the output stays down"),
        ("board", "shorted-output", "is in current limit"),
    ],
)
def test_what_is_wrong_with_the_unit_is_not_blamed_on_its_meters(
    example: str, fault: str, limit: str
) -> None:
    run = Stepped(example, 3, fault)
    run.begin()
    assert not run.climb(60.0)
    (trip,) = run.trips
    assert limit in trip


# --- a meter gone wrong ------------------------------------------------------------------------------


@pytest.mark.parametrize("every", [None, CHEAP], ids=["bench", "cheap"])
@pytest.mark.parametrize("name", ["lamp", "mains", "+B"])
def test_a_meter_that_stands_still_while_the_source_goes_up_is_not_believed(
    name: str, every: Kind | None
) -> None:
    run = climbed("amplifier", 2, every=every)
    run.meddled[name] = frozen()
    run.climb(400.0)
    (said,) = run.news(name)
    assert f"{name} did not follow: the source went from 9" in said
    assert run.run.guard.traces[name].doubt == "did not follow"
    (trip,) = run.trips
    # No limit looks at the mains: there is nothing to be patient for.
    seconds = 5 if name == "mains" else 10
    assert trip.startswith((f"no reading from {name} could be believed for {seconds}", "+B 15."))
    assert trip.startswith("no reading") or "low, should read about 23" in trip


def test_on_a_bench_without_a_mains_meter_the_other_one_and_what_was_told_bear_it_out() -> None:
    for name in ("lamp", "+B"):
        run = climbed("by-hand", 0)
        run.meddled[name] = frozen()
        run.climb(400.0)
        assert run.news(name)[0].startswith(f"{name} did not follow: the source went from 92 to 161 V")
        assert len(run.trips) == 1


def test_a_dial_that_was_only_said_to_be_turned_is_nobody_else_s_fault() -> None:
    run = climbed("by-hand", 0)
    run.run.stages.next(run.run.t)
    run.run.stages.was_set(True, run.run.t)
    run.live(6.0)
    assert run.doubted == []


def test_a_supply_that_reads_back_what_it_read_before_is_not_believed() -> None:
    run = climbed("board", 0)
    run.meddled["raw + volts"] = Meddled(change=lambda _: 10.0)
    run.climb(400.0)
    assert run.news("raw + volts")[0].startswith(
        "raw + volts did not follow: the source went from 10 to 15 V"
    )


def test_one_that_moves_again_is_believed_again() -> None:
    run = climbed("amplifier", 2)
    run.meddled["lamp"] = frozen()
    while not run.doubted:
        assert not run.climb(until=3, most=run.run.now + 0.5)
    assert run.run.guard.traces["lamp"].doubt == "did not follow"
    del run.meddled["lamp"]
    run.live(1.0)
    assert run.news("lamp")[-1] == "lamp is believed again, no longer: did not follow"
    assert run.run.guard.traces["lamp"].doubt == ""
    assert run.climb(until=3)
    assert run.trips == []


@pytest.mark.parametrize("every", [None, CHEAP], ids=["bench", "cheap"])
@pytest.mark.parametrize("name", ["lamp", "mains", "+B"])
def test_a_clip_that_falls_off_during_a_dwell_is_never_a_good_reading(name: str, every: Kind | None) -> None:
    run = climbed("amplifier", 2, every=every)
    run.live(6.0)
    trace = run.run.guard.traces[name]
    before = trace.value
    run.meddled[name] = FALLEN
    run.live(1.0)
    assert trace.doubt == "clip off?"
    assert trace.value == pytest.approx(before, rel=0.01)
    assert awaited(run)[f"{name} to be believed"] == "clip off?"
    assert not run.climb(run.run.now + 20.0)
    (trip,) = run.trips
    assert "clip off?" in trip or "+B 0.00 V, low" in trip
    assert len(run.news(name)) == 1


def test_what_is_doubted_is_no_better_for_a_cut() -> None:
    run = climbed("amplifier", 2)
    run.live(6.0)
    run.meddled |= {"+B": FALLEN, "lamp": frozen()}
    run.live(1.0)
    assert run.climb(until=2) is False
    assert len(run.trips) == 1
    run.run.guard.feed.switch(False, run.run.t)
    run.model.switched_on = False  # type: ignore[union-attr]
    before = run.run.now
    run.live(20.0)
    assert {name for at, name, _ in run.doubted if at > before} == {"+B"}
    assert run.run.guard.traces["+B"].doubt == "clip off?"


def test_a_clip_put_back_is_believed_again() -> None:
    run = climbed("amplifier", 2)
    run.live(6.0)
    run.meddled["lamp"] = FALLEN
    run.live(2.0)
    del run.meddled["lamp"]
    run.live(2.0)
    assert [said.split(",")[0] for said in run.news("lamp")][-1] == "lamp is believed again"
    assert run.climb()
    assert run.trips == []


def test_a_plug_that_is_pulled_takes_every_meter_down_and_none_is_doubted_for_long() -> None:
    run = climbed("amplifier", 2)
    run.live(6.0)
    run.model.switched_on = False  # type: ignore[union-attr]
    run.live(4.0)
    assert {name for at, name, _ in run.doubted if at > run.run.now - 2.0} == set()
    assert run.run.guard.shown(run.run.guard.mains) == pytest.approx(0.0, abs=0.1)


@pytest.mark.parametrize("name", ["lamp", "+B", "mains"])
@pytest.mark.parametrize("factor", [1000.0, 0.001])
def test_a_slip_by_a_thousand_is_no_reading_of_the_unit(name: str, factor: float) -> None:
    run = climbed("amplifier", 2, every=HANDHELD if factor < 1.0 else None)
    run.live(6.0)
    run.meddled[name] = scaled(factor)
    run.live(3.0)
    assert run.trips == []
    assert run.run.guard.traces[name].doubt == "factor of 1000"
    assert "look at the prefix its meter shows" in run.news(name)[0]
    run.live(4.0)
    (trip,) = run.trips
    assert trip.startswith(f"no reading from {name} could be believed for 5.")


def test_a_slipped_prefix_is_no_better_for_a_rail_that_falls_after_off() -> None:
    run = climbed("amplifier", 2)
    run.live(6.0)
    run.meddled["+B"] = scaled(0.001)
    run.live(3.0)
    assert run.run.guard.traces["+B"].doubt == "factor of 1000"
    run.run.guard.feed.switch(False, run.run.t)
    run.model.switched_on = False  # type: ignore[union-attr]
    other = run.run.guard.traces["-B"]
    while abs(other.value or 0.0) > 1.0:
        run.live(1.0)
        assert run.run.guard.traces["+B"].doubt == "factor of 1000", other.value
    del run.meddled["+B"]
    run.live(2.0)
    assert run.run.guard.traces["+B"].doubt == "", "put right, it leaps back"


def test_a_clip_that_came_off_at_about_a_thousandth_is_believed_at_no_other_reading_of_the_air() -> None:
    run = climbed("amplifier", 2)
    run.live(6.0)
    run.meddled["+B"] = scaled(0.001)
    run.live(1.0)
    assert run.run.guard.traces["+B"].doubt == "factor of 1000"
    run.run.guard.feed.switch(False, run.run.t)
    run.model.switched_on = False  # type: ignore[union-attr]
    for volts in (-0.03, 0.0, 0.01, 0.05):
        run.meddled["+B"] = reading(volts)
        run.live(1.0)
        assert run.run.guard.traces["+B"].doubt == "factor of 1000", volts


def test_an_offset_a_thousand_times_as_large_may_be_real_and_trips_all_the_same() -> None:
    run = climbed("amplifier", 3)
    run.live(6.0)
    run.meddled["offset L"] = scaled(1000.0)
    run.live(2.0)
    (trip,) = run.trips
    assert trip.startswith("offset L 1")
    assert "above its limit of 1.000 V" in trip


def test_the_very_same_reply_again_and_again_is_not_believed() -> None:
    run = climbed("amplifier", 2)
    run.live(12.0)
    line: dict[str, str] = {}
    run.meddled["+B"] = Meddled(line=lambda text: line.setdefault("text", text))
    run.live(8.0)
    assert run.news("+B") == ["+B gives the very same reply again and again, and its replies differed before"]
    assert run.trips == []
    run.live(11.0)
    assert run.trips[0].startswith("no reading from +B could be believed for 10.")


@pytest.mark.parametrize("name", ["HOLD", "REL", "MIN", "MAX"])
def test_a_display_that_is_not_live_is_no_reading_and_is_lost_after_its_patience(name: str) -> None:
    run = climbed("by-hand", 0, every=HANDHELD)
    run.meddled["+B"] = Meddled(line=lambda text: f"{text} {name}")
    run.live(4.0)
    assert run.run.guard.traces["+B"].doubt == f"not live: {name}"
    assert run.trips == []
    run.live(2.0)
    assert run.trips[0].startswith("no reading from +B could be believed for 5.")
    assert run.trips[0].endswith(f"not live: {name}")


def test_a_meter_left_on_ohms_is_told_once_and_lost_after_its_patience() -> None:
    run = climbed("by-hand", 0, every=HANDHELD)
    run.meddled["+B"] = Meddled(line=lambda _: "+4.700 kohm")
    run.live(3.0)
    assert run.news("+B") == ["+B reads ohms where +B wants volts_dc: not kept"]
    awaited = run.run.stages.awaited(run.run.t)
    assert ("wrong function: ohms", False) in [(one.progress, one.holds) for one in awaited]
    run.live(3.0)
    assert run.trips[0].endswith("wrong function: ohms")


def test_an_offset_that_never_moved_does_not_let_the_run_go_on() -> None:
    run = Stepped("amplifier", 5)
    run.meddled["offset L"] = FALLEN
    run.begin()
    assert not run.climb(160.0)
    assert run.trips == []
    assert run.run.stages.stage.name == "40 %"
    assert run.run.stages.state is State.DWELLING
    (progress,) = [said for what, said in awaited(run).items() if what.startswith("offset L")]
    assert progress.endswith("mV, unproven: not seen to move with the source")


def test_an_offset_that_falls_to_nothing_at_once_is_unproven_again() -> None:
    run = climbed("amplifier", 2)
    run.live(6.0)
    run.meddled["offset L"] = FALLEN
    run.live(1.0)
    assert "is unproven until it moves by 5 mV with the source" in run.news("offset L")[-1]
    assert run.run.guard.traces["offset L"].unproven
    assert run.trips == []


def test_what_swings_through_the_decades_is_no_change_of_range() -> None:
    # An output that runs away in swings: a bound on it must not wait for the trace to be lost.
    watched = Watched(plan_of(OFFSET, limits=("trace='offset L', kind='high', value=1.0, persistence=1.0",)))
    trust = Trust(watched.guard)
    watched.at_rest(230.0)

    def read(value: float, digit: float) -> None:
        watched.now += 1 / 3
        raw = f"{value:+.4f}"
        reading = Reading(Outcome.OK, value, Function.VOLTS_DC, watched.wire, raw, resolution=digit)
        verdict = trust.take("offset L", reading, watched.t)
        outcome = Outcome.OK if verdict is None else verdict.outcome
        kept = value if outcome is Outcome.OK or verdict is None or verdict.judged else None
        watched.found += watched.guard.reading("offset L", kept, outcome, watched.t, watched.wire)

    for _ in range(30):
        read(0.03, 0.0001)
    assert watched.trips == []
    for value in (5.0, -12.0, 20.0, -8.0, 14.0, -22.0):
        read(value, 0.01)
    assert len(watched.trips) == 1


def turned(*steps: tuple[float, float, int]) -> list[str]:
    """What is said of a lamp at each of these settings: volts of the source, of the lamp, and seconds."""
    watched = Watched(plan_of(MAINS, LAMP, PLUS, MINUS))
    trust = Trust(watched.guard)
    watched.at_rest(0.0)
    said = []
    for source, lamp, seconds in steps:
        rail = max(0.196 * source - 0.65, 0.0)
        values = {"mains": source, "lamp": lamp, "+B": rail, "-B": -rail}
        watched.guard.feed.begin_move(source, watched.t)
        watched.guard.feed.told_set()
        for _ in range(4 * seconds):
            watched.now += 0.25
            for name, value in values.items():
                function = watched.guard.traces[name].plan.measures
                reading = Reading(Outcome.OK, value, function, watched.wire, f"{value:.3f}")
                verdict = trust.take(name, reading, watched.t)
                outcome = Outcome.OK if verdict is None else verdict.outcome
                watched.guard.reading(name, value, outcome, watched.t, watched.wire)
                said += [f"{source:.0f} V: {verdict.doubt}"] if verdict is not None and verdict.text else []
            watched.guard.look_at_source(watched.t)
    return said


def test_a_lamp_that_hardly_glows_need_not_show_a_small_turn() -> None:
    assert turned((0.0, 0.0, 10), (46.0, 0.26, 20), (52.0, 0.29, 30)) == []


def test_a_lamp_may_stay_dark_most_of_the_way_up_but_not_to_its_end() -> None:
    dark = turned((0.0, 0.0, 10), (46.0, 0.01, 20), (92.0, 0.02, 20), (161.0, 0.03, 20), (230.0, 0.03, 20))
    assert dark == ["230 V: did not follow"]


def test_a_leap_is_counted_told_ever_more_rarely_and_never_trips() -> None:
    run = climbed("amplifier", 2)
    run.live(6.0)
    for number in range(5):
        run.meddled["idle L"] = Meddled(change=lambda value: 3.0 * value) if number % 2 == 0 else Meddled()
        run.live(1.0)
    said = run.news("idle L")[2:]
    once, *again = said
    assert once.endswith(" mV")
    assert [text.rsplit(", ", 1)[1] for text in again] == ["2 times so far", "4 times so far"]
    assert run.trips == []


def test_a_leap_while_the_source_moves_is_none() -> None:
    run = climbed("amplifier", 2)
    run.climb(until=3)
    assert run.news("idle L")[2:] == []


def test_a_real_step_in_another_decade_counts_from_its_first_reading() -> None:
    watched = Watched(plan_of(PLUS, limits=("trace='+B', kind='high', value=50.0",)))
    trust = Trust(watched.guard)
    watched.at_rest(230.0)
    trips: list[str] = []
    for value in (4.4, 4.4, 4.4, 60.0, 60.0):
        watched.now += 6.0 if value == 4.4 else 0.3
        reading = Reading(
            Outcome.OK, value, Function.VOLTS_DC, watched.wire, f"{value}", resolution=value / 1000
        )
        verdict = trust.take("+B", reading, watched.t)
        outcome = Outcome.OK if verdict is None else verdict.outcome
        found = watched.guard.reading("+B", value, outcome, watched.t, watched.wire)
        trips += [f"{outcome}: {broken.text}" for broken in found]
    assert trips == ["ok: +B 60.00 V, above its limit of 50.00 V"]


# --- annunciators ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("flags", "said", "doubt"),
    [
        ((), "", ""),
        (("auto",), "", ""),
        (("low_battery",), "+B has a low battery", ""),
        (("hold", "auto"), "+B shows HOLD: not live", "not live: HOLD"),
        (("rel", "low_battery"), "+B shows REL: not live", "not live: REL"),
        (("min", "max"), "+B shows MIN, MAX: not live", "not live: MIN, MAX"),
    ],
)
def test_annunciators_in_words(flags: tuple[str, ...], said: str, doubt: str) -> None:
    reading = Reading(Outcome.OK, 44.0, Function.VOLTS_DC, 0, "44", flags=flags)
    assert annunciated("+B", reading) == said
    assert not_live(reading) == doubt
    assert (believed(reading) is reading) == (not doubt)
    assert believed(reading).value == (None if doubt else 44.0)
