"""Has the runs that lie beneath a graph read more closely where somebody looks closer, off the GUI's thread."""

from PySide6.QtCore import QObject

from benchlog.window.closer import closer_guest
from benchlog.window.graph import RunGraph
from benchlog.window.graph_guests import Wish
from benchlog.window.work import Work


class CloserGuests(QObject):
    """Answers the wishes of one graph, each guest's file by itself, so that other reading goes on in between."""

    def __init__(self, work: Work, graph: RunGraph) -> None:
        super().__init__(graph)
        self._work = work
        self._layer = graph.layer
        self._layer.wanted.connect(self._read)

    def _read(self, wish: Wish) -> None:
        self._work.shelf.off_thread(
            lambda: closer_guest(wish),
            lambda found: self._layer.look_closer(wish, found),
            # Until it is there, or where it cannot be read, what is held is shown.
            lambda _: None,
            owner=self,
            key=f"beneath {id(self)}, {wish.guest.file}",
            says="Reading the runs beside it",
        )
