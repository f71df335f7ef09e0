"""What feeds the unit, drawn in a line from the wall to the unit, with who sets each link and what switches off."""

from collections.abc import Iterable
from dataclasses import dataclass

from PySide6.QtCore import QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QFontMetricsF, QPainter, QPaintEvent, QPen, QPolygonF, QResizeEvent
from PySide6.QtWidgets import QSizePolicy, QWidget

from benchlog.domain.plan import Mover, Plan
from benchlog.domain.quantity import show
from benchlog.instruments.bench import Bench
from benchlog.window.look import Look

TALL, GAP, ARROW = 54.0, 10.0, 26.0


@dataclass(frozen=True, slots=True)
class ChainLink:
    """One link: its name, what is said below it, and whether it switches off or is set."""

    name: str
    below: str = ""
    marked: bool = False


def links_of(plan: Plan, bench: Bench | None) -> tuple[ChainLink, ...]:
    """The chain of a plan from the wall to the unit."""
    source = plan.source
    wall = ChainLink("wall", show(source.mains, "V") if source.mains > 0.0 else "")
    switches = bench.off_switch if bench is not None else ()
    off = {name.casefold() for switch in switches for name in (switch.job, switch.supply) if name}
    hand = any(switch.kind == "hand" for switch in switches)
    return (wall, *(_link(plan, name, off, hand=hand) for name in source.chain), ChainLink("unit"))


def _link(plan: Plan, name: str, off: set[str], *, hand: bool) -> ChainLink:
    said = []
    low = name.casefold()
    if low in off:
        said.append("off-switch, yours" if hand else "off-switch")
    if plan.source.moved_by is Mover.PROGRAM and low == plan.source.supply.casefold():
        said.append("set by the program")
    elif plan.source.moved_by is Mover.HAND and "transformer" in low and "isolat" not in low:
        said.append("set by your hand")
    return ChainLink(name, ", ".join(said), bool(said))


class Chain(QWidget):
    """The links in one line, in several where there is no room."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self._links: tuple[ChainLink, ...] = ()
        self._boxes: list[QRectF] = []
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        look.changed.connect(self.update)

    def show_links(self, links: Iterable[ChainLink]) -> None:
        """Show another chain."""
        self._links = tuple(links)
        said = ", then ".join(
            f"{link.name} ({link.below})" if link.below else link.name for link in self._links
        )
        self.setAccessibleName(f"what feeds the unit: {said}")
        self._place()
        self.update()

    def sizeHint(self) -> QSize:
        """As tall as its lines."""
        return QSize(300, self.height())

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Another width breaks the line elsewhere."""
        super().resizeEvent(event)
        if event.size().width() != event.oldSize().width():
            self._place()

    def _place(self) -> None:
        bold, small = (
            QFontMetricsF(self._look.font(15, bold=True)),
            QFontMetricsF(self._look.font(13)),
        )
        x, y, self._boxes = 1.0, 1.0, []
        for link in self._links:
            wide = max(bold.horizontalAdvance(link.name), small.horizontalAdvance(link.below)) + 26
            if self._boxes and x + wide > self.width():
                x, y = ARROW, y + TALL + GAP
            self._boxes.append(QRectF(x, y, wide, TALL))
            x += wide + ARROW
        self.setFixedHeight(round(y + TALL + 2))

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Draw links and arrows."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        for at, (link, box) in enumerate(zip(self._links, self._boxes, strict=True)):
            if at:
                self._arrow(painter, box)
            self._draw(painter, link, box)
        painter.end()

    def _arrow(self, painter: QPainter, box: QRectF) -> None:
        theme = self._look.theme
        y = box.center().y()
        painter.setPen(QPen(theme.soft, 2))
        painter.drawLine(QPointF(box.left() - ARROW + 4, y), QPointF(box.left() - 8, y))
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(theme.soft)
        tip = box.left() - 3
        painter.drawPolygon(QPolygonF([QPointF(tip, y), QPointF(tip - 8, y - 5), QPointF(tip - 8, y + 5)]))

    def _draw(self, painter: QPainter, link: ChainLink, box: QRectF) -> None:
        theme = self._look.theme
        painter.setPen(QPen(theme.here if link.marked else theme.hairline, 2 if link.marked else 1))
        painter.setBrush(theme.card)
        painter.drawRoundedRect(box.adjusted(1, 1, -1, -1), 8, 8)
        upper = box.adjusted(0, 4, 0, -box.height() / 2 + 3) if link.below else box
        painter.setPen(theme.ink)
        painter.setFont(self._look.font(15, bold=True))
        painter.drawText(upper, Qt.AlignmentFlag.AlignCenter, link.name)
        painter.setPen(theme.soft)
        painter.setFont(self._look.font(13))
        painter.drawText(
            box.adjusted(0, box.height() / 2 - 2, 0, -4), Qt.AlignmentFlag.AlignCenter, link.below
        )
