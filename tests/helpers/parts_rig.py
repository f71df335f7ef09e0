"""The Parts page on a library of its own, with keys as the frame hands them on, and a voice that writes down."""

from collections.abc import Callable
from pathlib import Path

from helpers.fake_link import FakeLink
from PySide6.QtCore import QEvent, Qt
from PySide6.QtGui import QKeyEvent, QKeySequence
from PySide6.QtWidgets import QWidget
from pytestqt.qtbot import QtBot

from benchlog.domain.partline import read_line
from benchlog.domain.unit import BoardEntry, RoundKind, Unit, UnitFile, Visit
from benchlog.domain.verdict import Judgement
from benchlog.instruments import bench as benches
from benchlog.recorder.client import messages
from benchlog.store import edit, query_unit
from benchlog.store.library import Library
from benchlog.store.query_unit import KeptReading
from benchlog.window.keys import Keys
from benchlog.window.look import Look
from benchlog.window.parts_page import PartsPage
from benchlog.window.runner import Runner
from benchlog.window.shelf import Shelf
from benchlog.window.work import Work

LEFT = ("R101 47k 5%", "R106 4k7 5%", "R107 10R 5%", "C104 film 100n 10%", "D101 0.5..0.7 V")
RIGHT = tuple(one.replace("1", "2", 1) for one in LEFT)
MIRROR = ("R1## <-> R2##", "C1## <-> C2##", "D1## <-> D2##")

BENCH = """file = "benchlog bench 1"
name = "bench"
[[meter]]
job = "parts meter"
profile = "scpi-multimeter"
address = "socket://127.0.0.1:9"
error = "0.3%"
[[meter]]
job = "second meter"
profile = "scpi-multimeter"
address = "socket://127.0.0.1:10"
[[meter]]
job = "lamp"
profile = "scpi-multimeter"
address = "socket://127.0.0.1:11"
function = "volts_ac"
"""

_KEYS = {
    "\n": Qt.Key.Key_Enter,
    "\b": Qt.Key.Key_Backspace,
    "+": Qt.Key.Key_Plus,
    "-": Qt.Key.Key_Minus,
    "*": Qt.Key.Key_Asterisk,
    "/": Qt.Key.Key_Slash,
    "^": Qt.Key.Key_Up,
    "v": Qt.Key.Key_Down,
    "!": Qt.Key.Key_Escape,
    "#": Qt.Key.Key_Insert,
    "~": Qt.Key.Key_F11,
}
"""Keys as tests write them; `^` and `v` are the arrows, `!` is Escape, `#` Insert, `~` F11."""
_SILENT = frozenset("\n\b^v!#~")


class Ear:
    """A voice that writes down what it was asked for."""

    def __init__(self) -> None:
        self.heard: list[tuple[str, ...]] = []
        self.homed: list[float | None] = []
        self.pointed: list[str] = []
        """Where it said to go, `` where it was hushed."""

    def result(self, judgement: Judgement, reading: str, assumed: str, next_designator: str, /) -> None:
        self.heard.append(("result", judgement.verdict.value, reading, assumed, next_designator))

    def at(self, designator: str, /) -> None:
        self.pointed.append(designator)

    def hush(self) -> None:
        self.pointed.append("")

    def look(self) -> None:
        self.heard.append(("look",))

    def refused(self, text: str = "", /) -> None:
        self.heard.append(("refused", text) if text else ("refused",))

    def ask(self, text: str) -> None:
        self.heard.append(("ask", text))

    def stage_ready(self, text: str) -> None:
        self.heard.append(("ready", text))

    def warn(self, text: str) -> None:
        self.heard.append(("warn", text))

    def cut(self) -> None:
        self.heard.append(("cut",))

    def elsewhere(self) -> None:
        self.heard.append(("elsewhere",))

    def home(self, distance: float | None) -> None:
        self.homed.append(distance)


def unit_file(boards: tuple[tuple[str, tuple[str, ...]], ...]) -> UnitFile:
    """A unit of boards, each with its parts as lines."""
    entries = tuple(
        BoardEntry(name=name, part=tuple(read_line(text).entry for text in lines)) for name, lines in boards
    )
    return UnitFile(name="Hall amplifier", mirror=MIRROR, board=entries)


TWO_SIDES = unit_file((("Left", LEFT), ("Right", RIGHT)))


class PartsRig:
    """The page and what stands behind it."""

    def __init__(self, qtbot: QtBot, work: Work) -> None:
        self.qtbot = qtbot
        self.work = work
        self.ear = Ear()
        work.voice = self.ear
        self.said: list[str] = []
        self.stands: list[tuple[str, str, str]] = []
        work.said.connect(lambda text, _: self.said.append(text))
        work.step_stands.connect(lambda step, shape, detail: self.stands.append((step, shape.value, detail)))
        # A page fills what the frame gives it, also less than it would like.
        self.host = QWidget()
        self.host.setMinimumSize(100, 100)
        self.page = PartsPage(work)
        self.page.setParent(self.host)
        qtbot.addWidget(self.host)
        self.resize(1200, 740)
        self.host.show()

    def resize(self, width: int, height: int) -> None:
        """Give the page so much room."""
        self.host.resize(width, height)
        self.page.setGeometry(0, 0, width, height)

    def bring(self, file: UnitFile = TWO_SIDES, *, visit: bool = True) -> Unit:
        """A unit in hand, on the bench."""

        def make(library: Library) -> tuple[Unit, Visit | None]:
            unit = edit.create_unit(library, file)
            return unit, edit.open_visit(library, unit.id) if visit else None

        self.work.shelf.edit(make, lambda made: self.work.shelf.choose(*made))
        count = sum(len(part.asked) for board in file.board for part in board.part)
        self.until(lambda: self.work.shelf.unit is not None and len(self.page.hand.book.rows) == count)
        unit = self.work.shelf.unit
        assert unit is not None
        self.until(lambda: self.page.hand.book.unit == unit)
        return unit

    def until(self, condition: Callable[[], object]) -> None:
        """Wait for something."""
        self.qtbot.waitUntil(lambda: bool(condition()), timeout=30_000)

    def press(self, keys: str) -> None:
        """Press keys one after the other, as the frame hands them on."""
        for one in keys:
            text = "" if one in _SILENT else one
            code = _KEYS.get(one, Qt.Key(ord(one.upper())))
            self._hand_on(QKeyEvent(QEvent.Type.KeyPress, code, Qt.KeyboardModifier.NoModifier, text))

    def chord(self, name: str) -> None:
        """Press one key by its name, such as Ctrl+H."""
        pressed = QKeySequence(name)[0]  # type: ignore[index]  # its stubs do not know that it can be indexed
        self._hand_on(QKeyEvent(QEvent.Type.KeyPress, pressed.key(), pressed.keyboardModifiers(), ""))

    def _hand_on(self, event: QKeyEvent) -> None:
        if not self.page.typed(event):
            action = self.work.keys.action(event, self.page.place)
            if action is not None:
                self.page.act(action)

    def line(self, text: str) -> None:
        """Type a line into the field and press Enter."""
        self.page.field.begin(text)
        self.qtbot.keyClick(self.page.field.line, Qt.Key.Key_Return)

    def go(self, designator: str) -> None:
        """Take a part in hand."""
        at = self.page.hand.book.named(designator)
        assert at is not None
        self.page.hand.go(at)

    def read(self, designator: str, typed: str) -> None:
        """Type a reading of a part in the round at hand; one that is far off is confirmed."""
        self.go(designator)
        self.press(f"{typed}\n")
        if self.page.hand.held is not None:
            self.press("\n")
        self.until(lambda: self.reads(designator) != "to do")

    def reads(self, designator: str) -> str:
        """The result of a part, in a word."""
        at = self.page.hand.book.named(designator)
        assert at is not None
        return self.page.hand.book.rows[at].result

    def stored(self) -> list[KeptReading]:
        """What the library has of the round at hand."""
        pass_ = self.page.hand.book.round
        return [] if pass_ is None else list(query_unit.round_results(self.work.shelf.folder, pass_.id))

    def rounds(self) -> list[RoundKind]:
        """The rounds of the visit."""
        visit = self.work.shelf.visit
        assert visit is not None
        return [one.kind for one in query_unit.rounds(self.work.shelf.folder, visit.id)]

    @property
    def here(self) -> str:
        """The name of the part at hand."""
        row = self.page.hand.row
        return row.designator if row is not None else ""


class FakeRig(PartsRig):
    """The page on a recorder that says what it is told to."""

    def __init__(self, qtbot: QtBot, look: Look, folder: Path) -> None:
        self.link = FakeLink()
        self.shelf = Shelf(folder)
        super().__init__(qtbot, Work(look, Keys(), Runner(self.link), self.shelf))
        with qtbot.waitSignal(self.shelf.opened, timeout=60_000):
            self.shelf.open()

    def open_bench(self) -> None:
        """A bench with two walking meters and a clipped one."""
        self.work.runner.know_bench(benches.parse(BENCH, "bench.toml"))

    def taken(
        self, value: float | None, unit: str = "ohm", *, at: int = -1, beside: dict[str, float] | None = None
    ) -> messages.Taken:
        """Let the meter settle on a value for what was asked last, or `at`; None is an overload."""
        request = self.link.of(messages.Take)[at]
        assert isinstance(request, messages.Take)
        message = messages.Taken(
            reading=request.reading,
            designator=request.designator,
            part=request.part,
            job=request.job,
            function=request.function,
            outcome="ok" if value is not None else "overload",
            value=value,
            unit=unit,
            raw=str(value),
            utc="2026-01-01T10:00:00.000Z",
            resolution=None if value is None else abs(value) * 1e-5,
            error=0.003 * abs(value) if value is not None and request.job == "parts meter" else None,
            beside=beside or {},
            measure=request.measure,
        )
        self.link.say(message)
        return message

    def kept(self) -> list[str]:
        """The readings the recorder was told are kept."""
        return [
            request.reading for request in self.link.of(messages.Kept) if isinstance(request, messages.Kept)
        ]

    def close(self) -> None:
        """End the threads."""
        self.link.close()
        self.shelf.close()


def open_real_bench(rig: PartsRig, text: str) -> None:
    """Open a bench with the real recorder and wait until it stands."""
    runner = rig.work.runner
    runner.know_bench(benches.parse(text, "bench.toml"))
    with rig.qtbot.waitSignal(runner.bench_opened, timeout=60_000):
        runner.open_bench(text, "bench.toml", [])
