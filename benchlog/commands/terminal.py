"""A person at a terminal: prompts printed, answers typed; and what happens, told line by line."""

import sys
import threading
from collections.abc import Callable
from typing import TextIO

import msgspec

from benchlog.commands.conduct import Controls
from benchlog.domain.observed import Observation
from benchlog.domain.stages import State
from benchlog.errors import BadInput, Fault
from benchlog.recorder import messages

UNSAID = ("meter", "asked", "off", "closed", "moving", "steady", "may sleep")
"""Events a person at the terminal has heard of already, by another line."""

KEYS = {"": "next", "next": "next", "h": "hold", "r": "resume", "b": "back", "o": "off", "q": "close"}
YES, NO = ("", "y", "yes"), ("n", "no")

_TELLS: dict[str, Callable[[str], messages.Request]] = {
    "clip": lambda name: messages.Clip(id=0, trace=name),
    "trimmer": lambda _: messages.Trimmer(id=0),
    "idle": lambda name: messages.IdleSet(id=0, trace=name),
    "saw": lambda what: messages.Observe(id=0, what=what.lower()),
}
"""What is told of the live bench, by its first word."""
_SEEN = frozenset(one.value for one in Observation)


class Terminal:
    """A person who types; lines are read in a thread of their own, where nothing waits for anything.

    A line answers the open prompt (Enter: done, n: not), or it is an act: Enter next, h hold, r resume,
    b back, o off, q close, c cut; `clip +B` as that clip is taken in hand and again as it is on, `trimmer` as one
    is turned, `idle L` as the idle of that trace is set and again where it is not; `saw lamp dark` tells what was
    seen, heard or felt. Where a spot is to be measured any other line is what was read there, and `skip` leaves it
    out. That the unit is off after a cut must be typed out: the Enter that was meant for
    another prompt must not say so. Of several prompts the last one counts, but none takes that one's place.

    Where standard input has ended nobody is there. Prompts are answered no, and the run goes off at once, unless
    it goes up `by_itself`: then it goes off where it would need a person to go on.
    """

    def __init__(
        self,
        *,
        by_itself: bool,
        lines: TextIO | None = None,
        tell: Callable[[str], None] | None = None,
    ) -> None:
        self._by_itself = by_itself
        self._tell = tell if tell is not None else say
        self._lines = lines if lines is not None else sys.stdin
        # The recorder's word comes on one thread, the person's on another.
        self._lock = threading.Lock()
        self._open: messages.Prompt | None = None
        self._ended = False
        self._typed = False
        self._offered = -1
        self._spot = ""
        """The spot that is to be measured now; empty where none is."""
        self._hinted: set[str] = set()

    def attend(self, run: Controls) -> None:
        """Begin to listen; what is typed is done to `run`."""
        self._run = run
        threading.Thread(target=self._listen, args=(run,), name="terminal", daemon=True).start()

    def asked(self, prompt: messages.Prompt) -> None:
        """Print what is asked; the answer is typed, and no where nobody is there to type it."""
        typed_out = _typed_out(prompt)
        with self._lock:
            urgent = self._open is not None and _typed_out(self._open)
            taken = not self._ended and (typed_out or not urgent)
            if taken:
                self._open = prompt
        self._tell(f"> {prompt.text}  [{'off' if typed_out else 'Enter'}: done, n: not]")
        if not taken:
            self._run.answer(prompt.prompt, False)

    def never_mind(self) -> None:
        """Let go of an open prompt: the recorder has taken it back."""
        with self._lock:
            self._open = None

    def stands(self, stage: messages.Stage) -> None:
        """Ask for what only a person can tell of this stage, once: a spot, or what they see."""
        with self._lock:
            before, self._spot = self._spot, stage.spot
        if stage.spot and stage.spot != before:
            self._ask_spot()
        if stage.state == State.SETTING:
            self._hinted.clear()
        elif stage.state == State.DWELLING:
            unseen = [what for what, holds, _ in stage.waits if what in _SEEN and not holds]
            for what in unseen:
                if what not in self._hinted:
                    self._hinted.add(what)
                    self._tell(f"> Say when it is so.  [saw {what}]")
            if (stage.spot or unseen) and self._by_itself and self._ended:
                # It would stand there live for good.
                self._run.act("off", -1)

    def _ask_spot(self) -> None:
        self._tell(f"> Measure {self._spot}.  [what it reads, or skip]")

    def goes_on(self, stage: messages.Stage) -> str:
        """Next where the run goes on by itself, off or close where only a person could go on and none is there."""
        if stage.state == State.HELD:
            # Whoever has typed before can type again.
            return "off" if self._by_itself and (self._ended or not self._typed) else ""
        if stage.state == State.STANDING:
            return self._stands(stage)
        if self._by_itself:
            return "next"
        if stage.index != self._offered and not self._ended:
            self._offered = stage.index
            self._tell("> Ready for the next stage.  [Enter: next, h: hold, b: back, o: off, c: cut]")
        return ""

    def _stands(self, stage: messages.Stage) -> str:
        """The source was not set, or the unit not switched on: it is off, and only a person may try again."""
        if self._by_itself:
            return "close"
        self._offered = stage.index
        self._tell("> Not done: the run stands where it was.  [Enter: try again, q: close the run]")
        return ""

    def refused(self, error: BadInput) -> None:
        """Say why what was typed is not done; a spot is asked for again."""
        self._tell(f"> {error}")
        if self._spot:
            self._ask_spot()

    def _listen(self, run: Controls) -> None:
        for line in self._lines:
            words = line.split(maxsplit=1)
            what = words[0].lower() if words else ""
            if what in _TELLS:
                self._typed = True
                run.tell(_TELLS[what](words[1].strip() if len(words) > 1 else ""))
            else:
                self._heard(line.strip(), run)
        with self._lock:
            self._ended = True
            prompt, self._open = self._open, None
        if not self._by_itself:
            run.leave()
        if prompt is not None:
            run.answer(prompt.prompt, False)

    def _heard(self, typed: str, run: Controls) -> None:
        self._typed = True
        word = typed.lower()
        if word == "c":
            run.cut()
            return
        with self._lock:
            prompt = self._open
            answers = prompt is not None and word in (*(("off",) if _typed_out(prompt) else YES), *NO)
            self._open = None if answers else prompt
            spot = self._spot
        if prompt is not None and answers:
            run.answer(prompt.prompt, word not in NO)
        elif word == "" and prompt is not None:
            self._tell("> Type off once it is off.")
        elif word == "" and self._offered < 0:
            self._tell("> Not ready yet.")
        elif word in KEYS:
            run.act(KEYS[word], self._offered)
        elif spot and prompt is None:
            run.tell(messages.Spot(id=0, name=spot, text="" if word == "skip" else typed))
        else:
            self._tell("> Type Enter, h, r, b, o, q or c.")


def _typed_out(prompt: messages.Prompt) -> bool:
    """Whether Enter alone will not do: the unit is to be off, and not for practice."""
    return prompt.kind == "switch_off" and not prompt.data.get("drill")


def say(text: str) -> None:
    """Print a line at once."""
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


def say_aside(text: str) -> None:
    """Print a line on standard error, where standard output is for a program to read."""
    sys.stderr.write(f"{text}\n")
    sys.stderr.flush()


def show_json(message: messages.Message) -> None:
    """Print a message as it came, one JSON object a line."""
    say(msgspec.json.encode(message).decode())


def show_text(message: messages.Message) -> None:
    """Print what a person wants to know of a message: events, the trip, notices."""
    if isinstance(message, messages.Event) and message.kind not in UNSAID:
        seconds = message.t / 1e9
        say(f"{int(seconds // 60):3d}:{seconds % 60:04.1f}  {message.text}")
    elif isinstance(message, messages.Notice):
        say(f"{'!!' if message.grave else ' !'} {Fault(message.place, message.problem, message.fix)}")
    elif isinstance(message, messages.Meter) and message.state != "open":
        say(f" ! {message.job}: {message.state} ({message.text})")
