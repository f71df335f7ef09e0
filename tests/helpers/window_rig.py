"""A frame on a recorder that says what a test lets it say, with pages that write down what they hear."""

import re
from pathlib import Path

from helpers.fake_link import FakeLink
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QLineEdit, QPushButton, QVBoxLayout

from benchlog import resources
from benchlog.instruments import bench as benches
from benchlog.recorder.client import messages
from benchlog.window import words
from benchlog.window.frame import Frame
from benchlog.window.keys import PARTS, POWER_UP, Action, Keys
from benchlog.window.keys_page import KeysPage
from benchlog.window.look import Look
from benchlog.window.page import Page
from benchlog.window.runner import Runner
from benchlog.window.shelf import Shelf
from benchlog.window.wiring_page import WiringPage
from benchlog.window.work import Work

EXAMPLE = resources.path("examples", "amplifier")
SECOND = 1_000_000_000


def bench(example: str = "amplifier") -> benches.Bench:
    """An example's bench with addresses nobody opens here."""
    text = (resources.path("examples", example) / "bench.toml").read_text("utf-8")
    return benches.parse(re.sub(r'"simulated:[^"]*"', '"socket://127.0.0.1:9"', text), "bench.toml")


class Place(Page):
    """A page that writes down what it hears."""

    def __init__(self, work: Work, title: str, place: str = "") -> None:
        super().__init__(work)
        self.title = title
        self.place = place
        self.acts: list[Action] = []
        self.pressed = self.taken = 0
        self.field = QLineEdit()
        self.button = QPushButton("press")
        self.button.clicked.connect(self._press)
        column = QVBoxLayout(self)
        column.addWidget(self.field)
        column.addWidget(self.button)

    def _press(self) -> None:
        self.pressed += 1

    def tread(self, does: str) -> None:
        self.taken += does == "take"

    def act(self, action: Action) -> bool:
        self.acts.append(action)
        return True

    def typed(self, event: QKeyEvent) -> bool:
        return event.text() == "7"


class Rig:
    """A frame on a fake recorder."""

    def __init__(self, look: Look, folder: Path) -> None:
        self.link = FakeLink()
        self.shelf = Shelf(folder)
        self.runner = Runner(self.link, clock=lambda: self.now)
        self.now = 100.0
        self.work = Work(look, Keys(), self.runner, self.shelf)
        self.work.now = lambda: self.now  # type: ignore[method-assign]
        self.parts = Place(self.work, words.PARTS, PARTS)
        self.pages: list[Page] = [Place(self.work, name) for name in (words.UNIT, words.BENCH)]
        self.pages.append(self.parts)
        self.power = Place(self.work, words.POWER_UP, POWER_UP)
        self.pages += [self.power, Place(self.work, words.PAST_RUNS)]
        self.pages += [WiringPage(self.work), KeysPage(self.work)]
        self.frame = Frame(self.work, self.pages)

    def proven(self) -> None:
        """Bring a run to where its off-switch is proven."""
        self.runner.know_bench(bench())
        self.runner.load_plan((EXAMPLE / "plan.toml").read_text("utf-8"), "plan.toml")
        self.link.answer(messages.LoadPlan, sentences=["One sentence."])
        self.runner.prove()
        self.link.answer(messages.Prove, said=["proven"])

    def arming(self) -> None:
        """Bring a run to where the recorder has been asked to open its file."""
        self.proven()
        self.runner.arm("folder")

    def live(self) -> None:
        """Bring a run to where the unit may be on."""
        self.arming()
        self.link.answer(messages.Arm, session="folder/run.db")
        self.link.say(self.stage("standing"), self.stage("dwelling"))

    @staticmethod
    def stage(state: str, t: int = 0) -> messages.Stage:
        return messages.Stage(t=t, state=state, index=0, name="10 %")

    def reading(self, trace: str, value: float | None, outcome: str = "ok", seq: int = 1) -> None:
        rows = [(seq, 0, value, outcome)]
        self.link.say(messages.Readings(batches=[messages.Batch(trace, rows)]))
