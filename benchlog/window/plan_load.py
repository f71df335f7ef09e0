"""Has a plan checked for the unit at hand: held against that unit's own good run, once there is one."""

from collections.abc import Callable
from pathlib import Path

from PySide6.QtCore import QObject

from benchlog.domain.cold_checks import ColdReading
from benchlog.domain.reference import Reference
from benchlog.errors import BenchlogError
from benchlog.store import cold_readings, good_run, idle_marks
from benchlog.window.run_view import Phase
from benchlog.window.work import Work

Before = tuple[Reference | None, tuple[str, ...], tuple[ColdReading, ...]]
"""What is known of a unit: its good run, the idles that were set in this visit, what was read of it cold."""


class PlanLoad(QObject):
    """Loads plans; `refused` hears what is wrong with one."""

    def __init__(self, work: Work, refused: Callable[[BenchlogError], None]) -> None:
        super().__init__()
        self._work = work
        self._refused = refused
        self.name = ""
        """What the plan at hand is called in messages."""
        self._of = self._loaded_for = ("", "")
        work.shelf.chosen.connect(self._others)
        work.reference_changed.connect(self._anew)

    def load(self, text: str, name: str) -> None:
        """Have a plan checked; the library is asked for the unit's good run first."""
        runner, shelf = self._work.runner, self._work.shelf
        self.name, self._of = name, self._at_hand
        unit, visit = self._of
        same = self._of == self._loaded_for
        self._loaded_for = self._of
        if not unit:
            runner.load_plan(text, name, self._refused, same_unit=same)
            return

        def look(library: Path) -> Before:
            return (
                good_run.of_text(library, unit, text),
                idle_marks.set_in(library, visit),
                cold_readings.taken_in(library, visit),
            )

        def load(before: Before) -> None:
            runner.load_plan(text, name, self._refused, *before, same_unit=same)

        # A library that cannot be read tells nothing of earlier runs: what the lamp's watts say holds on.
        shelf.read(look, load, lambda _: load((None, (), ())), owner=self, key="good run")

    def look_again(self) -> None:
        """What was read of the cold unit since the plan was loaded counts as well."""
        view, (unit, visit) = self._work.runner.view, self._at_hand
        cold = view.cold
        if cold is None or not unit or view.phase is not Phase.CHECKED:
            return

        def found(readings: tuple[ColdReading, ...]) -> None:
            cold.readings = readings
            self._work.runner.changed.emit()

        self._work.shelf.read(
            lambda library: cold_readings.taken_in(library, visit), found, owner=self, key="cold"
        )

    @property
    def _at_hand(self) -> tuple[str, str]:
        """The ids of unit and visit, empty where there is none."""
        unit, visit = self._work.shelf.unit, self._work.shelf.visit
        return unit.id if unit is not None else "", visit.id if visit is not None else ""

    def _others(self) -> None:
        """Another unit or visit is at hand: neither its run nor its idles were what the plan was loaded with."""
        if self._at_hand != self._of:
            self._anew()

    def _anew(self) -> None:
        """What the plan at hand was held against may be another run now; one that is under way is left alone."""
        view = self._work.runner.view
        if view.plan is not None and view.phase in (Phase.CHECKED, Phase.PROVEN):
            self.load(view.plan_text, self.name)
