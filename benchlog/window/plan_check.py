"""What the check of a plan says before anything is live: what feeds the unit, warnings, from fault to off, proofs."""

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
from benchlog.window.page import label
from benchlog.window.run_view import Phase, RunView
from benchlog.window.shapes import Shape

READABLE = 800
"""Pixels of width beyond which a line and the number at its end fall apart."""
_DELAY = re.compile(r"(?P<what>.+): from fault to off at worst (?P<seconds>[\d.]+) s(?P<rest>.*)")
_SILENT = re.compile(
    r"(?P<what>A critical meter that falls silent): off at worst (?P<seconds>[\d.]+) s(?P<rest>.*)"
)


def sentences_of(sentences: Iterable[str]) -> tuple[Line, ...]:
    """The check's sentences: warnings first, then how long from a fault to off at worst."""
    warnings, delays = [], []
    for sentence in sentences:
        found = _DELAY.fullmatch(sentence) or _SILENT.fullmatch(sentence)
        if found is None:
            warnings.append(Line(sentence, shape=Shape.DOUBT, bold=True))
        else:
            rest = found["rest"].lstrip("; ").rstrip(".")
            text = f"{found['what']}: {rest}" if rest else found["what"]
            delays.append(Line(text, f"{found['seconds']} s"))
    if delays:
        delays.insert(0, Line("From fault to off, at worst", bold=True))
    return (*warnings, *delays)


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

    def __init__(self, look: Look) -> None:
        super().__init__()
        self.about = label(rank="soft", wrap=True)
        self.chain = Chain(look)
        self.proofs = Lines(look, name="off-switches")
        self.sentences = Lines(look, gap=8, name="what the check says")
        self.caution = label(words.CAUTION, wrap=True)
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(0, 0, 8, 0)
        column.setSpacing(10)
        column.addWidget(self.about)
        column.addWidget(self.chain)
        column.addWidget(label("The off-switch", "head"))
        column.addWidget(self.proofs)
        column.addWidget(label("What the check says", "head"))
        column.addWidget(self.sentences)
        column.addStretch(1)
        for wide in (self.about, self.proofs, self.sentences):
            wide.setMaximumWidth(READABLE)
        self.area = scrolled(inside)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(self.area, 1)
        outer.addWidget(self.caution)
        self.caution.setTextInteractionFlags(Qt.TextInteractionFlag.NoTextInteraction)

    def show_view(self, view: RunView) -> None:
        """Show what is known."""
        if view.plan is None:
            return
        parts = [part for part in (view.plan.about, _bench_words(view.bench)) if part]
        self.about.setText("  ".join(parts))
        self.about.setVisible(bool(parts))
        links = links_of(view.plan, view.bench)
        self.chain.show_links(links)
        self.proofs.show_lines(tuple(proofs_of(view)))
        self.sentences.show_lines(sentences_of(view.sentences))

    def move_by(self, step: int) -> None:
        """Move the sentences by some lines."""
        bar = self.area.verticalScrollBar()
        bar.setValue(bar.value() + 26 * step)
