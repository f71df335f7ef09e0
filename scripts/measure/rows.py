"""The rows of the benchmark by name, in the order in which they run."""

from collections.abc import Callable, Iterator

from measure import (
    costs,
    cutting,
    demos,
    dying,
    faults,
    finding,
    long_runs,
    losing,
    mixed,
    parts,
    rates,
    signatures,
    starting,
    storing,
    walking,
    window,
    windowed,
)
from measure.table import Line
from measure.terms import Terms

Row = Callable[[Terms], Iterator[Line]]

ROWS: dict[str, tuple[Row, str]] = {
    "cut": (cutting.by_supply, "violating reply to cut on the far end's wire, beside a bare loop"),
    "sessions": (cutting.in_sessions, "the same in whole sessions"),
    "relay": (cutting.by_relay, "the same on a pumped relay"),
    "redrawing": (windowed.redrawing, "violating reply to cut, beside a window that redraws"),
    "stopped": (windowed.stopped, "the same while the window stands still"),
    "killed": (windowed.killed, "a drawing window killed, to the cut"),
    "deaths": (dying.to_cut, "window killed, recorder killed, recorder frozen, to the cut"),
    "dropped": (losing.connections, "the supply's connections dropped as a limit breaks, to the cut"),
    "alarm": (losing.alarm, "the alarm killed as a limit breaks, to the cut and to the sound"),
    "rates": (rates.polled, "readings a second, one meter and six, beside bare loops"),
    "mixed": (mixed.beside_a_fault, "six instruments on six kinds of wire, one of which misbehaves"),
    "storing": (storing.durably, "durable rows a second, beside plain sqlite3"),
    "cost": (costs.at_sixty, "processor and memory of a recorder at 60 readings a second"),
    "parts": (parts.taken, "taking a part, beyond settling"),
    "faults": (faults.to_off, "fault to off on the commonest bench, by hand and by relay"),
    "signatures": (
        signatures.played,
        "the ten fault signatures: how each ends, and how long after it is true",
    ),
    "start": (starting.decoded, "a command that only computes, beside an empty Python"),
    "window": (window.started, "start to a window that can be used, beside a bare one"),
    "frames": (window.drawn, "a picture of a live graph"),
    "walk": (walking.gone_over, "10,000 parts: scrolled, narrowed by words, read one after the other"),
    "find": (finding.typed, "a key in the field over 5,000 past runs"),
    "long": (long_runs.opened, "a kept run of ten million readings: first picture, zooming and pulling"),
    "soak": (long_runs.soaked, "the same of a simulated week"),
    "demos": (demos.times, "the demo's examples and faults, wall seconds"),
}


def chosen(names: list[str]) -> dict[str, Row]:
    """The rows of these names in their own order, all of them where none is named."""
    return {name: row for name, (row, _) in ROWS.items() if not names or name in names}
