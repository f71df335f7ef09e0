"""What the guard makes of a source that is slow, silent, restless, or on without a word."""

from helpers.watched import LAMP, MAINS, PLUS, TWO_STAGES, PoweredUp, Value, Watched, plan_of

RAIL = ("trace='+B', kind='rail_low'", "trace='+B', kind='rail_high'")
BRIGHT = "trace='lamp', kind='high', of_source=0.35, after_on=1.0, persistence=1.0"


def rail(applied: float, lamp: float) -> float:
    return 0.196 * (applied - lamp) - 0.65


def test_a_slow_person_is_no_fault_of_the_unit() -> None:
    run = PoweredUp(plan_of(LAMP, PLUS, limits=RAIL))
    run.begin()
    low = {"lamp": 8.0, "+B": rail(92.0, 8.0)}
    run.play(12.0, low)
    run.next()
    run.play(40.0, low)  # the dial has not been touched yet, and the half minute is over
    high = {"lamp": 23.0, "+B": rail(230.0, 23.0)}
    run.play(3.0, high)  # turned at last, but not yet said
    run.set()
    run.play(10.0, high)
    assert run.trips == []


def test_a_slow_person_hides_no_rail_outside_both_ends_of_the_move() -> None:
    run = PoweredUp(plan_of(LAMP, PLUS, limits=RAIL))
    run.begin()
    run.play(12.0, {"lamp": 8.0, "+B": rail(92.0, 8.0)})
    run.next()
    run.play(40.0, {"lamp": 8.0, "+B": rail(92.0, 8.0)})
    run.play(4.0, {"lamp": 8.0, "+B": 2.0})
    assert [text.split(",")[0] for text in run.trips] == ["+B 2.00 V"]


def test_a_mains_meter_that_fell_silent_says_nothing_of_the_source_any_more() -> None:
    mains = MAINS + ", critical=false"
    watched = Watched(plan_of(mains, LAMP, PLUS, limits=[BRIGHT]))
    watched.at_rest(230.0)
    watched.play(5.0, {"mains": 230.0, "lamp": 23.0, "+B": 40.0})
    watched.guard.feed.begin_move(92.0, watched.t)
    watched.guard.feed.told_set()
    watched.guard.feed.settle(watched.t)
    watched.play(4.0, {"lamp": 8.0, "+B": 15.0})
    assert watched.guard.applied() == (92.0, False)
    watched.play(3.0, {"lamp": 60.0, "+B": 6.0})  # far beyond 35 % of 92 V, but not of 230 V
    assert watched.trips == ["lamp 60.00 V, above its limit of 32.20 V"]


def test_behind_a_lamp_whose_meter_fell_silent_a_low_rail_asks_and_does_not_cut() -> None:
    lamp = LAMP + ", critical=false"
    watched = Watched(plan_of(MAINS, lamp, PLUS, limits=RAIL[:1]))
    watched.at_rest(230.0)
    watched.play(6.0, {"mains": 230.0, "lamp": 23.0, "+B": 40.0})
    watched.play(8.0, {"mains": 230.0, "+B": 24.0})
    assert watched.trips == []
    assert any(text.startswith("+B 24.00 V, low") for text in watched.warnings)


def test_a_low_rail_that_asked_cuts_once_its_lamp_is_read_again() -> None:
    lamp = LAMP + ", critical=false"
    watched = Watched(plan_of(MAINS, lamp, PLUS, limits=RAIL[:1]))
    watched.at_rest(230.0)
    watched.play(6.0, {"mains": 230.0, "lamp": 23.0, "+B": 40.0})
    watched.play(8.0, {"mains": 230.0, "+B": 24.0})
    assert len(watched.warnings) == 2  # the lamp's silence, and the rail that asks
    watched.play(1.0, {"mains": 230.0, "lamp": 23.0, "+B": 24.0})
    assert watched.trips == []  # counted anew: two seconds
    watched.play(4.0, {"mains": 230.0, "lamp": 23.0, "+B": 24.0})
    assert len(watched.trips) == 1


def test_a_source_that_swings_without_end_rests_no_limit_for_ever() -> None:
    watched = Watched(plan_of(MAINS, PLUS, limits=RAIL[:1]))
    watched.on(230.0)
    swing: dict[str, Value] = {"mains": lambda t: 230.0 + (25.0 if int(t / 2) % 2 else -25.0), "+B": 20.0}
    watched.play(60.0, swing)
    assert watched.moves[0] == "restless"
    assert any(text.startswith("+B 20.00 V, low") for text in watched.trips + watched.warnings)


def test_the_meters_are_believed_before_the_person_when_the_unit_is_on() -> None:
    run = PoweredUp(plan_of(LAMP, PLUS, limits=[BRIGHT], stages=TWO_STAGES), by_hand=True)
    run.next()
    run.set()
    run.play(4.0, {"lamp": 90.0, "+B": 0.3})
    assert set(run.moves) == {"on"}
    run.do(run.stages.seen_on(run.t))
    run.play(4.0, {"lamp": 90.0, "+B": 0.3})
    assert run.trips == ["lamp 90.00 V, above its limit of 32.20 V"]
