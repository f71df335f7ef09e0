"""Which bench to open: what the library keeps, the examples', or one from a file."""

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QVBoxLayout, QWidget

from benchlog.window.bench_file import BenchFile
from benchlog.window.forms import GAP, press, row
from benchlog.window.look import Look
from benchlog.window.page import label
from benchlog.window.rows import Row, Rows


class BenchChoice(QWidget):
    """A list of benches; `chosen` carries a path, `from_file` and `left` that none of these is wanted."""

    chosen = Signal(str)
    from_file = Signal()
    left = Signal()

    def __init__(self, look: Look) -> None:
        super().__init__()
        self.list = Rows(look, "benches", most=10)
        self.list.taken.connect(self.chosen)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(GAP)
        column.addWidget(label("Open a bench", "title"))
        how = (
            "A bench of your own is attached as it opens. An example's has places of the simulated bench in "
            "place of addresses: put yours in."
        )
        column.addWidget(label(how, "soft", wrap=True))
        column.addWidget(self.list)
        column.addLayout(
            row(press("Open one from a file", self.from_file.emit), press("Back", self.left.emit))
        )
        column.addStretch(1)

    def put(self, benches: tuple[BenchFile, ...]) -> None:
        """Show these."""
        self.list.put(
            Row(str(one.path), one.title, one.about, "example" if one.example else "yours") for one in benches
        )
        if benches and not self.list.key:
            self.list.setCurrentRow(0)

    def begin(self) -> None:
        """The keys go to the list."""
        self.list.setFocus()
