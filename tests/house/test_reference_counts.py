"""Qt must give back what it borrows.

One release of the Qt binding (6.12.0, kept out by pyproject.toml) lost a reference to None at every call
that returns nothing, on Pythons where None is counted: after about five thousand calls the interpreter
aborts, in the middle of a run with the power on. There this probe counts -199, with a sound release 0 or 1.
"""

import os
import subprocess
import sys

OFFSCREEN = dict(os.environ, QT_QPA_PLATFORM="offscreen")

PROBE = """
import sys
from PySide6.QtWidgets import QApplication, QLabel
application = QApplication([])
label = QLabel()

def turn():
    before = sys.getrefcount(None), sys.getrefcount(True)
    for number in range(100):
        label.setText(str(number))
        label.setEnabled(True)
    return [now - then for then, now in zip(before, (sys.getrefcount(None), sys.getrefcount(True)))]

turn()
print(*turn())
"""


def test_a_hundred_calls_leave_the_counts_of_none_and_true_alone() -> None:
    # A process of its own, since other tests' threads would count too; its first turn fills Qt's own tables.
    told = subprocess.run(
        [sys.executable, "-c", PROBE], capture_output=True, text=True, check=True, env=OFFSCREEN
    )
    changes = [int(word) for word in told.stdout.split()]
    assert all(abs(change) < 20 for change in changes), changes
