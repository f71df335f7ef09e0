"""Looking for instruments: places listed, those that are ticked asked, one taken into the form."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QLineEdit, QVBoxLayout, QWidget

from benchlog.errors import BadInput
from benchlog.instruments.address import parse_address
from benchlog.window.finder import Finder
from benchlog.window.forms import GAP, press, row
from benchlog.window.look import Look
from benchlog.window.page import label
from benchlog.window.rows import Row, Rows
from benchlog.window.shapes import Shape

HOW = (
    "Looking opens nothing and sends nothing. Tick those that may be asked what they are, by Enter, space "
    "or a click: a question can disturb what is no instrument."
)
NONE = "Nothing was found. A plain network socket cannot be found: write its address below."
TICKED = "ticked"


@dataclass
class Place:
    """Where an instrument may be; `about` in words, `profile` the name of the one that fits best."""

    about: str = ""
    profile: str = ""
    ticked: bool = False


class BenchFind(QWidget):
    """A list to tick; `taken` carries an address and the name of a profile or nothing, `left` that it was given up."""

    taken = Signal(str, str)
    left = Signal()

    def __init__(self, look: Look, finder: Finder | None = None) -> None:
        super().__init__()
        self.finder = finder or Finder()
        self.finder.setParent(self)
        self.folders: Sequence[str] = ()
        self.places: dict[str, Place] = {}
        self.list = Rows(look, "where instruments may be", most=10)
        self.list.taken.connect(self._tick)
        self.list.installEventFilter(self)
        self.list.currentItemChanged.connect(lambda *_: self._stand())
        self.address = QLineEdit()
        self.address.setPlaceholderText("another address to ask at, such as tcp://192.0.2.7:5025")
        self.address.setAccessibleName("another address to ask at")
        self.address.returnPressed.connect(self._add_written)
        self.says = label("", "soft", wrap=True)
        self._asks = press("Ask those that are ticked", self._ask, main=True)
        self._takes = press("Attach this one", self._take)
        self._again = press("Look again", self.look)
        self._lay_out()
        self.finder.found.connect(self._hear)
        self.finder.doing.connect(lambda step: self.says.setText(f"{step} ..."))
        self.finder.ended.connect(self._ended)
        self._stand()

    def _lay_out(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(GAP)
        pieces = (label("Look for instruments", "title"), label(HOW, "soft", wrap=True), self.says)
        for widget in (*pieces, self.list, self.address):
            column.addWidget(widget)
        column.addLayout(row(self._asks, self._takes, self._again, press("Back", self._leave)))
        column.addStretch(1)

    def look(self) -> None:
        """List anew; ticks and answers of before are gone."""
        if not self.finder.at_work:
            self.places = {}
            self.says.setText("looking ...")
            self.finder.list_places()
            self._show()
        self.list.setFocus()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Space ticks what the list stands on, Escape gives up."""
        if watched is self.list and isinstance(event, QKeyEvent) and event.type() is QEvent.Type.KeyPress:
            if event.key() == Qt.Key.Key_Space:
                self._tick(self.list.key)
                return True
            if event.key() == Qt.Key.Key_Escape:
                self._leave()
                return True
        return super().eventFilter(watched, event)

    # --- what is heard -------------------------------------------------------------------------------

    def _hear(self, found: Mapping[str, Any]) -> None:
        address = str(found.get("address", ""))
        if not address:
            self.says.setText(f"{found.get('wrong', '')}.")
            return
        place = self.places.setdefault(address, Place())
        profiles = [str(name) for name in found.get("profiles", ())]
        place.about = in_words(found)
        place.profile = profiles[0] if profiles else ""
        self._show()

    def _ended(self, trouble: str) -> None:
        if trouble or not self.places or self.says.text().endswith("..."):
            self.says.setText(trouble or ("" if self.places else NONE))
        self._stand()

    # --- what is done --------------------------------------------------------------------------------

    @property
    def ticked(self) -> list[str]:
        """Addresses that may be asked."""
        return [address for address, place in self.places.items() if place.ticked]

    def _tick(self, address: str) -> None:
        if address in self.places:
            self.places[address].ticked ^= True
            self._show()

    def _add_written(self) -> None:
        text = self.address.text().strip()
        try:
            parse_address(text, "the address")
        except BadInput as error:
            self.says.setText(str(error))
            return
        self.places.setdefault(text, Place()).ticked = True
        self.address.clear()
        self._show()
        self.list.choose(text)

    def _ask(self) -> None:
        self.finder.ask(self.ticked, self.folders)
        self._stand()

    def _take(self) -> None:
        address = self.list.key
        if address and not self.finder.at_work:
            self.taken.emit(address, self.places[address].profile)

    def _leave(self) -> None:
        self.finder.stop()
        self.left.emit()

    # --- what is shown -------------------------------------------------------------------------------

    def _show(self) -> None:
        self.list.put(
            Row(address, address, place.about, TICKED if place.ticked else "", _shape(place))
            for address, place in self.places.items()
        )
        if self.places and not self.list.key:
            self.list.setCurrentRow(0)
        self._stand()

    def _stand(self) -> None:
        free = not self.finder.at_work
        self._asks.setEnabled(free and bool(self.ticked))
        self._takes.setEnabled(free and bool(self.list.key))
        self._again.setEnabled(free)


def _shape(place: Place) -> Shape:
    if place.profile:
        return Shape.GOOD
    return Shape.HERE if place.ticked else Shape.TO_DO


def in_words(found: Mapping[str, Any]) -> str:
    """One find as the list tells it below its address."""
    device = str(found.get("device", ""))
    profiles = [str(name) for name in found.get("profiles", ())]
    told = [
        device if device != found.get("address") else "",
        str(found.get("about", "")),
        f'says "{found["identity"]}"' if found.get("identity") else "",
        f"fits {' or '.join(profiles)}" if profiles else "",
        str(found.get("wrong", "")),
    ]
    return ", ".join(text for text in told if text)
