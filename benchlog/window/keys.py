"""Every key and what it does: the defaults, a person's own bindings, and which page hears which.

A foot switch arrives as a key like any other. Two keys cannot be taken away: Escape and F12 cut while a run
is live, whatever else is bound to them.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cache
from typing import ClassVar

from PySide6.QtCore import QKeyCombination, Qt
from PySide6.QtGui import QKeyEvent, QKeySequence

from benchlog.errors import WATCH
from benchlog.textfile import key

FaultAt = tuple[str, str, str]


class Action(StrEnum):
    """What a key can ask for; the code word stands in a person's key file."""

    CUT = "cut"
    GO = "go"
    NEXT = "next"
    UNDO = "undo"
    LIFTED = "lifted"
    SKIP = "skip"
    NULL_LEADS = "null_leads"
    HANDS_FREE = "hands_free"
    SHIFT_BACK = "shift_back"
    SHIFT_ON = "shift_on"
    OVER_RANGE = "over_range"
    HOLD = "hold"
    BACK = "back"
    OFF = "off"
    NO = "no"
    NOTE = "note"
    CLIP = "clip"
    TRIMMER = "trimmer"
    IDLE_SET = "idle_set"
    AGAIN = "again"
    LIMIT = "limit"
    OVERRIDE = "override"
    HOMING = "homing"
    SIDE = "side"
    ACCOUNT = "account"
    COPY = "copy"
    LAST_SECONDS = "last_seconds"
    END = "end"
    UP = "up"
    DOWN = "down"
    TO_UNIT = "to_unit"
    TO_BENCH = "to_bench"
    TO_PARTS = "to_parts"
    TO_POWER_UP = "to_power_up"
    TO_PAST_RUNS = "to_past_runs"
    TO_KEYS = "to_keys"
    TO_WIRING = "to_wiring"
    MUTE = "mute"
    START_RECORDER = "start_recorder"
    STAGES = "stages"
    BESIDE = "beside"
    EARLIER = "earlier"
    REFERENCE = "reference"
    TAKE_AWAY = "take_away"
    DELETE = "delete"
    RUNS_OF_PART = "runs_of_part"
    MORE = "more"
    LCR = "lcr"
    ORDER = "order"
    ROUNDS = "rounds"
    CHARGE = "charge"
    TAKE_IN = "take_in"
    PASTE = "paste"
    OPEN_LIST = "open_list"
    FIT = "fit"
    SHOULD_READ = "should_read"
    HISTORY = "history"
    COMPARE = "compare"
    FIND = "find"


@dataclass(frozen=True, slots=True)
class About:
    """One line of the page of all keys: where it holds, what it does, its default keys."""

    action: Action
    where: str
    what: str
    keys: tuple[str, ...]


EVERYWHERE, PARTS, POWER_UP, AFTER = "everywhere", "parts", "power-up", "after a cut"
UNIT, PAST = "unit", "past runs"

ALL = (
    About(Action.CUT, EVERYWHERE, "cut: everything off, while a run is live", ("F12", "Esc")),
    About(Action.TO_UNIT, EVERYWHERE, "to the unit", ("F2",)),
    About(Action.TO_BENCH, EVERYWHERE, "to the bench", ("F3",)),
    About(Action.TO_PARTS, EVERYWHERE, "to the parts", ("F4",)),
    About(Action.TO_POWER_UP, EVERYWHERE, "to the power-up", ("F5",)),
    About(Action.TO_PAST_RUNS, EVERYWHERE, "to past runs", ("F6",)),
    About(Action.TO_KEYS, EVERYWHERE, "all keys", ("F1",)),
    About(Action.TO_WIRING, EVERYWHERE, "how relay and pedal are wired", ("F10",)),
    About(Action.MUTE, EVERYWHERE, "sound off and on", ("F8",)),
    About(Action.START_RECORDER, EVERYWHERE, f"start {WATCH}, where it does not run", ("F7",)),
    About(Action.GO, UNIT, "take it in; then on to the next place of the job", ("Enter", "Return")),
    About(Action.NEXT, UNIT, "past the parts, straight to the power-up", ("+",)),
    About(Action.GO, PARTS, "take the reading, or store what is typed", ("Enter", "Return")),
    About(Action.NEXT, PARTS, "next part (typed: over range)", ("+",)),
    About(Action.UNDO, PARTS, "undo (typed: flip the sign)", ("-", "Backspace")),
    About(Action.LIFTED, PARTS, "lifted, or soldered back (typed: step the prefix)", ("*",)),
    About(Action.SKIP, PARTS, "skip (typed: next value)", ("/",)),
    About(Action.NULL_LEADS, PARTS, "null the leads: hold the tips together", ("F9",)),
    About(Action.HANDS_FREE, PARTS, "hands-free on and off (on the pad: . then Enter)", ("F11",)),
    About(
        Action.SHIFT_BACK,
        PARTS,
        "this reading is none: those after it one part back (. then *)",
        ("Shift+F11",),
    ),
    About(
        Action.SHIFT_ON,
        PARTS,
        "this part was left out: its reading and those after it one on (. then /)",
        ("Ctrl+F11",),
    ),
    About(Action.RUNS_OF_PART, PARTS, "past runs in which this part was taken", ("Ctrl+R",)),
    About(Action.MORE, PARTS, "one more measure of this part, such as ESR or leakage", ("Ctrl+M",)),
    About(Action.LCR, PARTS, "the next frequency of the LCR meter whose readings are typed", ("Ctrl+K",)),
    About(Action.FIND, PARTS, "find parts by words, and go over those alone", ("Ctrl+L",)),
    About(Action.ORDER, PARTS, "the next order: by number, as listed, in pairs", ("Ctrl+P",)),
    About(Action.ROUNDS, PARTS, "the rounds of this visit: go on with one", ("Ctrl+G",)),
    About(Action.CHARGE, PARTS, "before ohms: what reservoirs and nodes hold, in volts", ("Ctrl+D",)),
    About(Action.TAKE_IN, PARTS, "parts from a list: CSV, TSV or a workbook", ("Ctrl+I",)),
    About(Action.PASTE, PARTS, "parts from a table that was copied", ("Ctrl+V",)),
    About(Action.OPEN_LIST, PARTS, "the open list: what must be put back; again: away", ("Home", "Ctrl+O")),
    About(Action.FIT, PARTS, "another part in its place, with its marking and why", ("Ctrl+F",)),
    About(Action.SHOULD_READ, PARTS, "what it should read, from elsewhere", ("Ctrl+S",)),
    About(Action.HISTORY, PARTS, "this part over the visits", ("Ctrl+H",)),
    About(Action.COMPARE, PARTS, "all parts as found, as left, and the other side", ("Ctrl+B",)),
    About(Action.UP, PARTS, "the part above", ("Up",)),
    About(Action.DOWN, PARTS, "the part below", ("Down",)),
    About(Action.GO, POWER_UP, "do what is offered: next stage, done, prove, begin", ("Enter", "Return")),
    About(Action.NO, POWER_UP, "not done, not heard; a spot: type it", ("/",)),
    About(Action.HOLD, POWER_UP, "hold here, go on", ("0",)),
    About(Action.BACK, POWER_UP, "back one stage", ("-",)),
    About(Action.OFF, POWER_UP, "switch off in good order", ("*",)),
    About(Action.NOTE, POWER_UP, "a note", ("+", "N")),
    About(Action.CLIP, POWER_UP, "moving a clip: its trace rests; again: it is on", ("M",)),
    About(Action.TRIMMER, POWER_UP, "adjusting: a trimmer is turned", ("A",)),
    About(
        Action.IDLE_SET, POWER_UP, "an idle is set, and must not fall from now on; again: it is not", ("I",)
    ),
    About(Action.LIMIT, POWER_UP, "a limit: tighter, or looser with a reason", ("L",)),
    About(Action.AGAIN, POWER_UP, "after a trip: up again with short dwells; again: full dwells", ("G",)),
    About(Action.OVERRIDE, POWER_UP, "a cold check: go on without it, kept in the run", ("O",)),
    About(Action.HOMING, POWER_UP, "homing: a tone that follows the trimmer; again: quiet", ("T",)),
    About(Action.SIDE, POWER_UP, "the next figure that is set: the other side", ("S",)),
    About(Action.ACCOUNT, POWER_UP, "the run on one page, after its close; again: its graph", ("P",)),
    About(Action.COPY, POWER_UP, "copy the page of the run", ("Ctrl+C",)),
    About(Action.EARLIER, POWER_UP, "earlier runs beneath the graph: out of sight, and back", ("H",)),
    About(Action.LAST_SECONDS, AFTER, "the last ten seconds", ("5",)),
    About(Action.END, AFTER, "leave this page", ("Enter", "Return", "End")),
    About(Action.NOTE, AFTER, "a note", ("+", "N")),
    About(Action.UP, PAST, "the run above", ("Up",)),
    About(Action.DOWN, PAST, "the run below", ("Down",)),
    About(Action.GO, PAST, "open the run", ("Enter", "Return")),
    About(Action.BACK, PAST, "back to the list", ("Backspace",)),
    About(Action.LAST_SECONDS, PAST, "the ten seconds before off", ("5",)),
    About(Action.NOTE, PAST, "a note, marked as written later", ("N",)),
    About(Action.FIND, PAST, "find runs by words", ("Ctrl+F",)),
    About(Action.STAGES, PAST, "the run stage by stage, or its graph", ("T",)),
    About(Action.ACCOUNT, PAST, "the run on one page, or its graph", ("P",)),
    About(Action.COPY, PAST, "copy the page of the run", ("Ctrl+C",)),
    About(Action.BESIDE, PAST, "other runs beside this one: which of them; again: put the list away", ("C",)),
    About(Action.REFERENCE, PAST, "make it the reference that later plans expect, or no more", ("R",)),
    About(Action.TAKE_AWAY, PAST, "take away: CSV or a picture", ("A",)),
    About(Action.DELETE, PAST, "delete the run; it can be brought back", ("Del",)),
    About(Action.UNDO, PAST, "undo: delete or reference", ("Ctrl+Z",)),
)
"""The page of all keys, in its order; the number pad's keys are the same as those beside the letters."""

OF_GRAPH = (
    (("+", "-"), "closer, further away"),
    (("Left", "Right"), "slide along"),
    (("Shift+Left", "Shift+Right"), "move the line whose values are told"),
    (("Home", "End"), "the whole run; the newest again"),
    (("1", "2"), "put the first, the second cursor at that line"),
    (("3",), "take both cursors away"),
    (("K",), "count the times from: the run, its stages, the clock"),
    (("S",), "lay other runs on it by stage, or by the start"),
    (("H",), "other runs out of sight, and back"),
)
"""Keys of a graph, which nobody binds: they act while it has the focus, and on the page of past runs anywhere."""


@dataclass(frozen=True, slots=True)
class KeyFile:
    """A person's own keys: which keys do what, in place of the usual ones."""

    FILE: ClassVar[str] = "benchlog keys"
    VERSION: ClassVar[int] = 1

    binding: dict[str, str] = key("what a key does, by its name, such as F13", default_factory=dict)

    def faults(self) -> Iterable[FaultAt]:
        """A key nobody knows, or an action that is none."""
        for name, action in self.binding.items():
            if code_of(name) is None:
                yield f"binding.{name}", "is no key", "name it as in F13, Ctrl+T, PgDown"
            if action not in tuple(Action):
                yield (
                    f"binding.{name}",
                    f"{action!r} is nothing a key can do",
                    f"use one of {', '.join(Action)}",
                )


@dataclass(frozen=True, slots=True)
class Keys:
    """Which action each key stands for, by place; a person's own keys go before the usual ones.

    A key is bound to an action, and so in every place that shows it; elsewhere it stays what it was.
    """

    own: Mapping[str, str] = field(default_factory=dict)

    def action(self, event: QKeyEvent, *places: str) -> Action | None:
        """What a key press asks for in these places, the first place first; None where nothing."""
        code = combination(event)
        for name, action in self.own.items():
            if code_of(name) == code and any(_acts(action, place) for place in places):
                return Action(action)
        for place in places:
            for about in ALL:
                if about.where == place and any(code_of(name) == code for name in about.keys):
                    return about.action
        return None

    def name(self, action: Action, place: str) -> str:
        """The key to draw beside an action; empty where no key does it."""
        for about in ALL:
            if about.action is action and about.where == place:
                return next(iter(self.all_names(about)), "")
        return ""

    def all_names(self, about: About) -> list[str]:
        """Every key that does it."""
        mine = [name for name, bound in self.own.items() if bound == about.action]
        others = [name for name, bound in self.own.items() if bound != about.action]
        taken = {code_of(name) for name in others if _acts(self.own[name], about.where, EVERYWHERE)}
        return mine + [name for name in about.keys if code_of(name) not in taken]


def _acts(action: str, *places: str) -> bool:
    """Whether an action is one of these places': it acts where it is shown, and nowhere else."""
    return any(about.action == action and about.where in places for about in ALL)


@cache
def code_of(name: str) -> int | None:
    """The key a name stands for, with its modifiers; None where it is no single key."""
    sequence = QKeySequence.fromString("Num+Enter" if name == "Enter" else name)
    if name == "Enter":
        return int(Qt.Key.Key_Enter)
    if sequence.count() != 1:
        return None
    found = sequence[0]  # type: ignore[index]  # its stubs do not know that it can be indexed
    return None if found.key() == Qt.Key.Key_unknown else found.toCombined()


def combination(event: QKeyEvent) -> int:
    """The key of an event with its modifiers; the number pad and a shift that only makes a sign do not count."""
    modifiers = event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier
    if event.text() and not event.text().isalnum() and event.text().isprintable():
        modifiers &= ~Qt.KeyboardModifier.ShiftModifier
    return QKeyCombination(modifiers, Qt.Key(event.key())).toCombined()


def is_cut(event: QKeyEvent, keys: Keys) -> bool:
    """Whether a key press is the cut: Escape and F12 always, besides what a person has bound to it."""
    if event.key() in (Qt.Key.Key_Escape, Qt.Key.Key_F12):
        return True
    return keys.action(event, EVERYWHERE) is Action.CUT
