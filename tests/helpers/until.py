"""Waits for a condition with a generous hang limit, never for a time."""

import time
from collections.abc import Callable
from typing import TypeVar

T = TypeVar("T")


def until(condition: Callable[[], T], what: str = "the condition", limit: float = 30.0) -> T:
    """Give the first true value of `condition`; fails with `what` after `limit` seconds."""
    end = time.monotonic() + limit
    while time.monotonic() < end:
        value = condition()
        if value:
            return value
        time.sleep(0.005)
    raise AssertionError(f"{what} did not come within {limit:g} s")
