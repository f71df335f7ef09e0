"""Has what lies between the cursors of a graph read from its run's file, off the GUI's thread."""

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TypeVar

from PySide6.QtCore import QObject

from benchlog.domain.between import Between
from benchlog.store.run_between import between_of, summed_between
from benchlog.window.graph import RunGraph
from benchlog.window.work import Work

T = TypeVar("T")


class Measured(QObject):
    """Answers the cursors of one graph: at once all that is summed up in the file, then the slopes, trace by trace.

    Other reading goes on in between. `file` gives that of the run which is in the graph, None while there is none.
    """

    def __init__(self, work: Work, graph: RunGraph, file: Callable[[], Path | None]) -> None:
        super().__init__(graph)
        self._work = work
        self._graph = graph
        self._file = file
        graph.measuring.wanted.connect(self._read)

    def _read(self, t0: float, t1: float) -> None:
        file, measuring = self._file(), self._graph.measuring
        names = [line.name for line in self._graph.scene.lines]
        if file is None:
            return

        def came(name: str, found: Between) -> None:
            if self._file() == file:
                measuring.show_between(t0, t1, name, found)

        def summed(found: dict[str, Between]) -> None:
            for name in names:
                came(name, found.get(name, Between(0, 0)))

        self._ask(partial(summed_between, file, t0, t1), summed, "")
        for name in names:
            stands = partial(measuring.stands, t0, t1)
            self._ask(partial(between_of, file, name, t0, t1, stands), partial(came, name), name)

    def _ask(self, work: Callable[[], T], then: Callable[[T], None], name: str) -> None:
        self._work.shelf.off_thread(
            work,
            then,
            self._work.say_error,
            owner=self,
            key=f"between {id(self)}, {name}",
            says="Reading the run's file",
        )
