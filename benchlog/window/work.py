"""What every page of the window works with, made once and handed on."""

import time
from collections.abc import Callable
from typing import Protocol

from PySide6.QtCore import QObject, Signal

from benchlog.domain.verdict import Judgement
from benchlog.electronics.asked import Answer, Question
from benchlog.errors import BenchlogError
from benchlog.window.keys import Keys
from benchlog.window.look import Look
from benchlog.window.offer import Offer
from benchlog.window.runner import Runner
from benchlog.window.shapes import Shape
from benchlog.window.shelf import Shelf


class Sounds(Protocol):
    """What tone and speech can be asked for; everything works without."""

    def ask(self, text: str) -> None:
        """A person's hand is wanted."""

    def stage_ready(self, text: str) -> None:
        """The next stage is offered."""

    def warn(self, text: str) -> None:
        """Something wants a look."""

    def cut(self) -> None:
        """Off."""

    def elsewhere(self) -> None:
        """The keys go to another program while a run is live."""

    def result(self, judgement: Judgement, reading: str, assumed: str, next_designator: str, /) -> None:
        """A part was read and judged; the next one is named."""

    def at(self, designator: str, /) -> None:
        """Another part is the one to go to, with nothing taken."""

    def hush(self) -> None:
        """The next contact or key: what is being said is of no use any more."""

    def home(self, distance: float | None) -> None:
        """How far what is set is from its band; None for silence."""

    def look(self) -> None:
        """A reading is so far off that it is held until it is confirmed."""

    def refused(self, text: str = "", /) -> None:
        """A key meant nothing here, or what it asked for was not possible; `text` says what ails."""


class Foretells(Protocol):
    """What can be asked of where something is heading; everything works without."""

    def ask(self, question: Question, then: Callable[[Answer], None], /) -> None:
        """Ask; `then` hears the answer, or nothing ever."""

    def forget(self, begins: str, /) -> None:
        """Ask no more of what has a key that begins so."""


class Work(QObject):
    """Look, keys, run, library, voice; `said` carries a sentence for everybody to see, with how grave it is.

    `unsaid` how a sentence begins that is true no longer.

    `step_stands` (step, shape, detail) tells the column of steps how a page stands, `go_to` asks for a page,
    `keys_changed` that a key was bound, `reference_changed` that later plans may expect another run, `find_runs`
    (words) and `show_part` (its id, how it is called) what another page is to show.
    """

    said = Signal(str, bool)
    unsaid = Signal(str)
    step_stands = Signal(str, object, str)
    go_to = Signal(str)
    keys_changed = Signal()
    reference_changed = Signal()
    find_runs = Signal(str)
    show_part = Signal(str, str)

    def __init__(
        self, look: Look, keys: Keys, runner: Runner, shelf: Shelf, offer: Offer | None = None
    ) -> None:
        super().__init__()
        self.look = look
        self.keys = keys
        self.runner = runner
        self.shelf = shelf
        self.offer = offer or Offer()
        self.voice: Sounds | None = None
        self.forecasts: Foretells | None = None

    def say(self, text: str, *, grave: bool = False) -> None:
        """Show a sentence without blocking anything."""
        self.said.emit(text, grave)

    def unsay(self, begins: str) -> None:
        """Take back every sentence that begins so: it is true no longer."""
        self.unsaid.emit(begins)

    def say_error(self, error: BenchlogError) -> None:
        """Show what went wrong, every fault of it."""
        self.said.emit(str(error), False)

    def stand(self, step: str, shape: Shape, detail: str = "") -> None:
        """Say how a step of the job stands."""
        self.step_stands.emit(step, shape, detail)

    @staticmethod
    def now() -> float:
        """Seconds of the window's own clock."""
        return time.monotonic()
