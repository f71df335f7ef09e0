"""What is written over and across the panels of a graph: stages, flags, names, limits, the crosshair.

Everything is placed by font metrics from the panels' rectangles, in logical pixels.
"""

from collections.abc import Sequence

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPainter, QPen, QPolygonF

from benchlog.window.graph_frame import Frame, Line, Pane
from benchlog.window.graph_scale import gathered, spread
from benchlog.window.graph_scene import Note
from benchlog.window.look import Look, Theme
from benchlog.window.series import Stroke

TEXT, TITLE = 13.0, 14.0
"""Pixel sizes of what is written in a graph."""

GAP = 6.0

LETTERS = 170.0
"""So many pixels lie between two letters along another run's line."""

NEAR = 6.0
"""A letter stands no nearer than so many pixels to a line that is not its own."""

STRENGTH = (1.0, 0.75, 0.45)
"""How much of its colour a line of each rank has, the rest being card."""


class Ink:
    """The fonts of a graph, measured once, and all that is written with them."""

    def __init__(self, look: Look) -> None:
        self.look = look
        self.font, self.bold = look.font(TEXT), look.font(TEXT, bold=True)
        self.title = look.font(TITLE, bold=True)
        self.metrics, self.bold_metrics = QFontMetricsF(self.font), QFontMetricsF(self.bold)
        self.title_metrics = QFontMetricsF(self.title)
        self.line = self.metrics.height()
        self._labels_width = 0.0

    @property
    def theme(self) -> Theme:
        """The colours of now."""
        return self.look.theme

    def head(self, *, flags: bool) -> float:
        """The height of what stands above the panels."""
        return (2.0 if flags else 1.0) * (self.line + 2.0) + 2.0

    def axis_width(self) -> float:
        """Room for the numbers at the left."""
        return self.metrics.horizontalAdvance("-00.00") + GAP

    def names_width(self, names: Sequence[str], labels: Sequence[str], most: float) -> float:
        """Room for the names at the right ends, `most` at most, before them for those of other runs."""
        widest = max((self.bold_metrics.horizontalAdvance(name) for name in names), default=0.0)
        several = ["abc"] if len(labels) > 2 else []  # as many of them together as `gathered` names
        widths = (self.metrics.horizontalAdvance(one) for one in (*labels, *several))
        self._labels_width = max(widths, default=-GAP) + GAP
        return min(widest + _SAMPLE + 2.0 * GAP + self._labels_width, most)

    # --- across all panels -----------------------------------------------------------------------

    def draw(
        self, painter: QPainter, frame: Frame, rects: Sequence[QRectF], width: float, bottom: float
    ) -> None:
        """Write everything in a picture so wide; what lies below `bottom` is out of view, and times stand above it."""
        if not rects:
            return
        across = QRectF(rects[0].topLeft(), rects[-1].bottomRight())
        seen = QRectF(across)
        seen.setBottom(min(across.bottom(), bottom - self.line - 6.0))
        self._marks(painter, frame, across)
        self._flags(painter, frame, across, width)
        self._cursors(painter, frame, seen)
        for pane, rect in zip(frame.panes, rects, strict=True):
            self._numbers(painter, pane, rect)
            self._title(painter, pane, rect)
            self._bounds(painter, pane, rect)
            self._letters(painter, pane, rect)
            self._labels(painter, pane, rect)
            self._names(painter, pane, rect, width - rect.right() - self._labels_width)
        self._times(painter, frame, seen, width, cut=seen != across)
        if frame.behind:
            self._way_back(painter, seen, width)
        if frame.cross is not None:
            self._cross(painter, frame, frame.cross, seen)

    def _times(self, painter: QPainter, frame: Frame, across: QRectF, width: float, *, cut: bool) -> None:
        """The times of the run below the panels, over what is cut off there."""
        if cut:
            painter.fillRect(QRectF(0.0, across.bottom(), width, self.line + 6.0), self.theme.page)
        self._write_with(painter, self.font, self.theme.soft)
        hint = self.metrics.horizontalAdvance(_BACK) + 2.0 * GAP if frame.behind else 0.0
        free = width - hint
        room = QRectF(0.0, across.bottom() + 4.0, 2.0 * self.line * 3.0, self.line)
        base = QRectF(0.0, across.bottom() + 4.0, across.left() - GAP, self.line)
        painter.drawText(base, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignTop, frame.base)
        taken = self.metrics.horizontalAdvance(frame.base) + GAP
        for t, word in frame.ticks:
            x = across.left() + frame.share(t) * across.width()
            painter.fillRect(QRectF(x, across.bottom(), 1.0, 4.0), self.theme.soft)
            room.moveLeft(x - room.width() / 2.0)
            half = self.metrics.horizontalAdvance(word) / 2.0
            if x + half > free or x - half < taken:
                continue
            painter.drawText(room, Qt.AlignmentFlag.AlignHCenter | Qt.AlignmentFlag.AlignTop, word)

    def _marks(self, painter: QPainter, frame: Frame, across: QRectF) -> None:
        """A dashed line for each stage, its name at the top as far as there is room up to the next."""
        pen = QPen(self.theme.soft, 0.0, Qt.PenStyle.CustomDashLine)
        pen.setDashPattern([4.0, 4.0])
        top = across.top() - self.line - 2.0
        free = across.right() + 1.0
        self._write_with(painter, self.font, self.theme.ink)
        for mark in reversed(frame.marks):
            share = frame.share(mark.t)
            if share > 1.0:
                continue
            seen = share >= 0.0
            x = across.left() + max(0.0, share) * across.width()
            if seen:
                painter.setPen(pen)
                painter.drawLine(QPointF(x, across.top() - self.line * 0.8), QPointF(x, across.bottom()))
            wide = self.metrics.horizontalAdvance(mark.text)
            if x + GAP / 2.0 + wide <= free:
                painter.setPen(self.theme.ink if seen else self.theme.soft)
                painter.drawText(QPointF(x + GAP / 2.0, top + self.metrics.ascent()), mark.text)
                free = x - GAP
            if not seen:
                break

    def _flags(self, painter: QPainter, frame: Frame, across: QRectF, width: float) -> None:
        """A flag for each thing that happened, with its words where there is room, the gravest first."""
        top = across.top() - 2.0 * (self.line + 2.0)
        seen = [(note, frame.share(note.t)) for note in frame.notes]
        placed = [
            (note, across.left() + share * across.width()) for note, share in seen if 0.0 <= share <= 1.0
        ]
        for note, x in placed:
            if note.kind in ("trip", "off"):
                wide = 2.0 if note.kind == "trip" else 1.0
                colour = note_colour(note, self.theme)
                painter.fillRect(
                    QRectF(x - wide / 2.0, across.top() - 4.0, wide, across.height() + 4.0), colour
                )
        taken: list[tuple[float, float]] = []
        for note, x in sorted(placed, key=lambda one: (_GRAVITY.get(one[0].kind, 9), -one[1])):
            if any(left - self.line * 0.5 < x < right for left, right in taken):
                continue
            colour = note_colour(note, self.theme)
            _flag(painter, QPointF(x, top + 1.0), self.line, colour, hollow=note.kind == "note")
            # A flag as grave as this one, or graver, is not written over.
            rank = _GRAVITY.get(note.kind, 9)
            flags = [
                (at, at + self.line * 0.75)
                for other, at in placed
                if other is not note and _GRAVITY.get(other.kind, 9) <= rank
            ]
            taken.append(self._words(painter, note, QPointF(x, top), (*taken, *flags), width))

    def _words(
        self,
        painter: QPainter,
        note: Note,
        foot: QPointF,
        taken: Sequence[tuple[float, float]],
        width: float,
    ) -> tuple[float, float]:
        """Write a flag's words on the side with more room; what flag and words take of the width."""
        bold = note.kind == "trip"
        metrics = self.bold_metrics if bold else self.metrics
        x, flag = foot.x(), self.line * 0.75 + GAP / 2.0
        right = min((left for left, _ in taken if left > x), default=width) - GAP - x - flag
        left = x - 2.0 * GAP - max((end for _, end in taken if end <= x), default=0.0)
        need = metrics.horizontalAdvance(note.text)
        leftward = right < need and left > right
        text = metrics.elidedText(note.text, Qt.TextElideMode.ElideRight, left if leftward else right)
        if len(text) <= 3:
            return x, x + flag
        wide = metrics.horizontalAdvance(text)
        start = x - GAP - wide if leftward else x + flag
        self._write_with(painter, self.bold if bold else self.font, note_colour(note, self.theme))
        painter.drawText(QPointF(start, foot.y() + metrics.ascent()), text)
        return min(x, start), max(x + flag, start + wide)

    def _way_back(self, painter: QPainter, across: QRectF, width: float) -> None:
        """Say how to come back to the newest readings."""
        self._write_with(painter, self.font, self.theme.here)
        box = QRectF(0.0, across.bottom() + 4.0, width, self.line)
        painter.drawText(box, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, _BACK)

    def _cross(self, painter: QPainter, frame: Frame, t: float, across: QRectF) -> None:
        share = frame.share(t)
        if not 0.0 <= share <= 1.0:
            return
        x = across.left() + share * across.width()
        painter.fillRect(QRectF(x - 0.5, across.top(), 1.0, across.height()), self.theme.ink)
        text = frame.cross_word
        wide = self.metrics.horizontalAdvance(text) + GAP
        left = min(max(x - wide / 2.0, across.left()), across.right() - wide)
        box = QRectF(left, across.bottom() + 3.0, wide, self.line)
        painter.fillRect(box, self.theme.ink)
        self._write_with(painter, self.font, self.theme.card)
        painter.drawText(box, Qt.AlignmentFlag.AlignCenter, text)

    def _cursors(self, painter: QPainter, frame: Frame, across: QRectF) -> None:
        """The two cursors with their numbers, and between them a pale wash."""
        seen = [
            (name, across.left() + frame.share(t) * across.width())
            for name, t in zip("12", frame.cursors, strict=True)
            if t is not None
        ]
        if len(seen) == len(frame.cursors):
            left, right = (min(max(x, across.left()), across.right()) for x in sorted(x for _name, x in seen))
            wash = QColor(self.theme.here)
            wash.setAlpha(26)
            painter.fillRect(QRectF(left, across.top(), right - left, across.height()), wash)
        for name, x in seen:
            if not across.left() <= x <= across.right():
                continue
            painter.fillRect(QRectF(x - 0.75, across.top(), 1.5, across.height()), self.theme.here)
            wide = self.bold_metrics.horizontalAdvance(name) + 2.0 * GAP
            box = QRectF(x - wide / 2.0, across.bottom() - self.line, wide, self.line)
            painter.fillRect(box, self.theme.here)
            self._write_with(painter, self.bold, self.theme.card)
            painter.drawText(box, Qt.AlignmentFlag.AlignCenter, name)

    # --- in one panel ----------------------------------------------------------------------------

    def _numbers(self, painter: QPainter, pane: Pane, rect: QRectF) -> None:
        """The numbers of a panel's scale at its left."""
        self._write_with(painter, self.font, self.theme.soft)
        for value, word in pane.scale.ticks:
            if word:
                middle = y_of(pane, rect, value)
                box = QRectF(0.0, middle - self.line / 2.0, rect.left() - GAP, self.line)
                painter.drawText(box, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, word)

    def _title(self, painter: QPainter, pane: Pane, rect: QRectF) -> None:
        """The panel's title inside, the unit at the top of the numbers outside."""
        box = self._title_box(pane, rect)
        self._back(painter, box)
        self._write_with(painter, self.title, self.theme.ink)
        painter.drawText(QPointF(box.left() + 2.0, box.top() + self.title_metrics.ascent()), pane.title)
        self._write_with(painter, self.font, self.theme.soft)
        unit = QRectF(0.0, rect.top() + 3.0, rect.left() - GAP, self.line)
        painter.drawText(unit, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, pane.scale.unit)

    def _title_box(self, pane: Pane, rect: QRectF) -> QRectF:
        wide = self.title_metrics.horizontalAdvance(pane.title)
        return QRectF(rect.left() + GAP, rect.top() + 3.0, wide + 4.0, self.title_metrics.height())

    def _bounds(self, painter: QPainter, pane: Pane, rect: QRectF) -> None:
        """The words of each limit in view at its right end; of the nearest one out of view, where it would be.

        No longer than there is room for beside the title, and over no reading: at the left end where the line
        of a trace passes under the right one, and where there is no room the limit stands without words.
        """
        scale, used = pane.scale, [self._title_box(pane, rect)]
        beyond = [bound for bound in pane.bounds if not scale.low <= bound.value <= scale.high]
        inside = [bound for bound in pane.bounds if scale.low <= bound.value <= scale.high]
        above = min(
            (bound for bound in beyond if bound.value > scale.high), key=lambda b: b.value, default=None
        )
        for bound in inside + ([above] if above is not None and not inside else []):
            out = bound is above
            y = rect.top() if out else y_of(pane, rect, bound.value)
            # On the far side of its line, where nothing should be drawn.
            far_side = y + 1.0 if bound.value < 0.0 and not out else y - self.line - 1.0
            fits = rect.top() <= far_side and far_side + self.line <= rect.bottom()
            if not fits and bound.value < 0.0:
                continue  # a low panel keeps its room for what was read
            near_side = y - self.line - 1.0 if far_side > y else y + 2.0
            for said in bound.said:
                text = f"{said} \N{UPWARDS ARROW}" if out else said
                box = self._free(pane, rect, used, text, far_side if fits else near_side)
                if box is not None:
                    used.append(box)
                    self._back(painter, box)
                    self._write_with(
                        painter, self.font, self.theme.danger if bound.looks else self.theme.soft
                    )
                    painter.drawText(QPointF(box.left() + 2.0, box.top() + self.metrics.ascent()), text)
                    break

    def _free(self, pane: Pane, rect: QRectF, used: Sequence[QRectF], text: str, top: float) -> QRectF | None:
        """Where words have room at that height, at the right end or else at the left; None where at neither."""
        wide = self.metrics.horizontalAdvance(text) + 4.0
        for left in (rect.right() - wide - GAP, rect.left() + GAP):
            box = QRectF(left, top, wide, self.line)
            within = rect.left() + GAP <= box.left() and box.bottom() <= rect.bottom()
            if within and not any(box.intersects(other) for other in used) and not _read_in(pane, rect, box):
                return box
        return None

    def _names(self, painter: QPainter, pane: Pane, rect: QRectF, room: float) -> None:
        """Each trace's name at its right end, with a sample of how it is drawn."""
        lines = [line for line in pane.lines if line.end is not None and not line.letter]
        wanted = [y_of(pane, rect, line.end) for line in lines if line.end is not None]
        height = min(self.line, rect.height() / max(1, len(lines)))
        for line, y in zip(lines, spread(wanted, height, rect.top(), rect.bottom()), strict=True):
            colour = self.theme.traces[line.colour % len(self.theme.traces)]
            x = rect.right() + GAP + self._labels_width
            parts = ((0.0, 5.0), (8.0, 5.0)) if line.dashed else ((0.0, _SAMPLE - 4.0),)
            for start, length in parts:
                painter.fillRect(QRectF(x + start, y - 1.5, length, 3.0), colour)
            self._write_with(painter, self.bold, colour)
            text = self.bold_metrics.elidedText(
                line.name, Qt.TextElideMode.ElideRight, room - _SAMPLE - 1.5 * GAP
            )
            base = y - self.line / 2.0 + self.bold_metrics.ascent()
            painter.drawText(QPointF(x + _SAMPLE, base), text)

    def _labels(self, painter: QPainter, pane: Pane, rect: QRectF) -> None:
        """At the ends of other runs' lines what they are called; once where two of one run end together.

        Where there is no room for each, those that end side by side are told together.
        """
        ends = sorted(
            (y_of(pane, rect, line.end), line.label)
            for line in pane.lines
            if line.letter and line.end is not None
        )
        placed: list[tuple[float, str]] = []
        for y, text in ends:
            if not any(text == other and abs(y - at) < self.line for at, other in placed):
                placed.append((y, text))
        if not placed:
            return
        if len(placed) * self.line > rect.height():
            placed = gathered(placed, self.line)
        height = min(self.line, rect.height() / len(placed))
        self._write_with(painter, self.font, self.theme.soft)
        middles = spread([y for y, _ in placed], height, rect.top(), rect.bottom())
        for (_, text), y in zip(placed, middles, strict=True):
            base = y - self.line / 2.0 + self.metrics.ascent()
            painter.drawText(QPointF(rect.right() + GAP / 2.0, base), text)

    def _letters(self, painter: QPainter, pane: Pane, rect: QRectF) -> None:
        """Letters along the lines of other runs, those of each at places of its own."""
        self._write_with(painter, self.font, self.theme.ink)
        taken: list[QRectF] = []
        own = [line.stroke for line in pane.lines if not line.letter]
        for line in pane.lines:
            at, drawn = ord(line.letter) - ord("a") if line.letter else -1, line.stroke
            if at < 0 or not len(drawn.column):
                continue
            wide = self.metrics.horizontalAdvance(line.letter) + 2.0
            for x in np.arange(LETTERS * (0.3 + 0.37 * at % 1.0), rect.width() - wide, LETTERS):
                k = int(np.searchsorted(drawn.column, x))
                beyond = line.until is not None and x > line.until
                if beyond or k == len(drawn.column) or drawn.column[k] - x > 2.0:
                    continue
                middle = _middle(pane, rect, drawn, k)
                # Where they are one line the run's own is not broken; the ends name the other all the same.
                if any(_lies_on(pane, rect, other, int(drawn.column[k]), middle) for other in own):
                    continue
                box = QRectF(rect.left() + x - wide / 2.0, middle - self.line / 2.0, wide, self.line)
                if rect.contains(box) and not any(box.intersects(other) for other in taken):
                    taken.append(box)
                    self._back(painter, box.adjusted(0.0, 3.0, 0.0, -3.0))
                    painter.setPen(self.theme.ink)
                    painter.drawText(box, Qt.AlignmentFlag.AlignCenter, line.letter)

    def _back(self, painter: QPainter, box: QRectF) -> None:
        """Card behind words that stand among lines."""
        colour = QColor(self.theme.card)
        colour.setAlpha(215)
        painter.fillRect(box, colour)

    @staticmethod
    def _write_with(painter: QPainter, font: QFont, colour: QColor) -> None:
        painter.setFont(font)
        painter.setPen(colour)


_BACK = "End: newest"
_SAMPLE = 17.0
_GRAVITY = {"trip": 0, "off": 1, "warn": 2, "note": 3}


def y_of(pane: Pane, rect: QRectF, value: float) -> float:
    """Where a value stands in a panel's rectangle."""
    scale = pane.scale
    return rect.bottom() - (value - scale.low) / (scale.high - scale.low) * rect.height()


def _middle(pane: Pane, rect: QRectF, drawn: Stroke, k: int) -> float:
    return y_of(pane, rect, float(drawn.low[k] + drawn.high[k]) / 2.0)


def _lies_on(pane: Pane, rect: QRectF, drawn: Stroke, column: int, y: float) -> bool:
    """Whether a line passes so near a place that a letter there would break it."""
    k = int(np.searchsorted(drawn.column, column))
    return (
        k < len(drawn.column) and drawn.column[k] == column and abs(_middle(pane, rect, drawn, k) - y) < NEAR
    )


def line_colour(line: Line, theme: Theme) -> QColor:
    """The colour of a trace, paler for an older run."""
    colour, card, share = theme.traces[line.colour % len(theme.traces)], theme.card, STRENGTH[line.rank]
    rest = 1.0 - share
    return QColor.fromRgbF(
        colour.redF() * share + card.redF() * rest,
        colour.greenF() * share + card.greenF() * rest,
        colour.blueF() * share + card.blueF() * rest,
    )


def _read_in(pane: Pane, rect: QRectF, box: QRectF) -> bool:
    """Whether a trace of the run itself passes through a box; those of other runs may lie under words."""
    scale = pane.scale
    per = rect.height() / (scale.high - scale.low)
    low, high = (
        scale.low + (rect.bottom() - box.bottom()) / per,
        scale.low + (rect.bottom() - box.top()) / per,
    )
    left, right = box.left() - rect.left(), box.right() - rect.left()
    for stroke in (line.stroke for line in pane.lines if not line.letter):
        across = (stroke.column >= left) & (stroke.column <= right)
        if bool((across & (stroke.high >= low) & (stroke.low <= high)).any()):
            return True
    return False


def note_colour(note: Note, theme: Theme) -> QColor:
    """Vermilion for what is dangerous, ink for the rest."""
    return theme.danger if note.kind in ("trip", "warn") else theme.ink


def _flag(painter: QPainter, foot: QPointF, height: float, colour: QColor, *, hollow: bool) -> None:
    """A pennant on its pole; a person's own is hollow."""
    painter.save()
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    x, y = foot.x(), foot.y()
    pennant = QPolygonF(
        [QPointF(x, y), QPointF(x + height * 0.7, y + height * 0.3), QPointF(x, y + height * 0.6)]
    )
    painter.setPen(QPen(colour, 1.3))
    painter.setBrush(Qt.BrushStyle.NoBrush if hollow else colour)
    painter.drawPolygon(pennant)
    painter.drawLine(QPointF(x, y), QPointF(x, y + height))
    painter.restore()
