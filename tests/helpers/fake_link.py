"""A recorder that is none: writes down what the window asks, and says what a test lets it say."""

from benchlog.errors import WATCH, BadInput, BenchlogError, Gone
from benchlog.recorder.client import messages
from benchlog.window.link import Link, Refused, Then


class FakeLink(Link):
    """Answers only when told to; `asked` holds every request in its order.

    `starts` counts how often it was started, `unable` is why it cannot be, `supplies` is where the last network
    cut goes of one that died in a run, and `cuts_again` how often that was sent once more.
    """

    def __init__(self) -> None:
        super().__init__()
        self.asked: list[messages.Request] = []
        self.starts = 0
        self.unable: BenchlogError | None = None
        self.supplies: tuple[str, ...] = ()
        self.cuts_again = 0
        self._runs = True
        self._open: list[tuple[messages.Request, Then | None, Refused | None]] = []

    @property
    def running(self) -> bool:
        return self._runs

    def start(self) -> None:
        self.starts += 1
        self._runs = self.unable is None
        if self.unable is None:
            self.up.emit()
        else:
            self.failed.emit(self.unable)

    def cut_again(self) -> tuple[str, ...]:
        self.cuts_again += bool(self.supplies)
        return self.supplies

    def die(self, problem: str = "was killed", fix: str = "") -> None:
        """Let the recorder end by itself; what was asked gets no answer any more."""
        self._runs = False
        gone = Gone(WATCH, problem, fix)
        asked, self._open = self._open, []
        for _, _, refused in asked:
            if refused is not None:
                refused(gone)
        self.down.emit(gone)

    def ask(
        self, request: messages.Request, then: Then | None = None, refused: Refused | None = None
    ) -> None:
        self.asked.append(request)
        self._open.append((request, then, refused))

    def close(self, seconds: float = 10.0) -> None:
        del seconds
        self._timer.stop()
        self.closed.emit()

    def say(self, *said: messages.Message) -> None:
        """Let the recorder publish these."""
        for message in said:
            self.heard.emit(message)

    def answer(self, kind: type[messages.Request], **data: object) -> None:
        """Carry out the oldest request of a kind that is open."""
        at = next(at for at, (request, _, _) in enumerate(self._open) if isinstance(request, kind))
        _, then, _ = self._open.pop(at)
        if then is not None:
            then(data)

    def refuse(self, kind: type[messages.Request], error: BadInput) -> None:
        """Refuse the oldest request of a kind that is open."""
        at = next(at for at, (request, _, _) in enumerate(self._open) if isinstance(request, kind))
        _, _, refused = self._open.pop(at)
        if refused is not None:
            refused(error)

    def of(self, kind: type[messages.Request]) -> list[messages.Request]:
        """What was asked of one kind."""
        return [request for request in self.asked if isinstance(request, kind)]
