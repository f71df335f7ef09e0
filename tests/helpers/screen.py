"""Where a test needs a screen with a window manager."""

import os

import pytest
import unseen


def need_screen() -> None:
    """Leave the test out where a machine has no such screen; where everything must be seen, that is a failure."""
    lacking = " and ".join(unseen.lacking())
    if lacking and os.environ.get("CI"):
        pytest.fail(f"lacking {lacking}: install xvfb and openbox")
    if lacking:
        pytest.skip(f"lacking {lacking}")
