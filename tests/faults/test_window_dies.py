"""The window is killed, or stands still, while the unit is on: the recorder cuts and keeps what there was."""

import sys
from pathlib import Path

import pytest
from faults.test_parent_dies import the_recorder_cut_and_closed
from helpers import processes
from helpers.deaths import parent_frozen, parent_killed
from helpers.scene import scene
from helpers.until import until

pytestmark = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="needs signals and /proc")
WINDOW = "helpers.window_driver"


@pytest.mark.parametrize("example", ["board", "amplifier"])
def test_a_killed_window_is_cut_for(example: str, tmp_path: Path) -> None:
    with scene(example, tmp_path, driver=WINDOW) as live:
        recorder = live.is_live().recorder
        died = parent_killed(live)
        the_recorder_cut_and_closed(live, died, "the window or terminal of this run ended")
        until(lambda: not processes.lives(recorder), "the end of the recorder")
        assert not live.next_start().problems


def test_a_window_that_stands_still_counts_as_dead_after_a_while(tmp_path: Path) -> None:
    with scene("board", tmp_path, driver=WINDOW) as live:
        died = parent_frozen(live.is_live())
        the_recorder_cut_and_closed(live, died, "the window fell silent for 5 s")
        live.go_on(live.driver.pid)
