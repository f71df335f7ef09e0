"""Meters that were held before a run began, and for how long one that is doubted may go on."""

from helpers.stepped import FALLEN, Meddled, Stepped, awaited, climbed, frozen

from benchlog.domain.runaway import AFTER_TOUCH
from benchlog.domain.trace import LOST


def test_an_idle_reading_held_before_the_start_is_doubted_once_the_other_side_has_come_up() -> None:
    run = Stepped("amplifier", 5, dwell=0.4)
    run.meddled["idle L"] = frozen()
    run.begin()
    run.climb(400.0)
    begun, doubted = run.news("idle L")
    assert begun == "idle L is unproven until it has moved by 1 mV with the source"
    assert doubted.startswith("idle L did not follow: idle R came to ")
    assert doubted.endswith("its clip is off, or its trimmer is right down")
    assert run.run.stages.stage.name == "40 %"
    assert run.trips[0].startswith("no reading from idle L could be believed for 60")


def test_an_idle_reading_let_go_of_in_time_is_believed_and_the_run_goes_on() -> None:
    run = Stepped("amplifier", 5, dwell=0.4)
    run.meddled["idle L"] = frozen()
    run.begin()
    while not run.doubted:
        assert not run.climb(run.run.now + 0.5)
    run.live(10.0)
    assert awaited(run)["idle L to be believed"] == "did not follow"
    del run.meddled["idle L"]
    run.live(1.0)
    assert run.news("idle L")[-1] == "idle L is believed again, no longer: did not follow"
    assert not run.run.guard.traces["idle L"].unproven
    assert run.climb(until=3)
    assert run.trips == []


def test_two_trimmers_right_down_are_told_and_cost_no_run_and_turning_one_up_proves_it_alone() -> None:
    run = Stepped("amplifier", 5, dwell=0.4)
    run.meddled |= {"idle L": FALLEN, "idle R": FALLEN}
    run.begin()
    assert run.climb()
    assert run.news("idle L")[1].startswith("idle L has stayed at ")
    assert len(run.news("idle L")) == len(run.news("idle R")) == 2
    run.run.guard.trimmer_touched(run.run.t)
    del run.meddled["idle L"]
    run.live(70.0)
    assert run.news("idle L")[-1] == "idle L has moved: its clip is on"
    assert len(run.news("idle R")) == 2
    assert run.run.guard.traces["idle R"].unproven
    assert run.trips == []


def doubted_beside(*, turned_again: bool) -> list[str]:
    """What is said of an idle meter that stands still, where a trimmer was turned at the first stage, or all along."""
    run = Stepped("amplifier", 5, dwell=0.4)
    run.meddled["idle L"] = frozen()
    run.begin()
    run.climb(until=0)
    run.run.guard.trimmer_touched(run.run.t)
    run.live(AFTER_TOUCH + 1.0)
    while not run.trips and not run.climb(run.run.now + 5.0) and run.run.now < 400.0:
        if turned_again:
            run.run.guard.trimmer_touched(run.run.t)
    return [text for text in run.news("idle L") if "did not follow" in text]


def test_one_press_of_the_trimmer_key_rests_the_judgement_for_a_minute_and_not_for_the_run() -> None:
    (said,) = doubted_beside(turned_again=False)
    assert said.startswith("idle L did not follow: idle R came to ")


def test_while_a_trimmer_is_turned_no_side_is_held_against_the_other() -> None:
    assert doubted_beside(turned_again=True) == []


def test_a_rail_held_at_what_it_should_read_does_not_let_the_run_leave_its_first_stage() -> None:
    run = Stepped("by-hand", 5)
    run.meddled["+B"] = Meddled(change=lambda _: 14.0)
    run.begin()
    assert not run.climb(60.0)
    assert run.run.stages.index == 0
    assert "+B to be seen to move" in awaited(run)


def test_nothing_else_moved_is_said_only_where_it_is_so() -> None:
    alone, both = climbed("amplifier", 2), climbed("amplifier", 2)
    for run, names in ((alone, ["-B"]), (both, ["+B", "-B"])):
        run.live(6.0)
        run.meddled |= dict.fromkeys(names, FALLEN)
        run.live(0.6)
    (said,) = alone.news("-B")
    assert said.endswith("V and nothing else moved: look whether its clip is off")
    last = [verdict.text for _, name, verdict in both.said if name in ("+B", "-B")][-1]
    assert last.endswith(" V: look whether its clip is off")


def test_a_fallen_rail_that_no_tripping_limit_judges_is_lost_without_patience() -> None:
    run = climbed("by-hand", 0)
    run.live(6.0)
    run.run.guard.quiet.add("lamp")
    run.meddled |= {"lamp": Meddled(silent=True), "+B": FALLEN}
    run.live(1.0)
    assert run.run.guard.traces["+B"].patience == LOST


def test_an_idle_clip_that_falls_off_later_was_seen_to_follow_and_is_not_said_to_have_stayed() -> None:
    run = climbed("amplifier", 2)
    run.live(6.0)
    run.meddled["idle L"] = FALLEN
    run.live(70.0)
    assert "is unproven until it moves by 1 mV with the source" in run.news("idle L")[-1]
    assert run.trips == []
