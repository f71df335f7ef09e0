"""Finding runs by what a person types: each word narrows, and is said as what it was understood.

There is no grammar. A word is looked for everywhere it could stand, and the answer says where it stood. Words are
matched from their beginning, so that a list narrows while one is typed.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

import numpy as np
import numpy.typing as npt

from benchlog.domain.sought_day import Days, days_in

Flags = npt.NDArray[np.bool_]
ABOUT_WORDS = ".,:;!?()[]{}\"'\N{HORIZONTAL ELLIPSIS}"
"""What stands around a word and is none of it; a sign before a name such as +B is."""
_VISIT = re.compile(r"0*(\d{1,9})")


class Sense(StrEnum):
    """Where a word can stand, in the words of the bench."""

    UNIT = "unit"
    VISIT = "visit"
    TAKEN = "part taken in it"
    OF_UNIT = "part of its unit"
    BOARD = "board"
    KIND = "kind"
    OUTCOME = "how it ended"
    PLAN = "plan"
    WORDS = "in what was written or happened"


TAKEN_ALONE = "taken"
"""Beside a part's name it leaves only the runs in which that part was taken."""
_REMEMBERED = 100
"""So many beginnings of words are remembered for each sense."""
_WHOLE = (Sense.TAKEN, Sense.OF_UNIT, Sense.VISIT)
"""Names: R1 is not the beginning of R101 as soon as there is an R1."""


@dataclass(frozen=True, slots=True)
class Findable:
    """A run as it can be found: its local day, and the small words of each sense, a blank before each."""

    day: date | None
    texts: Mapping[Sense, str]


@dataclass(frozen=True, slots=True)
class Found:
    """The answer: which runs, by their place; what each word was understood as; what is not understood, and why."""

    places: tuple[int, ...]
    understood: tuple[str, ...] = ()
    problems: tuple[str, ...] = ()

    @property
    def says(self) -> str:
        """All of it in a line or two."""
        return " · ".join((*self.problems, *self.understood))


class _Column:
    """The texts of one sense: many runs share one, so each is looked through once."""

    def __init__(self, texts: Sequence[str]) -> None:
        codes: dict[str, int] = {}
        places = [codes.setdefault(text, len(codes)) for text in texts]
        self._texts = [f"{text} " for text in codes]
        self._places = np.array(places, dtype=np.intp)
        self._known: dict[str, Flags] = {}

    def holds(self, word: str, *, whole: bool) -> Flags:
        """Where a word begins with this; where there is a whole one that is wanted, only that."""
        if whole:
            exact = self._flags(f" {word} ")
            if exact.any():
                return exact
        return self._flags(f" {word}")

    def _flags(self, needle: str) -> Flags:
        hits = self._known.get(needle)
        if hits is None:
            hits = self._look(needle)
            if len(self._known) >= _REMEMBERED:
                self._known.clear()
            self._known[needle] = hits
        return hits[self._places] if len(hits) else np.zeros(0, np.bool_)

    def _look(self, needle: str) -> Flags:
        """Look only where the beginning of it stood, as far as that was asked for: words are typed letter by letter."""
        begun = max((known for known in self._known if needle.startswith(known)), key=len, default="")
        hits = self._known[begun].copy() if begun else np.ones(len(self._texts), np.bool_)
        for place in np.flatnonzero(hits):
            hits[place] = needle in self._texts[place]
        return hits


class Finder:
    """All runs, made ready to be looked through at every key; no file is touched and nothing is changed."""

    def __init__(self, runs: Sequence[Findable]) -> None:
        self._count = len(runs)
        self._columns = {sense: _Column([run.texts.get(sense, "") for run in runs]) for sense in Sense}
        days = [(run.day.year, run.day.month, run.day.day) if run.day else (0, 0, 0) for run in runs]
        self._days = np.array(days, dtype=np.int32).reshape(-1, 3)

    def find(self, typed: str, today: date) -> Found:
        """The runs in which each of the words stands somewhere, in their order."""
        words = typed.casefold().split()
        kept = np.ones(self._count, np.bool_)
        understood: list[str] = []
        problems: list[str] = []
        alone = TAKEN_ALONE in words and any(self._is_part(word) for word in words)
        at = 0
        while at < len(words):
            days, used = days_in(words[at:], today)
            word = " ".join(words[at : at + max(used, 1)])
            at += max(used, 1)
            if not used:
                word = word.strip(ABOUT_WORDS)
            if not word or (alone and word == TAKEN_ALONE):
                continue
            flags, said = self._of(word, days if used else None, alone=alone)
            (understood if flags.any() else problems).append(said)
            kept &= flags
        if understood and not problems and not kept.any():
            problems.append("no run has all of these together")
        return Found(tuple(map(int, np.flatnonzero(kept))), tuple(understood), tuple(problems))

    def _is_part(self, word: str) -> bool:
        return any(
            bool(self._columns[sense].holds(word, whole=True).any()) for sense in (Sense.TAKEN, Sense.OF_UNIT)
        )

    def _of(self, word: str, days: Days | None, *, alone: bool) -> tuple[Flags, str]:
        """Where a word stands, and what is said of it."""
        if days is not None and days.problem:
            return np.zeros(self._count, np.bool_), f"{word}: {days.problem}"
        senses = [Sense.TAKEN] if alone and self._is_part(word) else list(Sense)
        found: list[tuple[str, Flags]] = []
        if days is not None:
            found.append((f"begun {days.said}", self._begun(days)))
        # Of a date that is more than one word the words alone say nothing.
        for sense in senses if " " not in word else ():
            sought = self._visit(word) if sense is Sense.VISIT else word
            if sought:
                found.append((str(sense), self._columns[sense].holds(sought, whole=sense in _WHOLE)))
        hits = [(name, flags) for name, flags in found if flags.any()]
        if not hits:
            named = (
                f"begun {days.said}"
                if days is not None
                else f"no run knows \N{LEFT DOUBLE QUOTATION MARK}{word}\N{RIGHT DOUBLE QUOTATION MARK}"
            )
            return np.zeros(
                self._count, np.bool_
            ), f"{word}: no run was {named}" if days is not None else named
        said = ", ".join(f"{name} ({np.count_nonzero(flags)})" for name, flags in hits)
        return np.logical_or.reduce([flags for _, flags in hits]), f"{word}: {said}"

    @staticmethod
    def _visit(word: str) -> str:
        """The number of a visit without its zeros in front; the word itself where it is none."""
        found = _VISIT.fullmatch(word)
        return found[1] if found else word

    def _begun(self, days: Days) -> Flags:
        flags = self._days[:, 0] > 0
        for column, wanted in enumerate((days.year, days.month, days.day)):
            if wanted is not None:
                flags = flags & (self._days[:, column] == wanted)
        return flags
