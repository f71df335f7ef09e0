"""Earlier runs beneath the graph of a live one: the unit's good run, and the other side where this one has one side.

They are read once, when the run begins, in the thread of the library; a graph that has none is as good without.
"""

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from PySide6.QtCore import QObject

from benchlog.domain.plan import Plan
from benchlog.store import good_run
from benchlog.store.records import SessionLine
from benchlog.store.run_beside import Candidate, good_runs
from benchlog.window.graph import RunGraph
from benchlog.window.graph_closer import CloserGuests
from benchlog.window.graph_guests import Guest
from benchlog.window.past_feed import guest_of
from benchlog.window.work import Work

LOOKED_AT = 20
"""So many of a unit's newest runs are looked through for the other side."""


class RunBefore(QObject):
    """Brings them to one graph."""

    def __init__(self, work: Work, graph: RunGraph) -> None:
        super().__init__(graph)
        self._work = work
        self._graph = graph
        self._guests = CloserGuests(work, graph)
        self._session = ""

    def begin(self, session: str, plan: Plan) -> None:
        """A run has begun; without a session, or a unit at hand, nothing lies beneath it."""
        unit = self._work.shelf.unit
        self._session = session
        self._graph.layer.show((), live=True)
        if not session or unit is None:
            return
        id_ = unit.id

        def came(found: list[Guest]) -> None:
            if session == self._session:
                self._graph.layer.show(found, live=True)

        self._work.shelf.read(
            lambda library: earlier(library, id_, plan),
            came,
            # Nobody asked for it: what cannot be read is told where it is opened.
            lambda _: None,
            owner=self,
            key="earlier runs",
        )


def earlier(library: Path, unit: str, plan: Plan) -> list[Guest]:
    """The good run on the same source, and the newest good run of the other side; reads files."""
    found = []
    good = good_run.reference_run(library, unit, plan)
    if good is not None:
        found.append(_named(guest_of(plan, Candidate(good), same_only=True), "good run"))
    sides = {trace.side for trace in plan.trace} - {""}
    if len(sides) == 1:
        other = _other_side(good_runs(library, unit)[:LOOKED_AT], plan, sides.pop())
        if other is not None:
            found.append(_named(other, "other side"))
    return found


def _named(guest: Guest, what: str) -> Guest:
    return replace(guest, name=f"{what}, {guest.name}")


def _other_side(lines: Iterable[SessionLine], plan: Plan, side: str) -> Guest | None:
    """The newest run that read the other side of what this one reads."""
    sided = {trace.name for trace in plan.trace if trace.side == side}
    for line in lines:
        across = guest_of(plan, Candidate(line), sides_swapped=True)
        if sided & across.points.keys():
            return replace(
                across, points={name: across.points[name] for name in sided & across.points.keys()}
            )
    return None
