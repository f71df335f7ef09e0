"""The page of all keys: what each does, drawn as on the keyboard, and any other key bound in its place."""

from collections.abc import Mapping, Sequence

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent, QKeySequence
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QPushButton, QScrollArea, QVBoxLayout, QWidget

from benchlog.window import key_file, words
from benchlog.window.keycap import KeyCap
from benchlog.window.keys import ALL, OF_GRAPH, About, Keys, combination
from benchlog.window.page import Page, label
from benchlog.window.work import Work

_BARE = (Qt.Key.Key_Shift, Qt.Key.Key_Control, Qt.Key.Key_Alt, Qt.Key.Key_Meta, Qt.Key.Key_AltGr)


class KeysPage(Page):
    """All keys by place; `bind` waits for the next key press, so a foot switch is bound by pressing it."""

    title = words.KEYS

    def __init__(self, work: Work) -> None:
        super().__init__(work)
        self._wanted: About | None = None
        self._says = label(
            "A foot switch that types arrives as a key: press “bind”, then the switch. One on a serial port goes onto "
            "the bench. Esc and F12 always cut.",
            "soft",
            wrap=True,
        )
        self._list = QWidget()
        self._grid = QGridLayout(self._list)
        self._grid.setContentsMargins(0, 0, 12, 0)
        self._grid.setVerticalSpacing(6)
        self._grid.setColumnStretch(1, 1)
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setWidget(self._list)
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        usual = QPushButton("back to the usual keys")
        usual.clicked.connect(lambda: self._keep({}))
        column = QVBoxLayout(self)
        column.setContentsMargins(18, 14, 12, 10)
        column.addWidget(label("Keys", "title"))
        column.addWidget(self._says)
        column.addWidget(area, 1)
        foot = QHBoxLayout()
        foot.addStretch(1)
        foot.addWidget(usual)
        column.addLayout(foot)
        work.keys_changed.connect(self._fill)
        self._fill()

    def _fill(self) -> None:
        while (item := self._grid.takeAt(0)) is not None:
            widget = item.widget()
            if widget is not None:
                widget.deleteLater()
        row, place = 0, ""
        for about in ALL:
            if about.where != place:
                place = about.where
                self._grid.addWidget(label(place, "head"), row, 0, 1, 3)
                row += 1
            self._add(row, self.work.keys.all_names(about), about.what)
            bind = QPushButton("bind")
            bind.setAccessibleName(f"bind a key to: {about.what}")
            bind.clicked.connect(lambda _=False, wanted=about: self._wait_for(wanted))
            self._grid.addWidget(bind, row, 2)
            row += 1
        self._grid.addWidget(label("a graph: these stay as they are", "head"), row, 0, 1, 3)
        for names, what in OF_GRAPH:
            row += 1
            self._add(row, names, what)
        self._grid.setRowStretch(row + 1, 1)

    def _add(self, row: int, names: Sequence[str], what: str) -> None:
        """Keys and what they do, in one row."""
        cap = KeyCap(self.work.look, "   ".join(names) or "none", "")
        cap.setAccessibleName(f"{what}: {', '.join(names)}")
        cap.setFixedHeight(34)
        cap.setEnabled(False)
        cap.setMinimumWidth(118)
        self._grid.addWidget(cap, row, 0)
        self._grid.addWidget(label(what, wrap=True), row, 1)

    def _wait_for(self, about: About) -> None:
        self._wanted = about
        self._says.setText(f"Press the key or foot switch that shall do this: {about.what}.")
        self.setFocus()

    def typed(self, event: QKeyEvent) -> bool:
        """The next key press after `bind` is the key."""
        about = self._wanted
        if about is None or event.key() in _BARE:
            return False
        self._wanted = None
        name = QKeySequence(combination(event)).toString(QKeySequence.SequenceFormat.PortableText)
        if event.key() in (Qt.Key.Key_Escape, Qt.Key.Key_F12):
            self._says.setText("Esc and F12 always cut. Choose another key.")
            return True
        own = {key: action for key, action in self.work.keys.own.items() if key != name}
        self._keep({**own, name: about.action.value})
        self._says.setText(f"{name} does it now: {about.what}.")
        return True

    def _keep(self, own: Mapping[str, str]) -> None:
        self.work.keys = Keys(dict(own))
        self.work.keys_changed.emit()
        folder = self.work.shelf.folder
        self.work.shelf.off_thread(
            lambda: key_file.write(folder, own), lambda _: None, self.work.say_error, owner=self
        )
