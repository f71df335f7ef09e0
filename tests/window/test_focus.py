"""With a real window manager: a live run whose keys go to another program says so and can be cut all the same."""

import json
import subprocess
import sys
from pathlib import Path

from helpers.screen import need_screen
from unseen import screen

TESTS = Path(__file__).parent.parent


def test_keys_that_go_elsewhere_are_told_and_the_cut_stays_at_hand() -> None:
    need_screen()
    with screen() as environment:
        child = subprocess.run(
            [sys.executable, "-m", "helpers.focus_child"],
            env={**environment, "PYTHONPATH": str(TESTS)},
            capture_output=True,
            text=True,
            timeout=200,
            check=False,
        )
    assert child.returncode == 0, child.stderr
    seen = json.loads(child.stdout.splitlines()[-1])
    assert seen == dict.fromkeys(seen, True)
    assert len(seen) == 7
