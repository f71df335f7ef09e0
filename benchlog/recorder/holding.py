"""What of bench, plan and proof holds before a session is open, told whenever it is something else."""

from collections.abc import Callable

from benchlog.recorder.messages import Holds, Outgoing
from benchlog.recorder.run import Run


class Holding:
    """Tells it once; called on the worker thread alone, so that it is in order with the answers."""

    def __init__(self, send: Callable[[Outgoing], None]) -> None:
        self._send = send
        self._told = "nothing"

    def tell(self, *, bench: bool, run: Run | None) -> None:
        """Look at how it stands now, and tell what is new."""
        if run is None:
            what = "bench" if bench else "nothing"
        elif run.session is not None:
            what = "run"
        else:
            what = "plan" if run.off.unproven() else "proof"
        if what != self._told:
            self._told = what
            self._send(Holds(what=what))
