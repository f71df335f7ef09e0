"""Takes pictures of the window on its whole route: `python3 scripts/screenshots.py [FOLDER]`.

The real program is driven by keys and mouse alone, on a screen that nobody sees (Xvfb) where there is one,
else offscreen: unit, bench, parts, a healthy power-up, a trip, a past run, all keys. Each station is taken in
light and dark, at 1440 x 900 and at 683 x 768 logical pixels; a second time with everything half as large again.
"""

from __future__ import annotations

import contextlib
import os
import subprocess
import sys
from pathlib import Path

import environment
import unseen

USUAL = environment.ROOT / "build" / "screenshots"
SCALES = ("1", "1.5")


def main() -> int:
    """Set up, then walk the route once for each scale; 0 where every picture was taken."""
    python = environment.prepare()
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else USUAL
    folder.mkdir(parents=True, exist_ok=True)
    on_screen = not unseen.lacking()
    if not on_screen:
        environment.say(f"No {' or '.join(unseen.lacking())} here: the pictures are taken offscreen.")
    offscreen = dict(os.environ, QT_QPA_PLATFORM="offscreen")
    failed = 0
    for scale in SCALES:
        # Room for 1440 x 900 at the larger scale too.
        with unseen.screen("2300x1500x24") if on_screen else contextlib.nullcontext(offscreen) as found:
            paths = [
                str(environment.ROOT),
                str(environment.ROOT / "scripts"),
                os.environ.get("PYTHONPATH", ""),
            ]
            found.update(
                PYTHONPATH=os.pathsep.join(filter(None, paths)), BENCHLOG_MUTE="1", QT_SCALE_FACTOR=scale
            )
            found["BENCHLOG_MAY_SLEEP"] = "1"  # What cannot be held off is told, and stands in the pictures.
            argv = [python, "-m", "route", str(folder), scale]
            failed = subprocess.run(argv, env=found, check=False).returncode or failed
    environment.say(f"{len(list(folder.glob('*.png')))} pictures in {folder}")
    return failed


if __name__ == "__main__":
    sys.exit(main())
