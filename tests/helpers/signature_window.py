"""Plays one signature through the window: `python -m helpers.signature_window NAME FOLDER` prints what it showed.

The window is driven by keys alone. Pictures of it go into the folder that `BENCHLOG_PICTURES` names, if it does.
"""

import json
import os
import sys
import time
from contextlib import ExitStack
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path

from driven import BREATH, Driven, offer_of
from helpers.near import bench_text
from helpers.signature_came import Came, Patience, Truth, live_for, play_apart
from helpers.signatures import BY_NAME, Signature, plan_of
from PySide6.QtCore import QSize, Qt, QTimer
from PySide6.QtTest import QTest
from route import begin

from benchlog.commands.simulated import Hands
from benchlog.domain.stages import State
from benchlog.recorder import messages
from benchlog.window import words
from benchlog.window.cut_screen import SwitchLine
from benchlog.window.notices import Notice
from benchlog.window.past_page import PastPage
from benchlog.window.powerup_page import PowerUpPage
from benchlog.window.run_view import Phase
from benchlog.window.shapes import Shape

PICTURES = "BENCHLOG_PICTURES"
SIZE = QSize(1440, 900)
METERS = 10
"""The signature that is no fault of the unit's."""
LOOKS = 30
"""Milliseconds between two looks at the window."""
SWITCH = 0.001
"""Seconds after which the window's thread lets the bench's have its turn, which is in the same process."""


@dataclass(frozen=True, slots=True)
class Face:
    """How one value was drawn.

    Attributes:
        where: `numeral` on the Power-up page, `tile` along the foot, `charge` on the page after a cut.
        shown: the number with its unit.
        wrong: why it is not to be believed, as it says; empty where it looks like any other.
        good: whether the mark beside it says that all is well.
        live: whether the unit was on.
    """

    where: str
    shown: str
    wrong: str
    good: bool = False
    live: bool = True


@dataclass(slots=True)
class CutPage:
    """What the page after a cut says."""

    word: str = ""
    what: str = ""
    where: str = ""
    off: list[str] = field(default_factory=list)
    keep_out: str = ""


@dataclass(slots=True)
class Past:
    """What the page of past runs shows of the run: its row in the list, and its account."""

    row: str = ""
    mark: str = ""
    ending: str = ""
    about: str = ""
    told: list[str] = field(default_factory=list)


@dataclass(slots=True)
class Shown:
    """What a window showed of a run.

    Attributes:
        came: the run itself, as recorder, file and far end have it.
        cut, off: the page after a cut as it came up, and once everything was seen off.
        late: seconds from the recorder's word that it trips to the page.
        stage: where the run stood when it went off.
        offered: the stages at which the next step was offered.
        closed: the large sentences once the run was closed.
        faces: how the value of the trace that is not to be believed was drawn, from its fault on.
        notices: the sentences that lay over the page.
    """

    came: Came = field(default_factory=Came)
    cut: CutPage | None = None
    off: CutPage | None = None
    late: float = 0.0
    stage: str = ""
    offered: list[str] = field(default_factory=list)
    closed: list[str] = field(default_factory=list)
    faces: list[Face] = field(default_factory=list)
    notices: list[str] = field(default_factory=list)
    past: Past = field(default_factory=Past)


def show(name: str, home: Path) -> Shown:
    """Play it in a process of its own."""

    def read(said: str) -> tuple[Shown, Came]:
        shown = shown_of(said)
        return shown, shown.came

    return play_apart("helpers.signature_window", name, home, read, BENCHLOG_MUTE="1")


def shown_of(said: str) -> Shown:
    """What the program printed."""
    data = json.loads(said)
    cut, off = (CutPage(**data[key]) if data[key] else None for key in ("cut", "off"))
    faces = [Face(**one) for one in data["faces"]]
    made = {
        "came": Came(**data["came"]),
        "cut": cut,
        "off": off,
        "faces": faces,
        "past": Past(**data["past"]),
    }
    return Shown(**{**data, **made})


class _Eye:
    """Looks at the window all the time, and keeps what it shows."""

    def __init__(self, driven: Driven, signature: Signature, truth: Truth, shown: Shown) -> None:
        self._driven, self._truth, self._shown = driven, truth, shown
        # Of a meter's own faults: the trace that it reads.
        self.trace = signature.limits[0][0] if signature.number == METERS else ""
        self._tripped = 0.0
        self._came_up: float | None = None
        self._last: dict[str, Face] = {}
        page = driven.frame.pages[words.POWER_UP]
        assert isinstance(page, PowerUpPage)
        self.page = page
        self._timer = QTimer()
        self._timer.setInterval(LOOKS)
        self._timer.timeout.connect(self.look)
        self._timer.start()

    def close(self) -> None:
        """Look no more."""
        self._timer.stop()

    def hear(self, message: messages.Message) -> None:
        """Take what the recorder says in the order in which it does, and remember when it said that it trips."""
        self._shown.came.hear(message)
        if isinstance(message, messages.Trip) and not self._tripped:
            self._tripped = time.monotonic()

    def look(self) -> None:
        """One look."""
        frame, view, shown = self._driven.frame, self._driven.view, self._shown
        for notice in frame.findChildren(Notice):
            if notice.isVisible() and notice.text not in shown.notices:
                shown.notices.append(notice.text)
        if frame.cut_screen.isVisible():
            self._cut()
        elif self.page.isVisible() and view.is_live:
            self._offers()
        if self.trace and self._truth.first and view.phase in (Phase.LIVE, Phase.OFF):
            self._faces()

    def _cut(self) -> None:
        if self._came_up is None:
            self._came_up = time.monotonic()
            self._shown.late = self._came_up - self._tripped if self._tripped else 0.0
        elif self._shown.cut is None:
            # A look later, when all of it is drawn.
            self._shown.cut = self.cut_page()

    def _offers(self) -> None:
        here = [rung.name for rung in self.page.ladder.rungs if rung.here]
        call = self.page.card.call
        if call.asks and call.shape is Shape.GOOD and here and here[0] not in self._shown.offered:
            self._shown.offered.append(here[0])

    def cut_page(self) -> CutPage:
        """The page after a cut as it stands."""
        screen = self._driven.frame.cut_screen
        lines = [line.text for line in screen.findChildren(SwitchLine) if line.isVisible()]
        word, what, where = (label.text() for label in (screen.word, screen.what, screen.where))
        return CutPage(word, what, where, lines, screen.keep_out.text())

    def _faces(self) -> None:
        frame, found = self._driven.frame, []
        for numeral in self.page.desk.numerals.shown:
            face = numeral.face.face
            if numeral.isVisible() and face.name == self.trace:
                good = numeral.face.shape is Shape.GOOD
                found.append(Face("numeral", f"{face.number} {face.unit}", face.wrong, good=good))
        tile = frame.foot._tiles.get(self.trace)
        if tile is not None and tile.isVisible():
            face = tile._face
            found.append(Face("tile", f"{face.number} {face.unit}", face.wrong))
        bar = frame.cut_screen._bars.get(self.trace)
        if bar is not None and bar.isVisible() and bar._charge is not None:
            charge = bar._charge
            found.append(Face("charge", charge.shown, charge.words if charge.stale else ""))
        for one in found:
            seen = replace(one, live=self._driven.view.is_live)
            if self._last.get(seen.where) != seen:
                self._last[seen.where] = seen
                self._shown.faces.append(seen)


class _Hand:
    """Goes up by Enter, meddles with a meter and gives up by keys, until the run is closed."""

    def __init__(self, driven: Driven, signature: Signature, shown: Shown, eye: _Eye) -> None:
        self._driven, self._signature, self._shown, self._eye = driven, signature, shown, eye
        self._patience = Patience(signature)
        self._has_enough = False
        driven.program.link.heard.connect(self.hear)

    def hear(self, message: messages.Message) -> None:
        """Go by each word on the stage, however late it is heard: meddle with the meter, or have had enough."""
        if not isinstance(message, messages.Stage):
            return
        self._has_enough = self._patience.gives_up(message)
        act = self._signature.act
        if act is not None and self._patience.to_meddle(message):
            self._driven.hand(do="meter", job=act.job, act=act.does)

    def play(self) -> None:
        """From the plan to the close."""
        begin(self._driven)
        self._driven.until(self._step, "the close", 200.0)

    def _step(self) -> bool:
        driven = self._driven
        view = driven.view
        if view.seen_off and self._shown.off is None and driven.frame.cut_screen.isVisible():
            driven.frame.cut_screen.refresh()
            driven.settle()
            self._shown.off = self._eye.cut_page()
            picture(driven, self._signature, "cut")
        if view.phase is Phase.CLOSED:
            return True
        if driven.obey() or not view.is_live or view.stage is None:
            return False
        if self._has_enough:
            driven.leave(Phase.LIVE, Qt.Key.Key_Asterisk)
        elif view.state is State.READY:
            QTest.qWait(BREATH)
            # It may have been taken back in that breath.
            if view.state is State.READY:
                driven.key(Qt.Key.Key_Enter)
        return False


def past_of(driven: Driven, name: str) -> Past:
    """Go to the past runs by key, and read what stands there of this one."""
    driven.key(Qt.Key.Key_F6)
    page = driven.frame.pages[words.PAST_RUNS]
    assert isinstance(page, PastPage)

    def there() -> bool:
        run, rows = page.detail.run, page.list.model.rows
        return bool(rows) and not rows[0].live and run is not None and run.file.name == name and not run.live

    driven.until(there, "the run in the list")
    driven.settle()
    index = page.list.model.index(0)
    told = [line.text for line in page.detail.told.told.lines]
    row, detail = page.list.model.rows[0], page.detail
    said = str(page.list.model.data(index))
    return Past(said, row.shape.value, detail.ending.text(), detail.about.text(), told)


def picture(driven: Driven, signature: Signature, what: str) -> None:
    """A picture of the window, where pictures are wanted."""
    folder = os.environ.get(PICTURES)
    if folder:
        Path(folder).mkdir(parents=True, exist_ok=True)
        name = signature.name.replace(" ", "-").replace(",", "")
        driven.frame.grab().save(str(Path(folder) / f"{signature.number:02}-{name}-{what}.png"))


def closed_of(driven: Driven, came: Came) -> Path:
    """Take how the run was closed: its file."""
    closed = driven.view.closed
    assert closed is not None
    came.outcome, came.reason, came.off = closed.outcome, closed.reason, driven.view.off
    came.stages = [name for _, name in driven.view.marks]
    return Path(closed.path)


def run(signature: Signature, home: Path) -> Shown:
    """Play a signature to its end, in this process."""
    sys.setswitchinterval(SWITCH)
    shown = Shown(came=Came(speed=signature.speed))
    came = shown.came
    far = live_for(signature)
    truth = Truth(far, signature)
    offer = replace(
        offer_of(signature.example, bench_text(far, signature.example)), plan_text=plan_of(signature)
    )
    player = [sys.executable, "-m", "benchlog.simbench.ear", far.address("control")]
    with ExitStack() as ends:
        ends.callback(far.close)
        hands = Hands(far.address("control"))
        ends.callback(hands.close)
        driven = Driven(home / "library", offer, hands, rate=signature.speed, player=player)
        ends.callback(driven.close)
        driven.frame.resize(SIZE)
        eye = _Eye(driven, signature, truth, shown)
        ends.callback(eye.close)
        driven.program.link.heard.connect(eye.hear)
        _Hand(driven, signature, shown, eye).play()
        session = closed_of(driven, came)
        assert driven.view.stage is not None
        shown.stage = driven.view.stage.name
        if driven.frame.cut_screen.isVisible():
            driven.until(lambda: _left(driven), "the page that was left")
        driven.settle()
        shown.closed = [eye.page.card.call.text, eye.page.card.call.detail]
        picture(driven, signature, "closed")
        shown.past = past_of(driven, session.name)
        picture(driven, signature, "past")
        came.account(signature, truth, session)
    return shown


def _left(driven: Driven) -> bool:
    """Press Enter after a cut until it is no longer too soon for it."""
    if driven.frame.cut_screen.isVisible():
        QTest.qWait(BREATH)
        driven.key(Qt.Key.Key_Enter)
    return not driven.frame.cut_screen.isVisible()


def main() -> int:
    """Play the one that is named, and print what the window showed."""
    print(json.dumps(asdict(run(BY_NAME[sys.argv[1]], Path(sys.argv[2])))))
    return 0


if __name__ == "__main__":
    sys.exit(main())
