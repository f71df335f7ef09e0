"""Opens a live window and another program's, goes from one to the other, and prints what was seen as JSON."""

import json
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

from helpers.fake_link import FakeLink
from helpers.window_rig import Rig
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QLabel

from benchlog.recorder.client import messages
from benchlog.window.look import Look


class Ear:
    """Counts the pips; whatever else could be heard is not."""

    pips = 0

    def elsewhere(self) -> None:
        self.pips += 1

    def silent(self, *_: object) -> None:
        pass

    ask = stage_ready = warn = cut = result = look = refused = at = hush = home = silent


def until(holds: Callable[[], bool]) -> bool:
    """Whether it comes to hold within a generous time."""
    end = time.monotonic() + 30
    while not holds() and time.monotonic() < end:
        QTest.qWait(20)
    return holds()


def main() -> None:
    application = QApplication(sys.argv)
    rig = Rig(Look(application, "light"), Path(tempfile.mkdtemp()))
    ear = rig.work.voice = Ear()
    link: FakeLink = rig.link
    rig.frame.show()
    rig.frame.activateWindow()
    seen: dict[str, object] = {"active": until(rig.frame.isActiveWindow)}
    rig.live()
    strip, small = rig.frame.strip, rig.frame.focus.strip
    seen["quiet while here"] = strip.isHidden() and small.isHidden() and ear.pips == 0
    sheet = QLabel("service sheet")
    sheet.setWindowFlag(Qt.WindowType.Window)
    sheet.resize(600, 400)
    sheet.show()
    sheet.activateWindow()
    seen["strip elsewhere"] = until(lambda: strip.isVisible() and small.isVisible() and ear.pips == 1)
    seen["sheet keeps its keys"] = sheet.isActiveWindow()
    QTest.mousePress(small._button, Qt.MouseButton.LeftButton)
    seen["cut from the small strip"] = len(link.of(messages.Cut)) == 1
    QTest.keyClick(sheet, Qt.Key.Key_F12)
    seen["cut from another window of the program"] = len(link.of(messages.Cut)) == 2
    rig.frame.raise_()
    rig.frame.activateWindow()
    seen["gone when back"] = until(lambda: strip.isHidden() and small.isHidden())
    print(json.dumps(seen), flush=True)
    rig.shelf.close()


if __name__ == "__main__":
    main()
