"""One question at a time, and the way back into step after anything went wrong.

No I/O and no clock: bytes and monotonic nanoseconds come in; bytes to send, replies and late
lines come out. The rules that must live here:

1. A reply is given only while its question is open, and only if it came alone.
2. After a missed deadline, a second line, a stray byte or an unreadable reply, nothing is asked
   before the dialogue has drained (silence for `quiet`) and proven its step: the identity
   question is answered by the very identity. Whatever comes before that answer is late.
3. A dialogue that cannot prove its step is lost; its owner closes the link and opens it anew.
"""

from dataclasses import dataclass
from enum import Enum
from fnmatch import fnmatchcase

from benchlog.instruments.decode import as_text
from benchlog.instruments.framer import LineFramer
from benchlog.instruments.profile import Profile

LATE_KEPT = 16
"""At most so many late lines are handed on before they are collected; a flood tells no more."""

PROOFS = 3
"""So often in a row a proof may end with more bytes behind the identity before the dialogue is lost."""


class Phase(Enum):
    """Where a dialogue stands."""

    UNPROVEN = "unproven"
    IDLE = "idle"
    ASKED = "asked"
    DRAINING = "draining"
    PROVING = "proving"
    LOST = "lost"


@dataclass(frozen=True, slots=True)
class Manner:
    """What a dialogue must know of a profile; times in nanoseconds, lines with their ends."""

    send_end: bytes
    reply_end: bytes
    longest_line: int
    deadline: int
    quiet: int
    identity_question: str
    identity_glob: str

    @classmethod
    def of(cls, profile: Profile) -> "Manner":
        """The manner a profile states."""
        link, identity = profile.link, profile.identity
        return cls(
            link.send_end.encode("ascii"),
            link.reply_end.encode("ascii"),
            link.longest_line,
            round(link.deadline * 1e9),
            round(link.quiet * 1e9),
            identity.question if identity else "",
            identity.answer if identity else "",
        )


class Dialogue:
    """The state of one conversation.

    Attributes:
        phase: where it stands.
        due: monotonic ns at which `expire` must be called, in ASKED, DRAINING and PROVING.
        identity: the identity as answered, empty before.
        late: lines that answered no open question, collected by the owner.
        reason: in LOST, what happened, as a clause.
        stranger: what came in place of the identity in the last proof, empty where nothing did.
        unended: in LOST, what came with another line end than is expected, where that is the reason.
    """

    __slots__ = (
        "_framer",
        "_give_up",
        "_manner",
        "_proofs",
        "due",
        "identity",
        "late",
        "phase",
        "reason",
        "stranger",
        "unended",
    )

    def __init__(self, manner: Manner) -> None:
        self._manner = manner
        self._framer = LineFramer(manner.reply_end, manner.longest_line)
        self._give_up = 0
        self._proofs = 0
        self.stranger = ""
        self.unended = ""
        self.phase = Phase.UNPROVEN if manner.identity_question else Phase.IDLE
        self.due = 0
        self.identity = ""
        self.late: list[str] = []
        self.reason = ""

    def line(self, text: str) -> bytes:
        """A command or question as it goes over the wire."""
        return text.encode("ascii") + self._manner.send_end

    def ask(self, due: int) -> None:
        """A question is about to be sent; its answer must come before `due`, monotonic ns."""
        self.phase = _ASKED
        self.due = due

    def feed(self, data: bytes, now: int) -> str | None:
        """Take in what came; the reply, where it answers the open question."""
        if self.phase is _ASKED:
            if self._framer.takes_whole(data):
                self.phase = _IDLE
                return as_text(data)
            return self._feed_reply(data, now)
        if self.phase is Phase.PROVING:
            self._feed_proof(data, now)
        elif self.phase in (Phase.DRAINING, _IDLE):
            self._too_late(self._framer.feed(data))
            if self.phase is _IDLE:
                self.slip(now)
            self.due = min(now + self._manner.quiet, self._give_up)
        return None

    def _feed_reply(self, data: bytes, now: int) -> str | None:
        """A chunk that is not just one whole line."""
        lines = self._framer.feed(data)
        if not lines:
            return None
        if len(lines) == 1 and self._framer.empty:
            self.phase = _IDLE
            return as_text(lines[0])
        self._too_late(lines)
        self.slip(now)
        return None

    def slip(self, now: int) -> None:
        """Step is lost: drain, then prove."""
        self.phase = Phase.DRAINING
        self.due = now + self._manner.quiet
        self._give_up = now + max(self._manner.deadline, 4 * self._manner.quiet)

    def expire(self, now: int) -> bytes:
        """`due` has passed in ASKED, DRAINING or PROVING, or the first proof begins: what to send now."""
        if self.phase is _ASKED:
            self.slip(now)
        elif self.phase is Phase.UNPROVEN:
            return self._prove(now)
        elif self.phase is Phase.DRAINING:
            return self._drained(now)
        elif self.phase is Phase.PROVING:
            question = self._manner.identity_question
            if not self.stranger and self._lose_unended(f" to {question}"):
                return b""
            self._lose(f"does not answer {question}{self._instead()}")
        return b""

    def prove_again(self, now: int) -> bytes:
        """Nothing is open, and step is to be proven all the same: what to send, nothing where it cannot be."""
        return self._prove(now) if self._manner.identity_question else b""

    def half_line(self) -> str:
        """What came of a line that never ended."""
        return as_text(self._framer.rest)

    def collect_late(self) -> list[str]:
        """The late lines since the last call."""
        late, self.late = self.late, []
        return late

    def _drained(self, now: int) -> bytes:
        """Silence, or patience is over."""
        if self.due >= self._give_up:
            self._lose("talks on without being asked")
            return b""
        if not self._manner.identity_question and self._lose_unended():
            return b""
        self._framer.clear()
        if not self._manner.identity_question:
            self._lose("did not answer, and has no question that would prove it is in step")
            return b""
        return self._prove(now)

    def _prove(self, now: int) -> bytes:
        self.phase = Phase.PROVING
        self.due = now + self._manner.deadline
        self.stranger = ""
        return self.line(self._manner.identity_question)

    def _feed_proof(self, data: bytes, now: int) -> None:
        """Wait for the identity; what comes before it is late, what comes behind it is out of step."""
        lines = self._framer.feed(data)
        for n, line in enumerate(lines):
            text = as_text(line)
            if not self._is_identity(text):
                self.stranger = text
                self._too_late([line])
                continue
            self.identity = text
            self._too_late(lines[n + 1 :])
            if n == len(lines) - 1 and self._framer.empty:
                self.phase = _IDLE
                self._proofs = 0
                return
            self._proofs += 1
            half = self._framer.rest
            self.slip(now)
            if self._proofs >= PROOFS:
                if half.isspace():
                    self.unended = text
                    self._lose(f'answered "{text}" with a longer line end than its profile expects')
                else:
                    self._lose("answers more than it is asked")
            return

    def _is_identity(self, text: str) -> bool:
        """The first time by its glob, from then on to the letter."""
        if self.identity:
            return text == self.identity
        return fnmatchcase(text, self._manner.identity_glob)

    def _instead(self) -> str:
        """What it answered in place of its identity."""
        expected = self.identity or self._manner.identity_glob
        return f' as "{expected}" but as "{self.stranger}"' if self.stranger else ""

    def _lose_unended(self, asked: str = "") -> bool:
        """Lost over the end of a line: whether something came that never ended."""
        self.unended = self.half_line()
        if self.unended:
            self._lose(f'answered "{self.unended}"{asked} without the line end that its profile expects')
        return bool(self.unended)

    def _lose(self, reason: str) -> None:
        self.phase = Phase.LOST
        self.reason = reason

    def _too_late(self, lines: list[bytes]) -> None:
        room = max(LATE_KEPT - len(self.late), 0)
        self.late.extend(as_text(line) for line in lines[:room])


_IDLE = Phase.IDLE
_ASKED = Phase.ASKED
