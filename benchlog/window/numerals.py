"""Large live numerals of the critical traces; one that is not fresh is grey, hatched, framed, and never looks good."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QBrush, QFontMetricsF, QPainter, QPaintEvent, QPen, QResizeEvent
from PySide6.QtWidgets import QGridLayout, QSizePolicy, QWidget

from benchlog.domain.plan_limit import Action, LimitKind
from benchlog.domain.plan_trace import TracePlan
from benchlog.domain.reading import Function
from benchlog.domain.stages import AT_STAGE
from benchlog.recorder.client import messages
from benchlog.window import shapes, words
from benchlog.window.arming import of_trace
from benchlog.window.elided import shortened
from benchlog.window.foot import face_of
from benchlog.window.foretold import headings
from benchlog.window.look import Look
from benchlog.window.run_view import RunView
from benchlog.window.shapes import Shape
from benchlog.window.tile import LEAST_NAME, TileFace, crowded, said_in, write_wrong
from benchlog.window.tooltip import tip

MOST = 52.0
"""Pixels of the digits where there is room."""
LEAST = 42
"""Pixels of a numeral's height where there is little room."""
FULL = 130.0
"""Pixels of width from which there is room for what is wrong in whole words."""
ROOM_BELOW = 32.0
"""Pixels below its name from which there is room for a word on its limits as well."""
READABLE = 12.0
"""Pixels of letters below the digits, under which fewer words say it."""
BELOW = 18
"""Pixels more of a numeral's height for that word where there is little room."""
TALLEST, GAP = 96, 5
ONE_COLUMN = 4
"""So many stand below each other; more of them in two columns."""
_LEFT = int(Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter)
_RIGHT = int(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)


@dataclass(frozen=True, slots=True)
class NumeralFace:
    """What one numeral shows: the value with its age, and how it stands, nothing where that is not simple."""

    face: TileFace
    shape: Shape | None = None
    unarmed: str = ""
    """What is said of its limits while not all of them look."""
    headings: tuple[str, ...] = ()
    """Where it is heading, or that nobody can tell, in ever fewer words."""

    @property
    def below(self) -> tuple[str, ...]:
        """What may stand below its digits, the longest first: what its limits do goes before where it is heading."""
        return (self.unarmed,) if self.unarmed else self.headings


def numerals_of(view: RunView, now: float, meters: Mapping[str, messages.Meter]) -> tuple[NumeralFace, ...]:
    """The critical traces of the plan as they stand."""
    plan = view.plan
    if plan is None:
        return ()
    return tuple(_numeral(view, trace, now, meters.get(trace.job)) for trace in plan.trace if trace.critical)


def _numeral(view: RunView, trace: TracePlan, now: float, meter: messages.Meter | None) -> NumeralFace:
    doubt = view.doubt_in(trace.name, trace.job)
    face = face_of(trace.name, view.live.get(trace.name), now, trace, doubt=doubt)
    if meter is not None and meter.state != "open":
        state = words.METER_STATE.get(meter.state, meter.state)
        wrong = f"{state}, {face.wrong}" if face.wrong else state
        face = TileFace(face.name, face.number or "- -", face.unit, face.age, wrong, state)
    unarmed = of_trace(view, trace.name)
    if face.wrong or not face.number:
        return NumeralFace(face, Shape.NOTHING if face.wrong else None, unarmed)
    return NumeralFace(face, _shape(view, trace), unarmed, _headings(view, trace, now))


def _headings(view: RunView, trace: TracePlan, now: float) -> tuple[str, ...]:
    """Where it is heading; empty where that is not known any more, or it stands still."""
    foretold, live = view.foretold.get(trace.name), view.live.get(trace.name)
    if foretold is None or live is None or foretold.stale(now) or not view.is_live:
        return ()
    return headings(foretold, trace, live.t)


def _shape(view: RunView, trace: TracePlan) -> Shape | None:
    """Beyond a constant ceiling, else whether what is awaited of it holds, else nothing."""
    plan, stage = view.plan, view.stage
    live = view.live.get(trace.name)
    if plan is None or live is None or live.value is None or trace.measures is Function.STATE:
        return None
    for limit in plan.limit:
        ceiling = limit.trace == trace.name and limit.kind is LimitKind.HIGH and limit.gate is None
        if ceiling and limit.value is not None and abs(live.value) > limit.value:
            return Shape.HIGH if limit.action is Action.TRIP else Shape.DOUBT
    if stage is None or not view.is_live or view.state not in AT_STAGE:
        return None
    planned = plan.stage[stage.index].awaits
    holds = [
        bool(awaited[1])
        for wait, awaited in zip(planned, stage.waits[1:], strict=False)
        if wait.trace == trace.name
    ]
    if not holds:
        return None
    return Shape.GOOD if all(holds) else Shape.TO_DO


class Numeral(QWidget):
    """One value."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self.face = NumeralFace(TileFace(""))
        self._room = False
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        look.changed.connect(self.update)

    def show_face(self, face: NumeralFace, *, room: bool) -> None:
        """Show how it stands now; `room`: leave some below the digits, as others need it."""
        if (face, room) != (self.face, self._room):
            self.face, self._room = face, room
            tile = face.face
            said = tile.wrong or (f"{tile.number} {tile.unit}".strip() if tile.number else tile.idle)
            self.setAccessibleName(
                ", ".join(filter(None, (f"{tile.name}: {said}", face.unarmed, *face.headings[:1])))
            )
            self.setToolTip(tip(tile.wrong))
            self.update()

    def sizeHint(self) -> QSize:
        """Room for digits of full size below a name."""
        return QSize(150, 84)

    def minimumSizeHint(self) -> QSize:
        """Still the largest thing near it."""
        return QSize(104, LEAST)

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Draw it."""
        theme, tile = self._look.theme, self.face.face
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        box = QRectF(self.rect()).adjusted(1.5, 1.5, -1.5, -1.5)
        if tile.wrong:
            painter.setPen(Qt.PenStyle.NoPen)
            painter.setBrush(theme.card)
            painter.drawRoundedRect(box, 8, 8)
            painter.setBrush(QBrush(theme.hairline, Qt.BrushStyle.BDiagPattern))
            painter.setPen(QPen(theme.danger, 3))
            painter.drawRoundedRect(box, 8, 8)
        inner = box.adjusted(7, 2, -7, -2)
        tall = min(20.0, inner.height() * 0.34)
        head = QRectF(inner.left(), inner.top(), inner.width(), tall)
        low = QRectF(inner.left(), head.bottom(), inner.width(), inner.bottom() - head.bottom())
        if tile.wrong and low.height() >= 40.0 and low.width() >= FULL:
            foot = QRectF(low.left(), low.bottom() - 17, low.width(), 17)
            low.setBottom(foot.top())
            painter.setPen(theme.danger)
            painter.setFont(self._look.fitting(tile.wrong, foot.width(), 14, least=9))
            painter.drawText(foot, _LEFT, tile.wrong)
            self._head(painter, head, "")
        elif tile.wrong and crowded(self._look, tile, head.width() - 22.0, 13.0):
            self._head(painter, head, "")
            write_wrong(self._look, painter, low, tile)
            painter.end()
            return
        else:
            self._head(painter, head, tile.brief or tile.wrong)
            if self._room and low.height() >= ROOM_BELOW:
                foot = QRectF(low.left(), low.bottom() - 16, low.width(), 16)
                low.setBottom(foot.top())
                painter.setPen(theme.soft)
                self._write_below(painter, foot)
        self._number(painter, low)
        painter.end()

    def _write_below(self, painter: QPainter, foot: QRectF) -> None:
        """As many words as there is room for in letters that can be read; the shortest ones are made to fit."""
        metrics = QFontMetricsF(self._look.font(READABLE))
        fits = [text for text in self.face.below if metrics.horizontalAdvance(text) <= foot.width()]
        text = next(iter(fits or self.face.below[-1:]), "")
        painter.setFont(self._look.fitting(text, foot.width(), 13, least=9, bold=False))
        painter.drawText(foot, _RIGHT, text)

    def _head(self, painter: QPainter, head: QRectF, wrong: str) -> None:
        """Name at the left; age and shape at the right."""
        theme, look, tile = self._look.theme, self._look, self.face.face
        side = min(15.0, head.height() - 3)
        if self.face.shape is not None:
            mark = QRectF(head.right() - side, head.center().y() - side / 2, side, side)
            shapes.draw(painter, mark, self.face.shape, theme)
        text = head.adjusted(0, 0, -(side + 7), 0) if self.face.shape is not None else head
        small = min(14.0, head.height() - 2)
        aside = wrong or ("" if tile.age is None or tile.wrong else f"{tile.age:.1f} s")
        painter.setPen(theme.danger if wrong else theme.soft)
        least = QFontMetricsF(look.font(LEAST_NAME)).horizontalAdvance(tile.name)
        beside = max(text.width() - least - 6, text.width() / 2)
        font, aside = said_in(look, aside, beside, min(13.0, small), bold=bool(wrong))
        painter.setFont(font)
        room = text.width() - painter.fontMetrics().horizontalAdvance(aside) - 6
        painter.drawText(text, _RIGHT, aside)
        painter.setPen(theme.soft)
        painter.setFont(look.fitting(tile.name, max(room, 20.0), small, least=10, bold=False))
        painter.drawText(text, _LEFT, shortened(tile.name, painter.fontMetrics(), max(room, 20.0)))

    def _number(self, painter: QPainter, low: QRectF) -> None:
        theme, look, tile = self._look.theme, self._look, self.face.face
        if not tile.number:
            painter.setPen(theme.soft)
            painter.setFont(look.font(15))
            painter.drawText(low, _RIGHT, tile.idle)
            return
        painter.setFont(look.font(min(18.0 if low.width() >= FULL else 14.0, low.height() * 0.5)))
        # Points stand below each other, whatever the units; where it is narrow the digits come first.
        same = "mV" if low.width() >= FULL else ""
        wide = max(painter.fontMetrics().horizontalAdvance(one) for one in (same, tile.unit))
        room = low.adjusted(0, 0, -wide - 6, 0)
        digits = look.fitting(tile.number, room.width(), min(MOST, low.height() * 0.98), least=12)
        metrics = QFontMetricsF(digits)
        # Digits and unit stand on one line, whatever their sizes.
        foot = low.center().y() + (metrics.ascent() - metrics.descent()) / 2
        painter.setPen(theme.soft)
        painter.drawText(QPointF(low.right() - wide, foot), tile.unit)
        painter.setPen(theme.soft if tile.wrong else theme.ink)
        painter.setFont(digits)
        at = room.right() - metrics.horizontalAdvance(tile.number)
        painter.drawText(QPointF(max(at, room.left()), foot), tile.number)


class Numerals(QWidget):
    """The numerals in one column or in several, as many as there is room for."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self.shown: list[Numeral] = []
        self._columns = 0
        self._low = self._room = False
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setSpacing(GAP)
        self.setAccessibleName("live values")

    def show_faces(self, faces: Sequence[NumeralFace]) -> None:
        """Show how they stand now."""
        if len(faces) != len(self.shown):
            self._make(len(faces))
        # All digits of one size, whether something stands below them or not.
        room = any(face.below for face in faces)
        if room != self._room:
            self._room = room
            self._limit()
            self.updateGeometry()
        for numeral, face in zip(self.shown, faces, strict=True):
            numeral.show_face(face, room=room)

    def be_low(self, *, low: bool) -> None:
        """Take no more room than is needed to read them."""
        self._low = low
        self._limit()

    def _limit(self) -> None:
        self.setMaximumHeight(
            self._rows(self._columns or 1) * ((self._least if self._low else TALLEST) + GAP)
        )

    @property
    def _least(self) -> int:
        """Pixels of one numeral's height where there is little room."""
        return LEAST + (BELOW if self._room else 0)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Another width may want another number of columns."""
        super().resizeEvent(event)
        if self._fitting() != self._columns:
            self._place()

    def minimumSizeHint(self) -> QSize:
        """As wide as one of them: the columns follow the width."""
        return QSize(120, self._rows(self._columns or 1) * (self._least + GAP))

    def sizeHint(self) -> QSize:
        """Full size."""
        return QSize(320, self._rows(self._columns or 1) * 84)

    def _rows(self, columns: int) -> int:
        return -(-len(self.shown) // columns)

    def _fitting(self) -> int:
        count = len(self.shown)
        most = max(1, self.width() // 116)
        if self.width() >= 420:
            return max(1, min(most, 4, count))
        return 1 if count <= ONE_COLUMN else min(most, 2)

    def _make(self, count: int) -> None:
        for old in self.shown:
            old.hide()
            old.deleteLater()
        self.shown = [Numeral(self._look) for _ in range(count)]
        self._place()

    def _place(self) -> None:
        self._take_out(self.shown)
        self._columns = self._fitting()
        for at, numeral in enumerate(self.shown):
            self._grid.addWidget(numeral, at // self._columns, at % self._columns)
            numeral.show()
        self._limit()
        self.updateGeometry()

    def _take_out(self, numerals: Iterable[Numeral]) -> None:
        for numeral in numerals:
            self._grid.removeWidget(numeral)
