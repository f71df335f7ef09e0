"""The foot of the window: the meters by their jobs, and CUT at the right end, which never moves."""

from collections.abc import Iterable

from PySide6.QtCore import QRectF, QSize, Qt, QTimer, Signal
from PySide6.QtGui import QPainter, QPaintEvent, QResizeEvent
from PySide6.QtWidgets import QAbstractButton, QGridLayout, QHBoxLayout, QSizePolicy, QWidget

from benchlog.domain.plan_trace import TracePlan
from benchlog.domain.quantity import show
from benchlog.domain.reading import STATES, Function, Outcome
from benchlog.window import words
from benchlog.window.look import Look
from benchlog.window.run_view import NOT_KNOWN, Live, Phase, RunView
from benchlog.window.tile import Tile, TileFace
from benchlog.window.work import Work

AGES = 200
"""Milliseconds between two looks at how old the values are."""
NARROW, LEAST = 130, 82
"""Pixels of width below which tiles go in two rows, and below which some of them go into a tile of their own."""
MORE, WALKS = "more meters", "walks with you"
WIDE, SLIM, ROOMY = 230, 150, 900
"""Width of CUT where there is room, where there is less, and from which width of the foot on there is."""
ONE_ROW, TWO_ROWS = 106, 138
"""Height of the foot."""


class CutButton(QAbstractButton):
    """CUT: the largest key of the window, always there."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._look = look
        self._live = False
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setAccessibleName("CUT, F12 or Escape")
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Expanding)
        look.changed.connect(self.update)

    def stand(self, *, live: bool) -> None:
        """Whether there is anything to cut."""
        if live != self._live:
            self._live = live
            self.update()

    def sizeHint(self) -> QSize:
        """Wide enough for a hand that does not look."""
        return QSize(WIDE, 88)

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Draw it: solid while something may be live, an outline otherwise."""
        theme = self._look.theme
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        box = QRectF(self.rect()).adjusted(2, 2, -2, -2)
        painter.setPen(theme.danger)
        painter.setBrush((theme.danger_deep if self.isDown() else theme.danger) if self._live else theme.card)
        painter.drawRoundedRect(box, 10, 10)
        painter.setPen(theme.on_danger if self._live else theme.danger)
        painter.setFont(self._look.font(34, bold=True))
        upper = QRectF(box.left(), box.top() + box.height() * 0.1, box.width(), box.height() * 0.55)
        painter.drawText(upper, Qt.AlignmentFlag.AlignCenter, words.CUT)
        painter.setFont(self._look.font(14))
        lower = QRectF(box.left(), box.top() + box.height() * 0.62, box.width(), box.height() * 0.3)
        painter.drawText(lower, Qt.AlignmentFlag.AlignCenter, "F12 or Esc")
        painter.end()


class Foot(QWidget):
    """Meter tiles and CUT; `cut` when it was pressed."""

    cut = Signal()

    def __init__(self, work: Work) -> None:
        super().__init__()
        self._work = work
        self._tiles: dict[str, Tile] = {}
        self._rows = 1
        self._grid = QGridLayout()
        self._grid.setSpacing(8)
        self._button = CutButton(work.look)
        # At the press, not at the release: a hand that slips off has pressed all the same.
        self._button.pressed.connect(self.cut)
        outer = QHBoxLayout(self)
        outer.setContentsMargins(12, 8, 12, 8)
        outer.setSpacing(10)
        outer.addLayout(self._grid, 1)
        outer.addWidget(self._button)
        self.setFixedHeight(ONE_ROW)
        timer = QTimer(self)
        timer.setInterval(AGES)
        timer.timeout.connect(self.refresh)
        timer.start()
        work.runner.changed.connect(self.refresh)
        self.refresh()

    def refresh(self) -> None:
        """Show what is known now."""
        view = self._work.runner.view
        now = self._work.now()
        faces = gathered(list(faces_of(view, now)), self._most())
        names = [face.name for face in faces]
        if names != list(self._tiles):
            self._lay_out(names)
        for face in faces:
            self._tiles[face.name].show_face(face)
        self._button.stand(live=view.is_live or view.still_doubted or view.phase is Phase.PROVING)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Two rows where one would make the values too small."""
        super().resizeEvent(event)
        self._button.setFixedWidth(WIDE if event.size().width() >= ROOMY else SLIM)
        self.refresh()
        if self._rows != self._fitting_rows():
            self._lay_out(list(self._tiles))

    def _room(self) -> int:
        return self.width() - self._button.width() - 40

    def _most(self) -> int:
        """How many tiles can be read in two rows."""
        return 2 * max(2, self._room() // (LEAST + 8))

    def _fitting_rows(self) -> int:
        return 2 if len(self._tiles) * (NARROW + 8) > self._room() else 1

    def _lay_out(self, names: list[str]) -> None:
        while (item := self._grid.takeAt(0)) is not None:
            widget = item.widget()
            if widget is not None:
                widget.hide()
                widget.deleteLater()
        self._tiles = {name: Tile(self._work.look) for name in names}
        self._rows = self._fitting_rows()
        self.setFixedHeight(TWO_ROWS if self._rows == 2 else ONE_ROW)
        a_row = -(-len(names) // self._rows)
        for at, tile in enumerate(self._tiles.values()):
            self._grid.addWidget(tile, at // a_row, at % a_row)
        self.refresh()


def gathered(faces: list[TileFace], most: int) -> list[TileFace]:
    """As many as there is room for; the last one then stands for all that follow, and says what is wrong with any."""
    if len(faces) <= most:
        return faces
    shown, rest = faces[: most - 1], faces[most - 1 :]
    wrong = [face for face in rest if face.wrong]
    says = ", ".join(f"{face.name} {face.wrong or face.number or face.idle}".strip() for face in rest)
    count = f"+{len(rest)}"
    if wrong:
        brief = f"{wrong[0].name}: {wrong[0].brief or wrong[0].wrong}"
        return [*shown, TileFace(MORE, number=count, wrong=brief, brief=brief, tip=says)]
    return [*shown, TileFace(MORE, number=count, tip=says)]


def faces_of(view: RunView, now: float) -> Iterable[TileFace]:
    """What each tile shows: the traces of the plan where there is one, else the meters of the bench.

    Those whose loss counts as a broken limit come first, a meter that nothing of the plan is read with last.
    """
    if view.plan is not None:
        for trace in sorted(view.plan.trace, key=lambda one: not one.critical):
            if trace.measures is not Function.STATE or view.plan.source.supply:
                doubt = view.doubt_in(trace.name, trace.job)
                yield face_of(trace.name, view.live.get(trace.name), now, trace, doubt=doubt)
        used = {name for trace in view.plan.trace for name in (trace.name, trace.job)}
        for meter in view.bench.meter if view.bench is not None else ():
            if meter.job not in used:
                yield TileFace(meter.job, idle=WALKS if meter.function is None else "not in the plan")
    elif view.bench is not None:
        for meter in view.bench.meter:
            live = view.live.get(meter.job)
            if meter.function is None:
                # A meter that walks is asked only while a part is taken.
                yield TileFace(meter.job, idle=WALKS)
            else:
                doubt = view.doubt_in(meter.job)
                yield face_of(meter.job, live, now, unit=meter.function.unit, doubt=doubt)


def face_of(
    name: str,
    live: Live | None,
    now: float,
    trace: TracePlan | None = None,
    unit: str = "",
    doubt: str = "",
) -> TileFace:
    """One reading as a tile shows it; what is late, doubted or no number is said, and shown as such."""
    if live is None or not live.heard:
        return TileFace(name, idle="nothing yet")
    age = live.age(now)
    wrong, brief = (f"no news for {age:.1f} s", f"{age:.0f} s") if live.stale(now) else ("", "")
    if not wrong and (doubt or live.outcome != Outcome.OK):
        wrong = words.NO_NUMBER.get(doubt or live.outcome, doubt or live.outcome)
        brief = words.NO_NUMBER.get(live.outcome, live.outcome) if live.outcome != Outcome.OK else wrong
        brief = brief.removeprefix(NOT_KNOWN)
    if doubt.startswith(NOT_KNOWN):
        number, symbol = "- -", ""
    elif live.value is None:
        number, symbol = "OL" if live.outcome == Outcome.OVERLOAD else "- -", ""
    elif trace is not None and trace.measures is Function.STATE:
        number, symbol = STATES[int(live.value)].value, ""
    else:
        shown = trace.shown(live.value) if trace is not None else show(live.value, unit)
        number, _, symbol = shown.partition(" ")
    return TileFace(name, number=number, unit=symbol, age=age, wrong=wrong, brief=brief)
