"""One reading as a card: what it stands for, its number, its result, and under what it was taken (rule 39)."""

from PySide6.QtWidgets import QHBoxLayout, QVBoxLayout, QWidget

from benchlog.domain.quantity import show
from benchlog.domain.verdict import Verdict
from benchlog.store.query_unit import KeptReading
from benchlog.window import words
from benchlog.window.elided import Elided
from benchlog.window.look import Look
from benchlog.window.page import card, label
from benchlog.window.parts_book import in_words, is_turned
from benchlog.window.past_row import local
from benchlog.window.shapes import OF_VERDICT, Mark, Shape


def shape_of(kept: KeptReading | None) -> Shape:
    """How a reading is marked wherever it stands."""
    if kept is None:
        return Shape.TO_DO
    return OF_VERDICT[Verdict(kept.judgement.verdict)] if kept.judgement is not None else Shape.DOUBT


def result_of(kept: KeptReading | None) -> str:
    """Its result in a word."""
    if kept is None:
        return words.TO_DO
    if kept.withdrawn:
        return "taken back"
    return words.RESULT[Verdict(kept.judgement.verdict)] if kept.judgement is not None else words.NOT_JUDGED


def conditions_of(kept: KeptReading, mains: float | None = None) -> str:
    """How it was read, in words; `mains` is that of the bench at intake, for a reading that tells none itself."""
    reading, under = kept.reading, kept.reading.conditions
    said = [under.circuit, "leads turned" if is_turned(kept) else ""]
    said.append(words.TYPED if reading.typed else f"with {reading.job}" if reading.job else "")
    if under.mains is not None:
        said.append(f"mains {show(under.mains, 'V', digits=4)}")
    elif mains is not None:
        said.append(f"mains {show(mains, 'V', digits=4)} at intake")
    if under.minutes_on is not None:
        said.append(f"{under.minutes_on:.0f} min on")
    if under.ambient is not None:
        said.append(f"{under.ambient:.0f} °C in the room")
    if under.frequency is not None:
        said.append(f"at {show(under.frequency, 'Hz')}")
    said += [f"lid {under.lid}" if under.lid else "", f"load {under.load}" if under.load else ""]
    said.append("" if reading.settled else "still moving")
    return ", ".join(one for one in said if one)


class ReadingCard(QWidget):
    """One reading under a heading; with none it says so."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self._head = Elided(look, 14, soft=True)
        self._value = Elided(look, 27, bold=True)
        self._mark = Mark(look, side=16)
        self._word = label("")
        self._below = label("", "soft", wrap=True)
        frame = card()
        result = QHBoxLayout()
        result.setSpacing(8)
        result.addWidget(self._mark)
        result.addWidget(self._word, 1)
        inner = QVBoxLayout(frame)
        inner.setContentsMargins(12, 8, 12, 8)
        inner.setSpacing(3)
        for widget in (self._head, self._value):
            inner.addWidget(widget)
        inner.addLayout(result)
        inner.addWidget(self._below)
        inner.addStretch(1)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.addWidget(frame)

    def say(self, head: str, kept: KeptReading | None, mains: float | None = None) -> None:
        """Show another reading, or none."""
        self._head.say(head)
        self._value.say(in_words(kept.reading) if kept is not None else "— — —")
        self._mark.show_shape(shape_of(kept))
        self._word.setText(result_of(kept))
        below = ""
        if kept is not None:
            below = f"{local(kept.reading.taken)}\n{conditions_of(kept, mains)}"
        self._below.setText(below)
        self._below.setVisible(bool(below))
        said = f"{in_words(kept.reading)}, {result_of(kept)}, {below}" if kept is not None else "not read"
        self.setAccessibleName(f"{head}: {said}")


class PairOfCards(QWidget):
    """Two readings side by side."""

    def __init__(self, look: Look) -> None:
        super().__init__()
        self.one, self.other = ReadingCard(look), ReadingCard(look)
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(10)
        row.addWidget(self.one, 1)
        row.addWidget(self.other, 1)
