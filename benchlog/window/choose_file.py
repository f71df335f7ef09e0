"""Choosing a file by typing or by the arrow keys, in the page itself: nothing opens over a run that is watched."""

import os
from dataclasses import dataclass
from pathlib import Path

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QLineEdit, QVBoxLayout, QWidget

from benchlog.errors import BadInput, BenchlogError
from benchlog.window.forms import ENTER, press, row
from benchlog.window.look import Look
from benchlog.window.page import label
from benchlog.window.rows import Row, Rows
from benchlog.window.shelf import Shelf

_MOVES = (Qt.Key.Key_Up, Qt.Key.Key_Down, Qt.Key.Key_PageUp, Qt.Key.Key_PageDown)


@dataclass(frozen=True, slots=True)
class Listing:
    """What lies in a folder: its folders, then its files of the wanted kind."""

    folder: Path
    folders: tuple[str, ...]
    files: tuple[str, ...]

    def beginning(self, typed: str) -> tuple[str, ...]:
        """Names that contain what was typed, those that begin with it first; folders end in a slash."""
        sought = typed.casefold()
        names = [f"{name}/" for name in self.folders] + list(self.files)
        fitting = [name for name in names if sought in name.casefold()]
        return tuple(sorted(fitting, key=lambda name: not name.casefold().startswith(sought)))


def list_folder(folder: Path, suffixes: tuple[str, ...]) -> Listing:
    """Look into a folder; `BadInput` where that is not possible. Hidden names are left out."""
    try:
        entries = sorted(folder.iterdir(), key=lambda entry: entry.name.casefold())
        seen = [(entry, entry.is_dir()) for entry in entries if not entry.name.startswith(".")]
    except OSError as error:
        reason = error.strerror or str(error)
        raise BadInput(str(folder), f"cannot be looked into ({reason})", "name another folder") from None
    folders = tuple(entry.name for entry, is_folder in seen if is_folder)
    files = tuple(
        entry.name for entry, is_folder in seen if not is_folder and entry.suffix.casefold() in suffixes
    )
    return Listing(folder, folders, files)


class ChooseFile(QWidget):
    """A path and what lies there; `chosen` carries the path of a file, `left` that none is wanted."""

    chosen = Signal(object)
    left = Signal()

    def __init__(
        self,
        look: Look,
        shelf: Shelf,
        head: str,
        suffixes: tuple[str, ...] = (".toml",),
        start: Path | None = None,
    ) -> None:
        super().__init__()
        self._shelf = shelf
        self._suffixes = suffixes
        self._kinds = " or ".join(filter(None, (", ".join(suffixes[:-1]), suffixes[-1])))
        self._listing: Listing | None = None
        self.path = QLineEdit()
        self.path.setAccessibleName("the file's path")
        self.list = Rows(look, "what lies there", most=14)
        self.list.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.says = label(wrap=True)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addWidget(label(head, "head"))
        how = f"Type or use the arrow keys; Enter opens. Folders and {self._kinds} files are shown."
        column.addWidget(label(how, "soft", wrap=True))
        column.addWidget(self.path)
        column.addWidget(self.says)
        column.addWidget(self.list)
        column.addLayout(
            row(press("Open it", self._enter, main=True), press("Up one folder", self._up), self._back())
        )
        column.addStretch(1)
        self._start = start or Path.home()
        self.path.setText(_shown(self._start))
        self.path.textEdited.connect(lambda _: self._look())
        self.path.installEventFilter(self)
        self.list.taken.connect(lambda _: self._enter())

    def _back(self) -> QWidget:
        return press("Back", self.left.emit)

    def begin(self) -> None:
        """Show what lies in the folder; the cursor stands behind its name."""
        self._look()
        self.path.setFocus()
        self.path.end(False)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Arrow keys move in the list while the cursor stays in the path; Enter takes, Escape leaves."""
        if event.type() != QEvent.Type.KeyPress or not isinstance(event, QKeyEvent):
            return False
        if event.key() in ENTER:
            self._enter()
        elif event.key() in _MOVES:
            self._move(event)
        elif event.key() == Qt.Key.Key_Escape:
            self.left.emit()
        else:
            return False
        return True

    def _move(self, event: QKeyEvent) -> None:
        step = {Qt.Key.Key_Up: -1, Qt.Key.Key_Down: 1, Qt.Key.Key_PageUp: -8, Qt.Key.Key_PageDown: 8}
        wanted = self.list.currentRow() + step[Qt.Key(event.key())]
        self.list.setCurrentRow(max(0, min(self.list.count() - 1, wanted)))

    # --- what was typed ------------------------------------------------------------------------------

    def _typed(self) -> tuple[Path, str]:
        """The folder that is meant and the beginning of a name in it."""
        text = self.path.text().strip()
        if os.altsep:
            text = text.replace(os.sep, os.altsep)
        folder, slash, name = text.rpartition("/")
        if not slash:
            return self._start, name
        return Path(f"{folder}/").expanduser() if folder else Path("/"), name

    def _look(self) -> None:
        folder, _ = self._typed()
        if self._listing is not None and self._listing.folder == folder:
            self._fill()
            return
        self.list.put(())
        self.says.clear()
        self._shelf.off_thread(
            lambda: list_folder(folder, self._suffixes),
            self._take,
            self._failed,
            owner=self,
            key="listing",
            says="Reading a folder",
        )

    def _take(self, listing: Listing) -> None:
        self._listing = listing
        self._fill()

    def _failed(self, error: BenchlogError) -> None:
        self._listing = None
        self.list.put(())
        self.says.setText(str(error))

    def _fill(self) -> None:
        listing = self._listing
        if listing is None:
            return
        _, name = self._typed()
        names = listing.beginning(name)
        self.list.setCurrentRow(-1)
        self.list.put(Row(name, name) for name in names)
        if name and names:
            self.list.setCurrentRow(0)
        self.says.setText("" if names else f"Nothing here begins so: no folder and no {self._kinds} file.")

    def _up(self) -> None:
        folder, _ = self._typed()
        self._go_to(folder.parent)

    def _go_to(self, folder: Path) -> None:
        self.path.setText(_shown(folder))
        self.path.setFocus()
        self._look()

    def _enter(self) -> None:
        """Take what is marked in the list, else what stands in the path."""
        folder, name = self._typed()
        wanted = self.list.key or name
        if wanted.endswith("/"):
            self._go_to(folder / wanted.removesuffix("/"))
        elif wanted:
            self.chosen.emit(folder / wanted)


def _shown(folder: Path) -> str:
    """A folder as it stands in the path, ready to type a name behind it."""
    text = folder.as_posix()
    return text if text.endswith("/") else f"{text}/"
