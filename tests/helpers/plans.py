"""The example plans, cut short for a bench that lives as slowly as life does."""

import re
from pathlib import Path

from benchlog import resources


def short_plan(example: str, stages: int = 1, dwell: float = 1.0, tail: float = 2.0) -> str:
    """The first stages of an example's plan, with a dwell and a tail of a few seconds; nothing is checked cold."""
    text = resources.path("examples", example, "plan.toml").read_text(encoding="utf-8")
    head, *ladder = re.split(r"(?m)^(?=\[\[stage\]\])", text)
    head = re.sub(r"(?m)^tail = .*\n", "", head)
    head = re.sub(r"(?m)^(?=\[source\])", f"tail = {tail}\ncold = []\n\n", head)
    return head + re.sub(r"dwell = [\d.]+", f"dwell = {dwell}", "".join(ladder[:stages]))


def patient_relay(bench: Path) -> None:
    """Have the relay of a bench file, if there is one, go on after beats that a busy machine sends late."""
    text = bench.read_text(encoding="utf-8")
    bench.write_text(text.replace("drop_out = 0.5", "drop_out = 1.2"), encoding="utf-8")
