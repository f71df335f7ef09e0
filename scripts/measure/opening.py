"""Opens a window and says when it could be used: `python -m measure.opening ours|bare FOLDER`."""

import json
import sys
import time
from pathlib import Path

import pyqtgraph as pg
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication, QMainWindow

from benchlog.window.app import Program
from benchlog.window.offer import Offer


def ours(folder: Path) -> None:
    """The whole program; it can be used once it is painted and its library is open."""
    application = QApplication(["opening"])
    program = Program(application, folder / "library", Offer())
    painted = [0.0]

    def usable() -> None:
        print(json.dumps({"usable": time.time(), "painted": painted[0]}), flush=True)
        program.ended.connect(application.quit)
        program.end()

    def first() -> None:
        painted[0] = time.time()

    program.shelf.opened.connect(lambda: QTimer.singleShot(0, usable))
    program.frame.show()
    QTimer.singleShot(0, first)
    application.exec()


def bare() -> None:
    """A window with an empty plot in it."""
    application = QApplication(["opening"])
    window = QMainWindow()
    window.resize(1440, 900)
    window.setCentralWidget(pg.PlotWidget())
    window.show()

    def usable() -> None:
        print(json.dumps({"usable": time.time(), "painted": time.time()}), flush=True)
        application.quit()

    QTimer.singleShot(0, usable)
    application.exec()


if __name__ == "__main__":
    if sys.argv[1] == "ours":
        ours(Path(sys.argv[2]))
    else:
        bare()
