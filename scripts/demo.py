"""Shows the whole job on a simulated bench: `python3 scripts/demo.py`, nothing to install beforehand.

What follows on the command line goes to `benchlog demo`: `python3 scripts/demo.py --fault runaway`.
"""

from __future__ import annotations

import sys

import environment


def why_headless() -> str:
    """Say in one sentence why no window opens; empty where one does."""
    if environment.display() is not None:
        return ""
    return "There is no display here, so the demo runs headless: the whole job, told in lines."


def main() -> None:
    """Set up, then become `benchlog demo`, without a window where none can open."""
    python = environment.prepare()
    given = sys.argv[1:]
    why = why_headless()
    if why and "--headless" not in given:
        environment.say(why)
        given.insert(0, "--headless")
    environment.become([python, "-m", "benchlog", "demo", *given])


if __name__ == "__main__":
    main()
