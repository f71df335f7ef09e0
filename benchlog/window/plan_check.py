"""The check of a plan before anything is live: what is not guarded, from fault to off, what feeds the unit."""

import re
from collections.abc import Iterable, Iterator

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QVBoxLayout, QWidget

from benchlog.instruments.bench import Bench, OffSwitchEntry
from benchlog.window import words
from benchlog.window.chain import Chain, links_of
from benchlog.window.forms import scrolled
from benchlog.window.lines import Line, Lines
from benchlog.window.look import Look
from benchlog.window.page import label, line
from benchlog.window.run_view import Phase, RunView
from benchlog.window.shapes import Shape
from benchlog.window.still_open import StillOpen

READABLE = 800
"""Pixels of width beyond which a line and the number at its end fall apart."""
UNGUARDED = "Not guarded: "
"""How the sentence begins that comes before all others."""
_DELAY = re.compile(r"(?P<what>.+): from fault to off at worst (?P<seconds>[\d.]+) s(?P<rest>.*)")
_SILENT = re.compile(
    r"(?P<what>A critical meter that falls silent): off at worst (?P<seconds>[\d.]+) s(?P<rest>.*)"
)


def warnings_of(sentences: Iterable[str]) -> tuple[Line, ...]:
    """What is to be minded before anything is live, what nothing guards first."""
    found = [one for one in sentences if _delay(one) is None]
    return tuple(
        Line(one, shape=Shape.DOUBT, bold=one.startswith(UNGUARDED))
        for one in sorted(found, key=lambda one: not one.startswith(UNGUARDED))
    )


def delays_of(sentences: Iterable[str]) -> tuple[Line, ...]:
    """How long from each fault to off at worst, the longest first as it is said."""
    return tuple(
        Line(f"{found['what']}{_when(found['rest'])}", f"{found['seconds']} s")
        for found in map(_delay, sentences)
        if found is not None
    )


def _delay(sentence: str) -> re.Match[str] | None:
    return _DELAY.fullmatch(sentence) or _SILENT.fullmatch(sentence)


def _when(rest: str) -> str:
    """From when a limit looks, as the end of its own sentence."""
    rest = rest.lstrip("; ").rstrip(".")
    for told, shown in (("it looks only from when ", "once "), ("it looks only from ", "from ")):
        if rest.startswith(told):
            rest = shown + rest.removeprefix(told)
    return f", {rest}" if rest else ""


def proofs_of(view: RunView) -> Iterator[Line]:
    """Each off-switch and what its proof said."""
    if view.phase is Phase.PROVEN and view.proofs:
        for said in view.proofs:
            yield Line(said, shape=Shape.GOOD)
        return
    for switch in view.bench.off_switch if view.bench is not None else ():
        yield Line(_switch(switch), "not proven yet", Shape.TO_DO)


def _switch(switch: OffSwitchEntry) -> str:
    does = {
        "hand": "your hand, called by the alarm",
        "relay": "drops out by itself once nothing holds it in",
        "supply": "its output is switched off and read back",
    }[switch.kind]
    name = switch.job or switch.supply or switch.kind
    return f"{name}: {does}"


def _bench_words(bench: Bench | None) -> str:
    return f"Bench: {bench.name}" if bench is not None and bench.name else ""


class PlanCheck(QWidget):
    """Everything said between the choice of a plan and its first stage."""

    def __init__(self, look: Look, still_open: StillOpen) -> None:
        super().__init__()
        self._still_open = still_open
        self.about = label(rank="soft", wrap=True)
        self.chain = Chain(look)
        self.cold = Lines(look, name="cold checks")
        self._says_cold = label("Cold checks, before anything is live", "head")
        self.proofs = Lines(look, name="off-switches")
        self.warnings = Lines(look, gap=6, name="what to mind")
        self.delays = Lines(look, gap=6, name="from fault to off at worst")
        self._says_delays = label("From fault to off, at worst", "head")
        self.caution = label(words.CAUTION, wrap=True)
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(0, 0, 8, 0)
        column.setSpacing(10)
        feeds = label("What feeds the unit, and what switches it off", "head")
        widgets: tuple[QWidget, ...] = (
            self._says_cold,
            self.cold,
            self.warnings,
            self._says_delays,
            self.delays,
        )
        for widget in (*widgets, feeds, self.chain, self.proofs, self.about):
            column.addWidget(widget)
        column.addStretch(1)
        for wide in (self.cold, self.about, self.proofs, self.warnings, self.delays):
            wide.setMaximumWidth(READABLE)
        self.area = scrolled(inside)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(self.area, 1)
        outer.setSpacing(6)
        outer.addWidget(line())
        outer.addWidget(self.caution)
        self.caution.setTextInteractionFlags(Qt.TextInteractionFlag.NoTextInteraction)

    def show_view(self, view: RunView) -> None:
        """Show what is known."""
        if view.plan is None:
            return
        parts = [part for part in (view.plan.about, _bench_words(view.bench)) if part]
        self.about.setText("  ".join(parts))
        self.about.setVisible(bool(parts))
        self.cold.show_lines(view.cold.lines() if view.cold is not None else ())
        for widget in (self._says_cold, self.cold):
            widget.setVisible(bool(self.cold.lines))
        links = links_of(view.plan, view.bench)
        self.chain.show_links(links)
        self.proofs.show_lines(tuple(proofs_of(view)))
        open_ = self._still_open.sentences()
        self.warnings.show_lines(
            (*warnings_of(view.sentences), *(Line(one, shape=Shape.DOUBT) for one in open_))
        )
        self.delays.show_lines(delays_of(view.sentences))
        self._says_delays.setVisible(bool(self.delays.lines))

    def move_by(self, step: int) -> None:
        """Move the sentences by some lines."""
        bar = self.area.verticalScrollBar()
        bar.setValue(bar.value() + 26 * step)
