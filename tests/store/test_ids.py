"""Ids sort by time and cannot collide; names of session files come from their start and id."""

import time
import uuid
from datetime import UTC, datetime, timedelta, timezone
from itertools import count

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlog.store.ids import new_id, session_file_name, utc_moment, utc_now, utc_text


def test_an_id_is_a_uuid_of_version_7_that_carries_the_time() -> None:
    before = time.time_ns() // 1_000_000
    made = uuid.UUID(new_id())
    after = time.time_ns() // 1_000_000
    assert made.variant == uuid.RFC_4122
    assert made.int >> 76 & 0xF == 7
    assert before <= made.int >> 80 <= after


def test_ids_made_a_microsecond_apart_sort_by_time(monkeypatch: pytest.MonkeyPatch) -> None:
    clock = count(1_790_000_000_000_000_000, 1_000)
    monkeypatch.setattr(time, "time_ns", lambda: next(clock))
    made = [new_id() for _ in range(2000)]
    assert made == sorted(made)


def test_ids_of_one_instant_differ(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(time, "time_ns", lambda: 1_790_000_000_000_999_999)
    assert len({new_id() for _ in range(1000)}) == 1000


def test_a_session_file_is_named_by_its_start_and_the_end_of_its_id() -> None:
    name = session_file_name("2026-11-25T23:30:00.250+01:00", "01890a5d-ac96-774b-bcce-b302099a8057")
    assert name == "20261125T223000Z-099a8057.db"


def test_a_time_without_zone_is_utc() -> None:
    assert utc_moment("2026-11-25T10:15:00") == datetime(2026, 11, 25, 10, 15, tzinfo=UTC)


@given(
    st.datetimes(
        min_value=datetime(1980, 1, 1),  # noqa: DTZ001
        max_value=datetime(2200, 1, 1),  # noqa: DTZ001
        timezones=st.integers(-12, 12).map(lambda hours: timezone(timedelta(hours=hours))),
    )
)
def test_library_times_come_back_to_the_millisecond(moment: datetime) -> None:
    text = utc_text(moment)
    assert text.endswith("Z")
    assert abs(utc_moment(text) - moment) < timedelta(milliseconds=1)


def test_now_is_written_as_every_other_library_time() -> None:
    now = utc_now()
    assert utc_text(utc_moment(now)) == now
