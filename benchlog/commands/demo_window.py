"""`benchlog demo` with a window: the window on the simulated bench, and a panel at which the person plays.

Nothing here knows which fault plays: the name goes to the simulated bench and nowhere else.
"""

import argparse
import sys
from pathlib import Path

from benchlog import resources
from benchlog.alarm.player import players
from benchlog.commands.demo_options import add_arguments, library_of, speed_of
from benchlog.commands.simulated import Panel, Simulated
from benchlog.commands.terminal import say
from benchlog.window.app import run_window
from benchlog.window.offer import Offer
from benchlog.window.panel import WIDTH

__all__ = ["add_arguments", "run"]

SPEED = 1.0
BORDERS = 6
"""Pixels that a window manager draws at the sides of the panel."""
NOTE = "This is a demo on a simulated bench, and you are the person at it. In its small window you have {}. Kept in {}."
HANDS = "the dial, the switch, the lamp, the probes and the faults"
FEWER_HANDS = {
    "board": "the probes and the faults",
    "lamp-ladder": "the switch, the lamps, the probes and the faults",
}
"""Where the bench has nothing to turn."""


def run(args: argparse.Namespace) -> int:
    """Open both windows and stay until benchlog's is closed; 0."""
    speed = speed_of(args, SPEED)
    library = library_of(args)
    with (
        Simulated(
            args.example,
            args.fault,
            speed,
            library / "witness.jsonl",
            played=True,
            thinned=not args.full_witness,
        ) as simulated,
        Panel(simulated.control),
    ):
        say(f"Library: {library}")
        status = run_window(
            library,
            offer_of(args.example, simulated, library),
            rate=simulated.speed,
            player=player_of(simulated),
        )
    say(f"What was measured and run is kept in {library}")
    return status


def offer_of(example: str, simulated: Simulated, library: Path) -> Offer:
    """The example's own files, the bench with the addresses of the simulated one."""
    return Offer(
        bench_text=simulated.bench_of(example),
        bench_name="bench.toml",
        plan_text=_text(example, "plan.toml"),
        plan_name="plan.toml",
        unit_text=_text(example, "unit.toml"),
        unit_name="unit.toml",
        beside=WIDTH + BORDERS,
        note=NOTE.format(FEWER_HANDS.get(example, HANDS), library),
    )


def player_of(simulated: Simulated) -> list[str]:
    """What sounds the alarm: it is shown on the panel, and played where this machine has a player."""
    ear = [sys.executable, "-m", "benchlog.simbench.ear", simulated.control]
    own = players(str(resources.path("sounds", "alarm.wav")))
    return [*ear, "--", *own[0][1]] if own else ear


def _text(example: str, name: str) -> str:
    return resources.path("examples", example, name).read_text(encoding="utf-8")
