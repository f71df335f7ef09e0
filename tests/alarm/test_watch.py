"""When the alarm sounds: told to, or its guarding master silent or dead; and when it stops."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlog.alarm.watch import LONGEST_ALONE, SILENT, Watch


def pass_time(watch: Watch, begin: float, seconds: float) -> float:
    """Look every 50 ms for that long; gives the time at its end."""
    looks = round(seconds / 0.05)
    for look in range(1, looks + 1):
        watch.look(begin + look * 0.05)
    return begin + looks * 0.05


@pytest.fixture
def watch() -> Watch:
    return Watch(0.0)


def test_it_sounds_when_told_and_stops_when_told(watch: Watch) -> None:
    assert watch.take("sound")
    assert (watch.sounding, watch.cause) == (True, "asked")
    assert watch.take("quiet")
    assert not watch.sounding
    assert not watch.over


def test_without_a_guard_silence_means_nothing(watch: Watch) -> None:
    pass_time(watch, 0.0, 60.0)
    assert not watch.sounding
    watch.end(60.0)
    assert watch.over
    assert not watch.sounding


def test_silence_of_a_guarding_master_sounds_until_told_to_stop(watch: Watch) -> None:
    watch.take("guard on")
    now = pass_time(watch, 0.0, SILENT - 0.1)
    assert not watch.sounding
    now = pass_time(watch, now, 0.2)
    assert watch.cause == "silent"
    watch.take("beat")
    pass_time(watch, now, 5.0)
    assert watch.cause == "silent"
    watch.take("quiet")
    assert not watch.sounding


@pytest.mark.parametrize("line", ["beat", "guard on", "rubbish"])
def test_any_line_is_a_sign_of_life(watch: Watch, line: str) -> None:
    watch.take("guard on")
    now = 0.0
    for _ in range(20):
        now = pass_time(watch, now, 0.8)
        watch.take(line)
    assert not watch.sounding


def test_an_alarm_that_was_stopped_itself_blames_nobody(watch: Watch) -> None:
    watch.take("guard on")
    watch.look(100.0)
    assert not watch.sounding


def test_a_guard_that_was_lifted_is_not_missed(watch: Watch) -> None:
    watch.take("guard on")
    watch.take("guard off")
    pass_time(watch, 0.0, 10.0)
    assert not watch.sounding


def test_the_death_of_a_guarding_master_sounds_at_once_and_not_for_ever(watch: Watch) -> None:
    watch.take("guard on")
    watch.end(5.0)
    assert watch.cause == "ended"
    watch.look(5.0 + LONGEST_ALONE - 1.0)
    assert not watch.over
    assert watch.sounding
    watch.look(5.0 + LONGEST_ALONE + 1.0)
    assert watch.over


def test_an_alarm_asked_for_goes_on_when_the_guarding_master_dies(watch: Watch) -> None:
    watch.take("guard on")
    watch.take("sound")
    watch.end(5.0)
    assert watch.cause == "asked"


def test_a_try_of_the_alarm_ends_with_its_master(watch: Watch) -> None:
    watch.take("sound")
    watch.end(5.0)
    assert not watch.sounding
    assert watch.over


def test_to_quit_is_to_be_quiet(watch: Watch) -> None:
    watch.take("guard on")
    watch.take("sound")
    watch.take("quit")
    assert watch.over
    assert not watch.sounding


LINES = st.lists(
    st.sampled_from(["beat", "guard on", "guard off", "sound", "quiet", "", "x y", "look", "end"])
)


def play(lines: list[str]) -> Watch:
    watch = Watch(0.0)
    now = 0.0
    for line in lines:
        if line == "look":
            now = pass_time(watch, now, 2.0)
        elif line == "end":
            watch.end(now)
        else:
            assert watch.take(line) == (line not in {"", "x y"})
    return watch


@given(LINES)
def test_it_never_sounds_without_cause(lines: list[str]) -> None:
    assert play([line for line in lines if line not in {"sound", "guard on"}]).sounding is False


@given(LINES, LINES)
def test_once_asked_for_it_sounds_until_quiet_or_the_end(before: list[str], after: list[str]) -> None:
    silencing = {"quiet", "end"}
    watch = play([*before, "sound", *(line for line in after if line not in silencing)])
    assert watch.sounding


@given(LINES)
def test_a_dead_guard_sounds_whatever_came_before(lines: list[str]) -> None:
    assert play([*(line for line in lines if line != "end"), "guard on", "end"]).sounding
