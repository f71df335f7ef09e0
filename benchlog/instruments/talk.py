"""A dialogue on a wire: asks, waits in slices that never run over, and comes back into step."""

import time
from collections.abc import Callable, Generator

from benchlog.errors import Gone, LinkError, Refused, TimedOut
from benchlog.instruments.dialogue import Dialogue, Manner, Phase
from benchlog.instruments.link import Link
from benchlog.instruments.profile import Profile

Clock = Callable[[], int]
"""Monotonic nanoseconds of wire time."""

Steps = Generator[str, str, None]
"""Asks its questions one by one and is sent each answer."""

SLICE = 1.0
"""Longest single wait of a blocking question, in s; its own deadline ends it earlier."""

GAP = 1_000_000
"""A question this soon after the last bytes, in ns, is asked without looking for stray ones first."""

PROOF_EVERY = 5_000_000_000
"""At full pace, step is proven anew this often, in ns, but never before `PROOF_AFTER` more questions.

An instrument that answers once too often while the next question is out already would be one answer behind
for good, and nothing but its identity could tell.
"""

PROOF_AFTER = 10
"""So many questions lie between two such proofs: a slow instrument is there to be read."""

_IDLE = Phase.IDLE
_ASKED = Phase.ASKED
_UNPROVEN = Phase.UNPROVEN
_LOST = Phase.LOST


class Talk:
    """One instrument's wire and the state of the conversation on it; owned by one thread.

    Attributes:
        dialogue: the state.
        at: arrival of the last bytes, or of the last time none came, in monotonic ns.
        asked: how many questions were asked; tells whether an open question is still one's own.
        place: the instrument's job, as errors name it.
    """

    __slots__ = (
        "_clock",
        "_deadline",
        "_link",
        "_proof_due",
        "_proven_at",
        "asked",
        "at",
        "dialogue",
        "place",
    )

    def __init__(self, link: Link, profile: Profile, place: str, clock: Clock = time.monotonic_ns) -> None:
        self._link = link
        self._clock = clock
        self._deadline = round(profile.link.deadline * 1e9)
        self._proof_due = clock() + PROOF_EVERY
        self.dialogue = Dialogue(Manner.of(profile))
        self.at = 0
        self.asked = 0
        self._proven_at = 0
        self.place = place

    def tell(self, command: str) -> None:
        """Send a command that has no answer."""
        self._link.send(self.dialogue.line(command))

    def ask(self, question: bytes, deadline: int) -> bool:
        """Send a whole question, answered within `deadline` ns; False where step is to be proven first."""
        now = self._clock()
        if now - self.at > GAP:
            if stray := self._link.receive(0.0):
                self.dialogue.feed(stray, now)
                return False
        elif now > self._proof_due and self.asked - self._proven_at >= PROOF_AFTER:
            self._proof_due = now + PROOF_EVERY
            self._proven_at = self.asked
            if proof := self.dialogue.prove_again(now):
                self._link.send(proof)
                return False
        self.asked += 1
        self.dialogue.ask(now + deadline)
        self._link.send(question)
        return True

    def poll(self, wait: float) -> str | None:
        """One slice of at most `wait` real seconds; the reply, where it answers the open question.

        Raises Gone where the wire is dead or step cannot be proven, Refused or TimedOut where it never was.
        """
        dialogue = self.dialogue
        if dialogue.phase is not _IDLE:
            now = self._clock()
            if dialogue.phase is _UNPROVEN:
                self._link.send(dialogue.expire(now))
            wait = min(wait, max((dialogue.due - now) * 1e-9, 0.0))
        return self.look(wait)

    def look(self, wait: float) -> str | None:
        """As `poll`, for one who knows that nothing falls due within `wait`."""
        dialogue = self.dialogue
        data = self._link.receive(wait)
        self.at = now = self._clock()
        if data:
            reply = dialogue.feed(data, now)
            if reply is not None:
                return reply
        elif dialogue.phase is not _IDLE and now >= dialogue.due and (out := dialogue.expire(now)):
            self._link.send(out)
        if dialogue.phase is _LOST:
            raise self._lost()
        return None

    def query(self, question: str, deadline: int | None = None) -> str:
        """Ask and wait for the answer, blocking; TimedOut after `deadline` ns or the profile's time."""
        line = self.dialogue.line(question)
        patience = self._deadline if deadline is None else deadline
        self.settle()
        while not self.ask(line, patience):
            self.settle()
        while self.dialogue.phase is _ASKED:
            reply = self.poll(SLICE)
            if reply is not None:
                return reply
        raise TimedOut(self.place, f"did not answer {question} within {patience * 1e-9:g} s")

    def run(self, steps: Steps) -> None:
        """Have every question of `steps` answered, blocking."""
        try:
            question = next(steps)
            while True:
                question = steps.send(self.query(question))
        except StopIteration:
            return

    def settle(self, patience: float | None = None) -> None:
        """Block until nothing is open and step is proven; what comes meanwhile is thrown away.

        Every phase ends by its own deadline; TimedOut after `patience` s where that is less.
        """
        until = None if patience is None else self._clock() + round(patience * 1e9)
        while self.dialogue.phase is not _IDLE:
            left = SLICE if until is None else (until - self._clock()) * 1e-9
            if left <= 0:
                half = self.dialogue.half_line()
                so_far = f', but "{half}" without the line end that its profile expects' if half else ""
                fix = "look at reply_end in [link] of its profile" if half else ""
                raise TimedOut(self.place, f"did not say what it is within {patience:g} s{so_far}", fix)
            self.poll(min(left, SLICE))

    def doubt(self) -> None:
        """An answer could not be read: prove step before the next question."""
        self.dialogue.slip(self._clock())

    def wake(self) -> None:
        """End a wait under way; from any thread."""
        self._link.wake()

    def close(self) -> None:
        """Close the wire."""
        self._link.close()

    def _lost(self) -> LinkError:
        reason = self.dialogue.reason
        if self.dialogue.unended:
            kind = Gone if self.dialogue.identity else Refused
            return kind(self.place, reason, "look at reply_end in [link] of its profile")
        if self.dialogue.identity:
            return Gone(self.place, reason, "the connection will be opened anew")
        if self.dialogue.stranger:
            return Refused(self.place, reason, "check that the profile fits the instrument")
        return TimedOut(self.place, reason, "check that it is switched on, its address and its profile")
