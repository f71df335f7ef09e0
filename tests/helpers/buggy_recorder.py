"""A recorder with a bug in one of its threads: `python -m tests.helpers.buggy_recorder THREAD FILE ...`.

The bug shows from the moment at which FILE exists; until then it is the real recorder.
"""

import functools
import sys
from pathlib import Path
from typing import Any

from benchlog.recorder import starting
from benchlog.recorder.off_supply import SupplySwitch
from benchlog.recorder.orders import Orders
from benchlog.recorder.run import Run
from benchlog.recorder.teller import Teller
from benchlog.store.append import SessionWriter

WHERE: dict[str, tuple[type, str]] = {
    "meter": (Run, "reading"),
    "watch": (Run, "watch"),
    "client": (Teller, "remark"),
    "worker": (Run, "check_take"),
    "writer": (SessionWriter, "append"),
    "cut": (SupplySwitch, "confirm"),
    "supply": (Orders, "_supply_was_set"),
    "fire": (SupplySwitch, "fire"),
}
"""What each thread calls: the method with the bug."""


def plant(thread: str, when: Path) -> None:
    """Put the bug there."""
    owner, name = WHERE[thread]
    sound = getattr(owner, name)

    @functools.wraps(sound)
    def buggy(*given: Any, **named: Any) -> Any:
        if when.exists():
            raise ZeroDivisionError(f"a bug in {name}")
        return sound(*given, **named)

    setattr(owner, name, buggy)


if __name__ == "__main__":
    plant(sys.argv[1], Path(sys.argv[2]))
    sys.exit(starting.main(sys.argv[3:]))
