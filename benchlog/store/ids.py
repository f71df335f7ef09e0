"""Names for what is kept: time-ordered ids, the UTC text of the library, session file names."""

import os
import time
import uuid
from datetime import UTC, datetime

NANOSECOND = 1_000_000_000


def new_id() -> str:
    """A UUIDv7 as text: 48 bits of milliseconds, 12 bits of their fraction, 62 random bits.

    Source: RFC 9562, section 5.7 and method 3 of section 6.2. Ids made in different
    microseconds sort by time; below that their order is chance.
    """
    milliseconds, rest = divmod(time.time_ns(), 1_000_000)
    fraction = (rest << 12) // 1_000_000
    chance = int.from_bytes(os.urandom(8), "big") & ((1 << 62) - 1)
    number = (milliseconds & ((1 << 48) - 1)) << 80 | 0x7 << 76 | fraction << 64 | 0b10 << 62 | chance
    return str(uuid.UUID(int=number))


def utc_now() -> str:
    """The time of day as the library writes it: UTC, ISO 8601, milliseconds, a closing Z."""
    return utc_text(datetime.now(UTC))


def utc_text(moment: datetime) -> str:
    """An aware time as the library writes it."""
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def utc_moment(text: str) -> datetime:
    """The aware time a library text stands for; a text without zone is taken as UTC."""
    moment = datetime.fromisoformat(text)
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)


def session_file_name(started: str, session: str) -> str:
    """The name of a session's file: its UTC start and the last eight hex digits of its id."""
    return f"{utc_moment(started).astimezone(UTC):%Y%m%dT%H%M%SZ}-{session.replace('-', '')[-8:]}.db"
