"""What a person is asked to do or perceive, and what becomes of the answer."""

import threading
from collections.abc import Callable
from typing import Any

from benchlog.errors import BadInput
from benchlog.recorder.messages import Outgoing, Prompt, Withdrawn

Then = Callable[[bool], None]


class Prompts:
    """Numbers prompts, publishes them, and hands each answer to whoever asked, once."""

    def __init__(self, send: Callable[[Outgoing], None]) -> None:
        self._send = send
        self._lock = threading.Lock()
        self._open: dict[int, tuple[str, Then]] = {}
        self._last = 0
        self._nobody = False

    def ask(
        self,
        kind: str,
        text: str,
        data: dict[str, Any],
        then: Then,
        over: Callable[[], bool] = lambda: False,
    ) -> int:
        """Ask; `then` is called with the answer, in the thread that brings it.

        Where it is `over` already nobody is asked, and the answer is no. Whoever makes it so drops what is
        open afterwards, and so takes back whatever was still asked.
        """
        # Published under the lock: nothing may be taken back before it was asked.
        with self._lock:
            self._last += 1
            number = self._last
            asked = not (self._nobody or over())
            if asked:
                self._open[number] = (kind, then)
                self._send(Prompt(prompt=number, kind=kind, text=text, data=data))
        if not asked:
            then(False)
        return number

    def ask_and_wait(
        self, kind: str, text: str, data: dict[str, Any], over: Callable[[], bool] = lambda: False
    ) -> bool:
        """Ask and block until answered; false where the run ends first, or is `over` already."""
        answered = threading.Event()
        answers: list[bool] = []

        def then(yes: bool) -> None:
            answers.append(yes)
            answered.set()

        self.ask(kind, text, data, then, over)
        answered.wait()
        return answers[0]

    @property
    def asking(self) -> bool:
        """Whether anything is asked and not answered yet."""
        with self._lock:
            return bool(self._open)

    def answer(self, number: int, yes: bool) -> str:
        """Hand an answer on; the kind of its prompt. BadInput where nothing of that number is open."""
        with self._lock:
            found = self._open.pop(number, None)
        if found is None:
            raise BadInput(f"prompt {number}", "is not open", "it was answered, or its run is over")
        kind, then = found
        then(yes)
        return kind

    def is_open(self, kind: str) -> bool:
        """Whether one of that kind waits for its answer."""
        with self._lock:
            return any(one == kind for one, _ in self._open.values())

    def drop(self, *kinds: str) -> None:
        """Take back what is still open of these kinds, or everything: answered no, and told."""
        with self._lock:
            gone = [n for n, (kind, _) in self._open.items() if not kinds or kind in kinds]
            dropped = [self._open.pop(n)[1] for n in gone]
            for number in gone:
                self._send(Withdrawn(prompt=number))
        for then in dropped:
            then(False)

    def nobody_left(self) -> None:
        """Nobody will answer any more: what is open, and whatever is asked from now on, is answered no."""
        with self._lock:
            self._nobody = True
        self.drop()
