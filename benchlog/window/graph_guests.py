"""Other runs in a graph: each laid on the run it shows, fainter the older it is, and named by a letter. No Qt.

A letter stands along every line of theirs: so they are told apart without colour, and never taken for the run itself.
"""

import math
import string
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from benchlog.domain.aligning import By, Piece, pieces
from benchlog.window.graph_scene import StageMark
from benchlog.window.points import NO_POINTS, Points
from benchlog.window.series import Series, Stroke, stroke

MOST = 12
"""So many can be told apart by a letter in one graph; more are a grey field."""
STRONG, FAINT, FAINTEST = 0, 1, 2
"""Ranks of a line: the newest run's, the next one's, and every other's."""
NAMED = 3
"""So many are told by their full names above the graph; more would take its room."""
MARGIN = 0.5
"""So much of what is in view is read besides on either side, so that a picture that moves on seldom asks."""


@dataclass(frozen=True, slots=True, eq=False)
class Guest:
    """Another run as a graph takes it.

    Attributes:
        name: what it is called to a person; `short` where there is little room.
        started: when it began, UTC as the library writes it: the newest has the strongest ink.
        points: its readings by the name of the line that they are held against, in its own time.
        marks: when it reached its stages, in its own time.
        aside: never strong, however new: another unit.
        file: where more of it than these points can be read; `rows` the numbers that its traces have there.
    """

    name: str
    short: str
    started: str
    points: Mapping[str, Points]
    marks: tuple[StageMark, ...] = ()
    aside: bool = False
    file: Path | None = None
    rows: Mapping[str, int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, eq=False)
class Wish:
    """What a graph would see more closely of a guest: from `t0` to `t1` of its own run's time, in so many columns.

    `laid` is how the guest lies on that time.
    """

    guest: Guest
    t0: float
    t1: float
    columns: int
    laid: tuple[Piece, ...]

    @property
    def parts(self) -> Iterator[tuple[Piece, float, float, int]]:
        """Each piece that is in view, from when to when of the guest's own time, and its columns."""
        for piece in self.laid:
            from_t, to_t = max(piece.from_t, self.t0 - piece.shift), min(piece.to_t, self.t1 - piece.shift)
            if to_t > from_t:
                yield piece, from_t, to_t, math.ceil(self.columns * (to_t - from_t) / (self.t1 - self.t0))


@dataclass(slots=True, eq=False)
class GuestLine:
    """A line of a guest in a panel: its letter, its rank, and its readings on this run's time."""

    letter: str
    rank: int
    series: Series
    _drawn: tuple[tuple[float, float, int], Stroke] | None = None

    def drawn(self, t0: float, t1: float, width: int) -> Stroke:
        """Its stroke over a stretch. While the picture stands still it is the one worked out before.

        A live graph is drawn twenty times a second and moves by whole columns: what was read long ago costs nothing.
        """
        asked = (t0, t1, width)
        if self._drawn is None or self._drawn[0] != asked:
            self._drawn = (asked, stroke(self.series.columns(t0, t1, width), t0, t1, width))
        return self._drawn[1]

    def look_closer(self, t0: float, t1: float, points: Points) -> None:
        """Lay over a stretch what was read of it from the guest's file."""
        self.series.look_closer(t0, t1, points)
        self._drawn = None


@dataclass(slots=True, eq=False)
class Guests:
    """Those of one graph.

    Attributes:
        by: what they are laid on the run by.
        hidden: whether they are out of sight for now.
        live: whether the run itself is live: then theirs end where its own line ends, and set no scale.
        rank: that of the run itself, fainter where one of them is newer.
    """

    by: By = By.STAGE
    hidden: bool = False
    live: bool = False
    started: str = ""
    all: tuple[Guest, ...] = ()
    _marks: tuple[StageMark, ...] = ()
    _lines: dict[str, list[GuestLine]] = field(default_factory=dict)
    _laid: list[tuple[Piece, ...]] = field(default_factory=list)
    _asked: dict[int, tuple[float, float, float]] = field(default_factory=dict)
    """From when to when, and in how wide columns, each guest's file was asked already."""

    def show(self, guests: Sequence[Guest]) -> None:
        """Show these in place of those before."""
        self.all = tuple(guests[:MOST])
        self._lay()

    def lay_on(self, marks: tuple[StageMark, ...]) -> None:
        """The run has reached these stages."""
        if marks != self._marks:
            self._marks = marks
            self._lay()

    def turn(self) -> None:
        """Lay them on the run by the other of the two."""
        self.by = By.START if self.by is By.STAGE else By.STAGE
        self._lay()

    @property
    def seen(self) -> bool:
        """Whether any of them is in the graph."""
        return bool(self.all) and not self.hidden

    @property
    def rank(self) -> int:
        """The rank of the run itself."""
        return FAINT if self.seen and not self.live and self._ranked[:1] not in ([], [-1]) else STRONG

    @property
    def labels(self) -> tuple[str, ...]:
        """What stands at their ends, by guest."""
        if not self.seen:
            return ()
        few = len(self.all) <= 2
        letters = zip(string.ascii_lowercase, self.all, strict=False)
        return tuple(f"{letter} {guest.short}" if few else letter for letter, guest in letters)

    @property
    def words(self) -> str:
        """What the letters stand for, and by what they are laid on the run."""
        if not self.all:
            return ""
        if self.hidden:
            return f"{len(self.all)} beside it, hidden: H shows"
        many = len(self.all) > NAMED
        named = [
            f"{letter}: {guest.short if many else guest.name}"
            for letter, guest in zip(string.ascii_lowercase, self.all, strict=False)
        ]
        laid = f"laid on it by {self.by} (S)"
        if self.by is By.STAGE and not self._lines:
            laid = "no stage in common: S lays it on by the start"
        return " \N{MIDDLE DOT} ".join([*named, laid, "H hides"])

    @property
    def names(self) -> str:
        """Their full names, a line each."""
        return "\n".join(
            f"{letter}: {guest.name}" for letter, guest in zip(string.ascii_lowercase, self.all, strict=False)
        )

    def of(self, name: str) -> Sequence[GuestLine]:
        """The lines that are held against one of the run's own."""
        return () if self.hidden else self._lines.get(name, ())

    def wishes(self, t0: float, t1: float, columns: int) -> list[Wish]:
        """What the files of those in sight could show more of, between two times in so many columns; each once."""
        found, width, span = [], (t1 - t0) / columns, t1 - t0
        for i, guest in enumerate(self.all if self.seen else ()):
            from_t, to_t, fine = self._asked.get(i, (t0, t0, 0.0))
            if guest.file is None or (from_t <= t0 and t1 <= to_t and fine <= 1.001 * width):
                continue
            if any(line.series.lacks(t0, t1, width) for line in self._of_guest(i)):
                from_t, to_t = t0 - MARGIN * span, t1 + MARGIN * span
                self._asked[i] = (from_t, to_t, width)
                found.append(Wish(guest, from_t, to_t, round((1.0 + 2.0 * MARGIN) * columns), self._laid[i]))
        return found

    def look_closer(self, wish: Wish, found: Mapping[str, Points]) -> None:
        """Take what a guest's file has of it; nothing where the guest is gone, or lies elsewhere by now."""
        for i, guest in enumerate(self.all):
            if guest is wish.guest and self._laid[i] == wish.laid:
                for name, points in found.items():
                    for line in self._of_guest(i, name):
                        line.look_closer(wish.t0, wish.t1, points)

    def _of_guest(self, i: int, name: str = "") -> Iterator[GuestLine]:
        """The lines of a guest, or those of them that are held against one of the run's own."""
        groups = (self._lines.get(name, []),) if name else self._lines.values()
        return (line for lines in groups for line in lines if line.letter == string.ascii_lowercase[i])

    @property
    def _ranked(self) -> list[int]:
        """Which guest is the newest, the next one, and so on; -1 is the run itself."""
        known = [(guest.started, i) for i, guest in enumerate(self.all) if not guest.aside]
        return [i for _, i in sorted([*known, (self.started, -1)], reverse=True)]

    def _lay(self) -> None:
        """Bring every reading to this run's time; some thousand numbers, done anew when a stage is reached."""
        order = [-1, *(i for i in self._ranked if i >= 0)] if self.live else self._ranked
        own = [(mark.t, mark.text) for mark in self._marks]
        self._lines, self._laid, self._asked = {}, [], {}
        for i, (letter, guest) in enumerate(zip(string.ascii_lowercase, self.all, strict=False)):
            rank = min(order.index(i), FAINTEST) if i in order else FAINTEST
            laid = pieces(own, [(mark.t, mark.text) for mark in guest.marks], self.by)
            self._laid.append(laid)
            for name, points in guest.points.items():
                series = Series()
                series.add(on_time_of(points, laid))
                if len(series):
                    self._lines.setdefault(name, []).append(GuestLine(letter, rank, series))


def on_time_of(points: Points, laid: Sequence[Piece]) -> Points:
    """Points of another run where its pieces lie; no line leads from one piece to the next."""
    found = NO_POINTS
    for piece in laid:
        first, last = np.searchsorted(points.t, (piece.from_t, piece.to_t), side="left")
        if last > first:
            joined = points.joined[first:last].copy()
            joined[0] = False
            part = Points(
                points.t[first:last] + piece.shift, points.value[first:last], joined, width=points.width
            )
            found = found.then(part)
    return found
