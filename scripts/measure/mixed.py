"""Six instruments on as many kinds of wire at full rate, one of which misbehaves all the time."""

import time
from collections import Counter
from collections.abc import Iterator

from benchlog.domain.reading import Outcome, Reading
from benchlog.instruments.profile import find_profile
from benchlog.recorder.desk import Desk
from measure.processes import Running, command
from measure.table import Line, at_most, told
from measure.terms import Terms

MISBEHAVES = "misbehaves"
SEED = 7
MOST_ODD = 12
HASTY = 0.25
"""Deadline of the one that misbehaves, in s: its faults are made for that."""

PATIENT = 30.0
"""That of the others: a machine so busy that it holds a thread up for seconds loses no reading."""


class Tally:
    """What came of each, counted; `wrong` are values that do not follow the one before."""

    def __init__(self) -> None:
        self.good: Counter[str] = Counter()
        self.bad: Counter[str] = Counter()
        self.wrong: Counter[str] = Counter()
        self.odd: list[str] = []
        """The first few that were not as they should be, in words."""
        self._last: dict[str, float] = {}

    def take(self, job: str, reading: Reading) -> None:
        """One reading; the n-th of each instrument is the number n, called in its own thread."""
        if reading.outcome is not Outcome.OK or reading.value is None:
            self.bad[job] += 1
            self._note(job, f"{reading.outcome.value} {reading.raw} after {self._last.get(job)}")
            return
        last = self._last.get(job, 0.0)
        follows = reading.value > last if job == MISBEHAVES else reading.value == last + 1.0
        if not follows:
            self.wrong[job] += 1
            self._note("", f"{job}: {reading.value} after {last}")
        self._last[job] = reading.value
        self.good[job] += 1

    def state(self, job: str, state: str, text: str) -> None:
        """What became of a wire."""
        if state != "open":
            self._note(job, f"{state}, {text}")

    def _note(self, job: str, text: str) -> None:
        if job != MISBEHAVES and len(self.odd) < MOST_ODD:
            self.odd.append(f"{job}: {text}" if job else text)


def beside_a_fault(terms: Terms) -> Iterator[Line]:
    """No reading of the others is missing, and none of the one is wrong."""
    profile = find_profile("scpi-multimeter").text
    for name, deadline in (("hasty", HASTY), ("patient", PATIENT)):
        text = profile.replace("deadline = 3.0", f"deadline = {deadline}", 1)
        (terms.folder / f"{name}.toml").write_text(text, encoding="utf-8")
    seconds = terms.many(600, 20)
    with Running(command("helpers.faulty_bench", SEED)) as far:
        wires: dict[str, str] = far.hear()["wires"]
        tally = Tally()
        desk = Desk(_bench(wires), "bench.toml", [terms.folder], 1.0, tally.take, tally.state)
        opened = [state for state, _ in desk.wait_open().values()]
        if opened.count("open") < len(wires) - 1:
            raise RuntimeError(f"not every instrument opened: {opened}")
        time.sleep(seconds)
        desk.close()
        far.end_input()
        asked: dict[str, int] = far.hear()["asked"]
    others = [job for job in wires if job != MISBEHAVES]
    what = f"{len(wires)} mixed instruments, {seconds} s"
    # The last question of each was open when the desk was closed.
    missing = sum(max(asked[job] - tally.good[job] - 1, 0) + tally.bad[job] for job in others)
    each = ", ".join(f"{job} {tally.good[job] / seconds:,.0f}/s" for job in wires)
    yield told(what, "readings", sum(tally.good.values()), "", each)
    yield at_most(what, "missing", missing, "", 0.0, "; ".join(tally.odd) or "of those that do not misbehave")
    yield at_most(what, "wrong", sum(tally.wrong.values()), "", 0.0, "of all")
    yield told(what, "faults", tally.bad[MISBEHAVES], "", "told of the one that misbehaves")


def _bench(wires: dict[str, str]) -> str:
    """A bench file of them."""
    entries = [
        f'[[meter]]\njob = "{job}"\nprofile = "{"hasty" if job == MISBEHAVES else "patient"}"\n'
        f'address = "{address}"\nfunction = "volts_dc"\n'
        for job, address in wires.items()
    ]
    return 'file = "benchlog bench 1"\nname = "mixed"\n' + "".join(entries)
