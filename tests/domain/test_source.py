"""What feeds the unit: what its rails should read, and when it is being turned or at rest."""

import pytest
from helpers.watched import (
    BENCH_SUPPLY,
    DIRECT,
    HALL,
    LAMP,
    MAINS,
    MINUS,
    PLUS,
    VOLTS,
    Value,
    Watched,
    ns,
    plan_of,
    ramp,
)

from benchlog.domain.plan import Source
from benchlog.domain.source import Feed, looks_moved, rail_band

BEHIND_A_LAMP = plan_of(PLUS, source=HALL).source
ON_THE_WALL = plan_of(PLUS, source=DIRECT).source
ONE_VOLT = ["name='1', volts=1.0, current_limit=0.1, dwell=1.0"]


def rails_only() -> Watched:
    """Both rails on meters of their own, mains and lamp unseen, on at full mains and at rest."""
    watched = Watched(plan_of(PLUS, MINUS), pace={"-B": 0.35})
    watched.at_rest(230.0)
    return watched


class TestTheExpectedRail:
    """Ratio times what the lamp leaves, less the diodes; never in proportion to mains."""

    def test_direct_at_full_mains_the_rail_has_its_nominal_value(self) -> None:
        band = rail_band(ON_THE_WALL, 230.0, None, behind=False)
        assert band.expected == pytest.approx(44.43, abs=0.01)

    def test_a_healthy_rail_behind_a_small_lamp_is_barely_more_than_half(self) -> None:
        # A 40 W lamp keeps about 95 to 105 V: a 44 V rail reads 24 to 28 V, and that is no fault.
        for lamp in (90.0, 95.0, 100.0):
            band = rail_band(BEHIND_A_LAMP, 230.0, lamp, behind=True)
            assert 24.0 <= band.expected <= 28.0
            assert band.low > 0.4 * 44.0 - 1.5

    def test_at_a_tenth_of_mains_the_diodes_count(self) -> None:
        # In proportion it would be 4.44 V: 13 % more than any healthy rail reads.
        band = rail_band(ON_THE_WALL, 23.0, None, behind=False)
        assert band.expected == pytest.approx(3.86, abs=0.01)
        assert band.expected < 0.88 * 4.44

    def test_a_lamp_that_takes_everything_leaves_nothing_and_never_less(self) -> None:
        assert rail_band(BEHIND_A_LAMP, 230.0, 229.0, behind=True).expected == 0.0
        assert rail_band(BEHIND_A_LAMP, 230.0, 240.0, behind=True).expected == 0.0

    def test_the_band_is_ten_per_cent_and_behind_a_lamp_a_quarter_below(self) -> None:
        direct, lamp = (
            rail_band(ON_THE_WALL, 230.0, None, behind=False),
            rail_band(BEHIND_A_LAMP, 230.0, 0.0, behind=True),
        )
        assert direct.low == pytest.approx(0.90 * direct.expected)
        assert direct.high == pytest.approx(1.10 * direct.expected)
        assert lamp.low == pytest.approx(0.75 * lamp.expected)
        assert lamp.high == pytest.approx(1.10 * lamp.expected)

    def test_the_band_is_never_narrower_than_a_volt_and_a_half(self) -> None:
        band = rail_band(ON_THE_WALL, 23.0, None, behind=False)
        assert (band.low, band.high) == pytest.approx((band.expected - 1.5, band.expected + 1.5))

    def test_a_limit_may_have_a_band_of_its_own(self) -> None:
        plan = plan_of(PLUS, limits=["trace='+B', kind='rail_low', fraction=0.05, floor=0.5"])
        band = rail_band(BEHIND_A_LAMP, 230.0, 30.0, plan.limit[0], behind=True)
        assert band.low == pytest.approx(0.95 * band.expected)
        assert band.high == pytest.approx(1.05 * band.expected)


class TestTheFeed:
    """What was told of the source, and when."""

    def test_while_it_moves_the_higher_of_where_it_was_and_where_it_goes_is_assumed(self) -> None:
        feed = Feed()
        feed.begin_move(92.0, 0)
        assert (feed.assumed, feed.asked) == (92.0, True)
        feed.told_set()
        feed.settle(ns(1))
        feed.begin_move(46.0, ns(2))
        assert feed.assumed == 92.0
        feed.told_set()
        feed.settle(ns(3))
        assert (feed.assumed, feed.steady_since, feed.asked) == (46.0, ns(3), False)

    def test_at_first_it_is_off_at_nothing_and_at_rest(self) -> None:
        feed = Feed()
        assert (feed.told, feed.target, feed.on_since, feed.steady_since) == (0.0, 0.0, None, None)
        assert (feed.changed, feed.moving, feed.asked) == (0, False, False)

    def test_a_new_move_ends_the_rest_and_rest_or_switching_answers_what_was_asked(self) -> None:
        feed = Feed()
        feed.settle(ns(1))
        feed.begin_move(92.0, ns(2))
        assert (feed.steady_since, feed.changed, feed.asked) == (None, ns(2), True)
        feed.settle(ns(3))
        assert feed.asked, "nobody has said yet that it was done"
        feed.told_set()
        assert not feed.asked
        feed.begin_move(138.0, ns(4))
        feed.switch(True, ns(5))
        assert not feed.asked

    def test_what_could_not_be_set_stays_where_it_was(self) -> None:
        feed = Feed()
        feed.begin_move(92.0, 0)
        feed.told_set()
        feed.settle(0)
        feed.begin_move(230.0, ns(1))
        feed.told_not_set(ns(2))
        assert (feed.told, feed.target, feed.moving) == (92.0, 92.0, False)
        feed.seen_moving(ns(3))
        assert feed.assumed == 92.0
        assert not feed.asked

    def test_switching_on_is_a_move_and_switching_off_is_none(self) -> None:
        feed = Feed()
        feed.switch(True, ns(1))
        assert (feed.on_since, feed.moving, feed.changed) == (ns(1), True, ns(1))
        feed.settle(ns(2))
        feed.switch(False, ns(3))
        assert (feed.on_since, feed.moving, feed.steady_since) == (None, False, None)


class TestTheEndOfAMove:
    """Steady within 2 % for 3 s, or half a minute."""

    def test_a_source_is_at_rest_three_seconds_after_the_meter_stands_still(self) -> None:
        watched = Watched(plan_of(MAINS, PLUS))
        watched.on(92.0)
        watched.play(3.0, {"mains": ramp(40.0, 0.0, 17.3), "+B": 15.0})
        assert watched.moves == []
        watched.play(2.0, {"mains": 92.0, "+B": 15.0})
        assert watched.moves == []
        watched.play(1.5, {"mains": 92.0, "+B": 15.0})
        assert watched.moves == ["steady"]

    def test_a_source_that_somebody_was_asked_to_turn_and_that_stands_still_was_not_turned_yet(self) -> None:
        watched = Watched(plan_of(MAINS, PLUS))
        watched.at_rest(92.0)
        watched.guard.feed.begin_move(138.0, watched.t)
        watched.play(20.0, {"mains": 92.0, "+B": 15.0})
        assert watched.moves == []
        watched.guard.feed.told_set()
        watched.play(0.1, {"mains": 92.0, "+B": 15.0})
        assert watched.moves == ["steady"]

    def test_no_move_lasts_longer_than_half_a_minute(self) -> None:
        watched = Watched(plan_of(MAINS, PLUS))
        watched.on(92.0)
        wobble: dict[str, Value] = {"mains": lambda t: 92.0 + 5.0 * (int(4 * t) % 2), "+B": 15.0}
        watched.play(29.9, wobble)
        assert watched.moves == []
        watched.play(0.2, wobble)
        assert watched.moves == ["restless"]
        watched.play(29.0, wobble)
        assert watched.moves == ["restless"], "low limits may not rest for ever under a source that swings"

    def test_without_a_mains_meter_both_rails_must_stand_still(self) -> None:
        watched = Watched(plan_of(PLUS, MINUS))
        watched.on(92.0)
        watched.play(6.0, {"+B": 17.0, "-B": ramp(-5.0, 0.0, -2.0)})
        assert watched.moves == []
        watched.play(4.0, {"+B": 17.0, "-B": -17.0})
        assert watched.moves == ["steady"]

    def test_a_rail_that_stays_at_nothing_does_not_keep_the_source_moving(self) -> None:
        # In per cent of nothing the noise of a dead rail's meter is a storm.
        watched = Watched(plan_of(PLUS, MINUS))
        watched.on(92.0)
        watched.play(4.0, {"+B": 17.0, "-B": lambda t: 0.01 * (int(4 * t) % 2)})
        assert watched.moves == ["steady"]

    def test_half_a_volt_on_five_is_not_at_rest(self) -> None:
        watched = Watched(plan_of(PLUS, MINUS))
        watched.on(30.0)
        watched.play(8.0, {"+B": 5.0, "-B": lambda t: -5.0 - 0.5 * (int(4 * t) % 2)})
        assert watched.moves == []

    def test_a_supply_is_at_rest_when_its_own_volts_are(self) -> None:
        watched = Watched(plan_of(VOLTS, source=BENCH_SUPPLY, stages=ONE_VOLT))
        watched.on(10.0)
        watched.play(4.0, {"volts": 10.0})
        assert watched.moves == ["steady"]

    def test_with_nothing_to_see_only_time_ends_a_move(self) -> None:
        watched = Watched(plan_of(LAMP, PLUS))
        watched.on(92.0)
        watched.play(29.0, {"lamp": 8.0})
        assert watched.moves == []
        watched.play(2.0, {"lamp": 8.0})
        assert watched.moves == ["restless"]

    def test_a_source_that_is_off_neither_moves_nor_rests(self) -> None:
        watched = Watched(plan_of(MAINS, PLUS))
        watched.play(5.0, {"mains": 0.3, "+B": 0.0})
        assert watched.moves == []

    def test_a_unit_that_was_never_said_to_be_on_is_seen_on_by_mains_lamp_or_a_growing_rail(self) -> None:
        for name, value in (("mains", 23.0), ("lamp", 5.0), ("+B", ramp(4.0, 0.0, 2.0))):
            watched = Watched(plan_of(MAINS, LAMP, PLUS))
            shown: dict[str, Value] = {"mains": 0.0, "lamp": 0.0, "+B": 0.0}
            watched.play(5.0, {**shown, name: value})
            assert set(watched.moves) == {"on"}, name

    def test_what_a_reservoir_still_holds_does_not_look_like_being_on(self) -> None:
        watched = Watched(plan_of(MAINS, LAMP, PLUS))
        watched.play(8.0, {"mains": 0.0, "lamp": 0.0, "+B": ramp(40.0, 0.0, -3.0)})
        assert watched.moves == []


class TestAMoveNobodyAskedFor:
    """More than 1 % a second by the mains meter; without one, both rails together while the lamp holds."""

    def test_a_dial_turned_unasked_is_seen_by_the_mains_meter(self) -> None:
        watched = Watched(plan_of(MAINS, PLUS))
        watched.at_rest(92.0)
        watched.play(4.0, {"mains": 92.0, "+B": 15.0})
        assert watched.moves == []
        watched.play(3.0, {"mains": ramp(92.0, 4.0, 4.0), "+B": 15.0})
        assert watched.moves == ["moving"]
        assert not watched.guard.feed.asked

    def test_mains_that_creeps_is_not_a_dial_that_is_turned(self) -> None:
        watched = Watched(plan_of(MAINS, PLUS))
        watched.at_rest(230.0)
        watched.play(20.0, {"mains": ramp(225.0, 0.0, 1.0), "+B": 15.0})
        assert watched.moves == []

    def test_the_noise_of_a_meter_at_nothing_is_no_move(self) -> None:
        watched = Watched(plan_of(MAINS, PLUS))
        watched.at_rest(0.0)
        watched.play(10.0, {"mains": lambda t: 0.02 * (int(4 * t) % 3), "+B": 0.0})
        assert watched.moves == []

    def test_both_rails_together_are_a_dial_that_is_turned(self) -> None:
        watched = rails_only()
        watched.play(4.0, {"+B": 40.0, "-B": -40.0})
        watched.play(3.0, {"+B": ramp(40.0, 4.0, -2.0), "-B": ramp(-40.0, 4.0, 2.0)})
        assert watched.moves == ["moving"]

    def test_rails_of_different_size_move_together_all_the_same(self) -> None:
        watched = rails_only()
        watched.play(4.0, {"+B": 40.0, "-B": -15.0})
        watched.play(3.0, {"+B": ramp(40.0, 4.0, -2.0), "-B": ramp(-15.0, 4.0, 0.75)})
        assert watched.moves == ["moving"]

    def test_a_tenth_of_a_volt_a_second_is_a_move_however_small_the_rails(self) -> None:
        watched = rails_only()
        watched.play(4.0, {"+B": 2.0, "-B": -2.0})
        watched.play(8.0, {"+B": ramp(2.0, 4.0, 0.12), "-B": ramp(-2.0, 4.0, -0.12)})
        assert watched.moves[:1] == ["moving"]

    def test_a_quick_turn_is_seen_though_the_meters_answer_at_different_moments(self) -> None:
        # Within the window one meter has seen more of the turn than the other: their slopes differ by far
        # more than 5 %, the rails' ratio at equal times does not.
        watched = rails_only()
        watched.play(4.1, {"+B": 20.0, "-B": -20.0})
        watched.play(1.3, {"+B": ramp(20.0, 4.1, 6.0), "-B": ramp(-20.0, 4.1, -6.0)})
        assert watched.moves == ["moving"]

    def test_one_rail_alone_is_never_a_moving_source(self) -> None:
        watched = rails_only()
        watched.play(4.0, {"+B": 40.0, "-B": -40.0})
        watched.play(4.0, {"+B": ramp(40.0, 4.0, -2.0), "-B": -40.0})
        assert watched.moves == []

    def test_rails_that_part_are_not_a_moving_source(self) -> None:
        watched = rails_only()
        watched.play(4.0, {"+B": 40.0, "-B": -40.0})
        watched.play(4.0, {"+B": ramp(40.0, 4.0, 1.0), "-B": ramp(-40.0, 4.0, 1.0)})
        assert watched.moves == []

    def test_one_rail_that_collapses_while_the_other_sags_is_not_a_moving_source(self) -> None:
        watched = rails_only()
        watched.play(4.0, {"+B": 40.0, "-B": -40.0})
        watched.play(5.0, {"+B": ramp(40.0, 4.0, -4.0), "-B": ramp(-40.0, 4.0, 0.6)})
        assert watched.moves == []

    def test_rails_that_fall_while_the_lamp_brightens_are_a_short_and_not_a_dial(self) -> None:
        watched = Watched(plan_of(LAMP, PLUS, MINUS))
        watched.at_rest(230.0)
        watched.play(4.0, {"lamp": 20.0, "+B": 40.0, "-B": -40.0})
        falling = {"+B": ramp(40.0, 4.0, -3.0), "-B": ramp(-40.0, 4.0, 3.0)}
        watched.play(4.0, falling | {"lamp": ramp(20.0, 4.0, 15.0)})
        assert watched.moves == []

    def test_rails_that_fall_while_the_lamp_holds_are_a_dial(self) -> None:
        watched = Watched(plan_of(LAMP, PLUS, MINUS))
        watched.at_rest(230.0)
        watched.play(4.0, {"lamp": 20.0, "+B": 40.0, "-B": -40.0})
        falling = {"+B": ramp(40.0, 4.0, -3.0), "-B": ramp(-40.0, 4.0, 3.0)}
        watched.play(3.0, falling | {"lamp": 20.0})
        assert watched.moves == ["moving"]

    def test_a_single_rail_without_a_mains_meter_never_shows_a_move(self) -> None:
        watched = Watched(plan_of(LAMP, PLUS))
        watched.at_rest(230.0)
        watched.play(8.0, {"lamp": 20.0, "+B": ramp(40.0, 2.0, -4.0)})
        assert watched.moves == []

    def test_rails_that_hold_while_mains_falls_are_judged_by_mains_alone(self) -> None:
        watched = Watched(plan_of(MAINS, PLUS, MINUS))
        watched.at_rest(230.0)
        watched.play(8.0, {"mains": 230.0, "+B": ramp(40.0, 2.0, -3.0), "-B": ramp(-40.0, 2.0, 3.0)})
        assert watched.moves == []

    def test_a_supply_whose_rails_give_way_together_was_not_turned_by_anybody(self) -> None:
        watched = Watched(plan_of(VOLTS, PLUS, MINUS, source=BENCH_SUPPLY, stages=ONE_VOLT))
        watched.at_rest(20.0)
        watched.play(8.0, {"volts": 20.0, "+B": ramp(20.0, 2.0, -2.0), "-B": ramp(-20.0, 2.0, 2.0)})
        assert watched.moves == []

    def test_rails_never_seen_at_one_time_cannot_be_said_to_move_together(self) -> None:
        watched = Watched(plan_of(PLUS, MINUS), pace={"+B": 2.0})
        watched.play(8.1, {"+B": ramp(10.0, 0.0, 3.0)})
        watched.play(1.8, {"-B": ramp(-10.0, 8.1, -3.0)})
        plus, minus = watched.guard.rails
        assert plus.slope(3, watched.t) == pytest.approx(3.0)
        assert minus.slope(3, watched.t) == pytest.approx(-3.0)
        assert not looks_moved(None, None, [plus, minus], watched.t)


def test_a_source_without_a_ratio_expects_no_rail() -> None:
    source = Source(moved_by=ON_THE_WALL.moved_by, chain=("wall",), mains=230.0)
    assert rail_band(source, 230.0, None, behind=False).expected == 0.0
