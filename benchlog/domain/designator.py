"""Designators: their order as a person counts, and which part is the same one on the other side.

A designator is free text (R101, Q7L, "+B1", "big blue by fuse"); case and blanks do not count.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from benchlog.errors import BadInput, Fault

MOST_IN_A_RUN = 2000
"""No board has more parts of one letter in a row."""

_ARROW = "<->"
_RUNS = re.compile(r"([0-9]+)")
_LAST_DIGITS = re.compile(r"([0-9]+)[^0-9]*$")
_MARKS = re.compile(r"([#*])")
_NAME = r"[A-Za-z]+[0-9]+[A-Za-z]*"
# Behind a name alone: as digits only where it touches, or R12 -4.7 V would be a run.
_TO = rf"(?:\s*(?:-|\.{{2,3}}|\bto\b)\s*{_NAME}|(?:-|\.{{2,3}})[0-9]{{2,}})"
_ITEM = rf"{_NAME}{_TO}?"
_SEVERAL = re.compile(rf"({_ITEM}(?:(?:\s*[,;]\s*|\s*&\s*|\s+and\s+){_ITEM})*)(?=[\s=]|$)")
_BLANK_LIST = re.compile(rf"{_NAME}(?:\s+{_NAME})+")
_ITEMS = re.compile(rf"({_NAME})(?:\s*(?:-|\.{{2,3}}|\bto\b)\s*([A-Za-z]*)([0-9]+)([A-Za-z]*))?")
_PIECES = re.compile(r"([A-Za-z]+)([0-9]+)([A-Za-z]*)")
_DASHES = str.maketrans(
    {"\u2013": "-", "\u2014": "-", "\u2212": "-", "\u2010": "-", "\u2011": "-", "\u2026": ".."}
)


def fold(designator: str) -> str:
    """The form in which two spellings of one designator are equal."""
    return " ".join(designator.split()).casefold()


def number_in(designator: str) -> str:
    """The last digits in a name: 101 of Q101BE; empty where there are none."""
    found = _LAST_DIGITS.search(designator)
    return found[1] if found else ""


def natural(designator: str) -> tuple[tuple[str, int, str], ...]:
    """A sort key under which R2 comes before R10."""
    pieces = _RUNS.split(fold(designator))
    key = []
    for at in range(0, len(pieces), 2):
        digits = pieces[at + 1].lstrip("0") if at + 1 < len(pieces) else ""
        key.append((pieces[at], len(digits), digits))
    return tuple(key)


def leading(text: str) -> tuple[tuple[str, ...], str]:
    """The designators that a line begins with, and what stands behind them: `R301-R348, R350 4k7 5%`.

    Runs are written `R301-R348`, `R301..R348`, `R301 to R348` or `R301-348`, lists with commas. No designators
    where it begins with one alone, or with something else. `BadInput` for a run that goes backwards or too far.
    """
    clean = " ".join(text.translate(_DASHES).split())
    found = _SEVERAL.match(clean)
    if not found:
        return (), text
    names = _spread(found[1])
    return (names, clean[found.end() :].strip()) if len(names) > 1 else ((), text)


def several(text: str) -> tuple[str, ...]:
    """All designators of a text that holds nothing else: a run, a list, `R1 R2 R3`; the text itself where it is one.

    Raises `BadInput` as `leading` does.
    """
    clean = " ".join(text.translate(_DASHES).split())
    if _BLANK_LIST.fullmatch(clean):
        return tuple(clean.split())
    names, rest = leading(clean)
    return names if names and not rest else (" ".join(text.split()),)


def _spread(text: str) -> tuple[str, ...]:
    """Every designator of a list of names and runs, in its order."""
    names: list[str] = []
    for found in _ITEMS.finditer(text):
        first, letters, last, tail = found.groups()
        names += [first] if last is None else _run(found[0], first, letters, last, tail)
    return tuple(names)


def _run(text: str, first: str, letters: str, last: str, tail: str) -> list[str]:
    """The designators from a first one to a last one, leading zeros kept."""
    pieces = _PIECES.fullmatch(first)
    assert pieces is not None  # noqa: S101 - it was found as a name
    head, digits, end = pieces.groups()
    how = "write it as in R301-R348"
    if (letters or tail) and (fold(letters), fold(tail)) != (fold(head), fold(end)):
        raise BadInput(f'"{text}"', "begins and ends with different letters", how)
    low, high = int(digits), int(last)
    if high <= low:
        raise BadInput(f'"{text}"', "runs backwards" if high < low else "begins and ends with one part", how)
    if high - low >= MOST_IN_A_RUN:
        raise BadInput(
            f'"{text}"', f"names {high - low + 1} parts", f"name at most {MOST_IN_A_RUN} in one go"
        )
    width = len(digits) if digits.startswith("0") else 0
    return [f"{head}{number:0{width}d}{end}" for number in range(low, high + 1)]


@dataclass(frozen=True, slots=True)
class _Pattern:
    """One side of a rule: fixed texts with marks between them, `#` for a digit and one `*` for any text."""

    texts: tuple[str, ...]
    marks: tuple[str, ...]

    @classmethod
    def of(cls, text: str) -> "_Pattern":
        pieces = _MARKS.split(" ".join(text.split()))
        return cls(tuple(pieces[::2]), tuple(pieces[1::2]))

    def match(self, designator: str, *, exact: bool) -> tuple[str, ...] | None:
        """What stands at the marks, or None where it does not fit; `exact` lets the case count."""
        free = len(designator) - sum(map(len, self.texts)) - self.marks.count("#")
        if free < 0 or (free and "*" not in self.marks):
            return None
        found, at = [], 0
        for place, text in enumerate(self.texts):
            there = designator[at : at + len(text)]
            if there != text and (exact or there.casefold() != text.casefold()):
                return None
            at += len(text)
            if place < len(self.marks):
                width = free if self.marks[place] == "*" else 1
                found.append(designator[at : at + width])
                at += width
        fits = all(
            mark == "*" or (one.isascii() and one.isdigit())
            for mark, one in zip(self.marks, found, strict=True)
        )
        return tuple(found) if fits else None

    def fill(self, found: Iterable[str]) -> str:
        """The designator with these texts at the marks."""
        return "".join(piece for pair in zip(self.texts, (*found, ""), strict=True) for piece in pair)


class Mirror:
    """Which part is the same one on the other side.

    `rules` are texts such as `R1## <-> R2##` (`#` is one digit) and `*L <-> *R` (`*` is any text, once
    a side). They hold both ways; a fit in the same case goes first, then the rule with more fixed text
    ("L+ rail" fits `L+ * <-> R+ *` rather than `*L <-> *R`). `table` names single pairs and goes before the
    rules. Raises `BadInput` with every rule that cannot be read.
    """

    def __init__(self, rules: Iterable[str] = (), table: Mapping[str, str] | None = None) -> None:
        faults: list[Fault] = []
        self._sides: list[tuple[_Pattern, _Pattern]] = []
        for rule in rules:
            left, arrow, right = rule.partition(_ARROW)
            first, second = _Pattern.of(left), _Pattern.of(right)
            problem = _problem(first, second) if arrow else f"has no {_ARROW}"
            if problem:
                faults.append(Fault(f'"{rule}"', problem, "write a rule such as R1## <-> R2## or *L <-> *R"))
            self._sides += [(first, second), (second, first)]
        if faults:
            raise BadInput.of(faults)
        self._sides.sort(key=lambda pair: -sum(map(len, pair[0].texts)))
        self._table: dict[str, str] = {}
        for one, other in (table or {}).items():
            self._table[fold(one)] = other
            self._table.setdefault(fold(other), one)

    def other(self, designator: str) -> str | None:
        """The designator of the same part on the other side, or None where it has none."""
        clean = " ".join(designator.split())
        if fold(clean) in self._table:
            return self._table[fold(clean)]
        for exact in (True, False):
            for side, opposite in self._sides:
                found = side.match(clean, exact=exact)
                if found is not None:
                    return opposite.fill(found)
        return None


def _problem(first: _Pattern, second: _Pattern) -> str:
    """What is wrong with a rule, or an empty text."""
    if first.marks != second.marks:
        return "does not have the same # and * in the same order on both sides"
    if first.marks.count("*") > 1:
        return "has more than one *"
    same = [text.casefold() for text in first.texts] == [text.casefold() for text in second.texts]
    return "names the same part on both sides" if same else ""
