"""The power-up page on a recorder that says what a test lets it say, with a clock the test sets."""

import math
from pathlib import Path

from helpers.fake_link import FakeLink
from helpers.window_rig import EXAMPLE, SECOND, bench
from PySide6.QtWidgets import QLayout, QVBoxLayout, QWidget

from benchlog.domain.cold_checks import told
from benchlog.domain.reading import Outcome
from benchlog.recorder.client import messages
from benchlog.window.keys import Action, Keys
from benchlog.window.look import Look
from benchlog.window.powerup_page import PowerUpPage
from benchlog.window.run_view import Phase, RunView
from benchlog.window.runner import Runner
from benchlog.window.shelf import Shelf
from benchlog.window.work import Work

PLAN = (EXAMPLE / "plan.toml").read_text("utf-8")
FRACTIONS = (0.1, 0.2, 0.4, 0.6, 0.8, 1.0)
SENTENCES = [
    "lamp is on the mains side and nobody has said whether its link is isolated.",
    "Not guarded: heat sinks.",
    "A critical meter that falls silent: off at worst 5.5 s after its last reading.",
    "+B and -B lower than the source should give: from fault to off at worst 2.9 s; "
    "it looks only from 5 s after the source is steady",
    "idle L above 33.00 mV: from fault to off at worst 1.8 s; "
    "it looks only from when +B has stood above 22 V for 5 s",
]


def window_of(page: PowerUpPage) -> QWidget:
    """A window of its own for a page, which may be made as small as anybody likes."""
    window = QWidget()
    column = QVBoxLayout(window)
    column.setContentsMargins(0, 0, 0, 0)
    column.setSizeConstraint(QLayout.SizeConstraint.SetNoConstraint)
    column.addWidget(page)
    return window


def told_cold(view: RunView) -> None:
    """Every cold check of the plan at hand has been told already."""
    assert view.cold is not None
    view.cold.said = {check: told(check, yes=True) for check in view.cold.plan.cold_checks}


class PowerUpRig:
    """A page, its run, and what the recorder was asked."""

    def __init__(self, look: Look, folder: Path) -> None:
        self.link = FakeLink()
        self.shelf = Shelf(folder)
        self.now = 100.0
        self.runner = Runner(self.link, clock=lambda: self.now)
        self.work = Work(look, Keys(), self.runner, self.shelf)
        self.work.now = lambda: self.now  # type: ignore[method-assign]
        self.page = PowerUpPage(self.work)
        self.window = window_of(self.page)
        self.session = str(folder / "sessions" / "run.db")
        self.t = 0.0
        self._seq: dict[str, int] = {}
        self._prompts = 0

    # --- before it is live -----------------------------------------------------------------------

    def bench(self) -> None:
        """Open the example's bench."""
        self.runner.know_bench(bench())
        self.runner.open_bench("text", "bench.toml", [])
        self.link.answer(messages.OpenBench, meters={})

    def checked(self) -> None:
        """Have the example's plan checked."""
        self.bench()
        self.runner.load_plan(PLAN, "plan.toml")
        self.link.answer(messages.LoadPlan, sentences=SENTENCES)
        told_cold(self.runner.view)

    def proven(self) -> None:
        """Have the off-switch proven."""
        self.checked()
        self.runner.prove()
        self.link.answer(
            messages.Prove,
            said=["mains relay, on a pumped line: in, out, and out with its port freshly opened"],
        )

    def armed(self) -> None:
        """Open the session."""
        self.proven()
        self.runner.arm("folder")
        self.link.answer(messages.Arm, session=self.session)
        self.stage("standing", 0)

    # --- what the recorder says ------------------------------------------------------------------

    def stage(
        self,
        state: str,
        index: int,
        left: float = 0.0,
        waits: list[tuple[str, bool, str]] | None = None,
        *,
        astray: str = "",
        unarmed: list[tuple[int, float | None]] | None = None,
    ) -> None:
        """Say where the run stands."""
        self.link.say(
            messages.Stage(
                t=int(self.t * SECOND),
                state=state,
                index=index,
                name=f"{100 * FRACTIONS[index]:.0f} %",
                waits=waits if waits is not None else [(f"dwell {left:g} s", left <= 0.0, "")],
                left=left,
                astray=astray,
                unarmed=unarmed or [],
            )
        )

    def prompt(self, kind: str, text: str, **data: object) -> None:
        """Ask for a person."""
        self._prompts += 1
        self.link.say(messages.Prompt(prompt=self._prompts, kind=kind, text=text, data=data))

    def event(self, kind: str, text: str, **data: object) -> None:
        """Tell what happened."""
        self.link.say(messages.Event(t=int(self.t * SECOND), kind=kind, text=text, data=data))

    def read(self, trace: str, value: float | None, outcome: str = Outcome.OK, *, skip: int = 0) -> None:
        """One reading; some before it are dropped on the way."""
        seq = self._seq.get(trace, 0) + 1 + skip
        self._seq[trace] = seq
        rows = [(seq, int(self.t * SECOND), value, outcome)]
        self.link.say(messages.Readings(batches=[messages.Batch(trace, rows)]))

    def rest(self, fraction: float, seconds: float, *, but: tuple[str, ...] = ()) -> None:
        """Let every meter but some read a unit at rest at this setting, three times a second."""
        for _ in range(round(seconds * 3)):
            self.t += 1 / 3
            self.now += 1 / 3
            wobble = 1.0 + 0.002 * math.sin(self.t * 1.7)
            rail = max(0.0, 0.196 * 0.9 * 230.0 * fraction - 0.65) * wobble
            values = {
                "mains": 230.0 * fraction * wobble,
                "lamp": 23.0 * fraction * wobble,
                "+B": rail,
                "-B": -0.994 * rail,
                "offset L": 0.0123 * wobble if fraction > 0.3 else 0.04 * math.sin(self.t / 4),
                "offset R": -0.0042 * wobble,
                "idle L": 0.0161 * fraction * wobble,
                "idle R": 0.0158 * fraction * wobble,
                "sink L": 23.0 + self.t / 60,
            }
            for trace, value in values.items():
                if trace not in but:
                    self.read(trace, value)

    def climb(self, to: int, seconds: float = 20.0) -> None:
        """Go up to a stage, answering what is asked, and rest at each."""
        self.armed()
        for index in range(to + 1):
            fraction = FRACTIONS[index]
            self.stage("setting", index)
            text = f"Set the variable transformer to {100 * fraction:.0f} %, {230 * fraction:.1f} V."
            self.prompt("set_dial", text, fraction=fraction, volts=230 * fraction)
            self.runner.answer(yes=True)
            self.event("told", "told: set dial done", prompt="set_dial", done=True)
            if index == 0:
                self.stage("switching on", index)
                self.event("on", "switched on", done=True)
            self.stage("moving", index)
            self.rest(fraction, 4.0)
            self.dwell(index, 20.0)
            self.rest(fraction, seconds)

    def dwell(self, index: int, left: float) -> None:
        """Rest at a stage with what the plan awaits there."""
        rail = 0.196 * 0.9 * 230.0 * FRACTIONS[index] - 0.65
        waits = [
            ("dwell 30 s", left <= 0.0, f"{left:.0f} s left"),
            ("+B as expected", True, f"{rail:.2f} V"),
            ("-B as expected", True, f"{-rail:.2f} V"),
        ]
        if index in (2, 5):
            waits.append(("offset L between -50.0 mV and 50.0 mV", True, "12.30 mV"))
            waits.append(("offset R between -50.0 mV and 50.0 mV", left < 10.0, "-54.20 mV"))
        if index in (3, 4):
            waits.append(("lamp steady within 10 % for 10 s", left < 10.0, "13.8 V"))
        ready = all(holds for _, holds, _ in waits)
        self.stage("ready" if ready else "dwelling", index, left, waits)

    def trip(self, text: str) -> None:
        """Let a limit break."""
        t = int(self.t * SECOND)
        self.link.say(messages.Trip(t=t, wire_ns=0, trace="lamp", limit="high", text=text))
        self.event("trip", text)
        self.event("off", text, why="trip")

    def off(self, why: str = "off", text: str = "all stages done") -> None:
        """Let it go off and be seen off."""
        self.event("off", text, why=why)
        self.stage("tail", self.runner.view.stage.index if self.runner.view.stage else 0)
        self.link.say(
            messages.CutState(
                t=int(self.t * SECOND),
                path="mains relay",
                outcome="verified off",
                text="off",
                asked_ns=0,
                at_ns=640_000_000,
            )
        )

    def closed(self, outcome: str = "completed", reason: str = "all stages done") -> None:
        """Close the session."""
        self.event("closed", reason, outcome=outcome, off="verified off", told_off=False)
        self.link.say(messages.Closed(path=self.session, outcome=outcome, reason=reason, folded=True))

    def close(self) -> None:
        """End everything."""
        self.runner.view.phase = Phase.CLOSED
        self.window.close()
        self.link.close()
        self.shelf.close()


def enter(rig: PowerUpRig) -> None:
    """Enter, once the call has stood for a while."""
    rig.page.refresh()
    rig.now += 1.0
    rig.page.act(Action.GO)


def acts(rig: PowerUpRig) -> list[tuple[str, int]]:
    """What the recorder was asked to do, and at which stage."""
    return [(one.what, one.stage) for one in rig.link.of(messages.Act) if isinstance(one, messages.Act)]


def answers(rig: PowerUpRig) -> list[tuple[int, bool]]:
    """Which prompts were answered, and how."""
    found = rig.link.of(messages.Answer)
    return [(one.prompt, one.yes) for one in found if isinstance(one, messages.Answer)]
