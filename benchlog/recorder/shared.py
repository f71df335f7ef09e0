"""A supply that takes one connection: the cut goes out on the wire that is also read."""

from collections.abc import Callable
from concurrent.futures import TimeoutError as NotInTime
from typing import TypeVar

from benchlog.domain.reading import SupplyState
from benchlog.errors import Gone, TimedOut
from benchlog.instruments.supply import SupplyControl
from benchlog.instruments.supply_meter import SupplyMeter
from benchlog.recorder.poll import Poller

Result = TypeVar("Result")


class SharedControl:
    """What a cut needs of a supply, through the thread that owns its only wire.

    The off line itself waits for nobody: it is sent between whatever is being asked and answered, and
    the thread comes back into step by itself. Everything else is asked by that thread, within `patience`
    real seconds.
    """

    def __init__(self, poller: Poller[SupplyMeter], patience: float) -> None:
        self._poller = poller
        self._patience = patience

    def send_off(self) -> None:
        """Send the off line; from any thread; Gone where the wire is not open."""
        supply = self._poller.instrument
        if supply is None:
            raise Gone(self._poller.job, "its connection is not open", "it is being opened")
        supply.control.send_off()

    def all_off(self) -> bool:
        """Whether every output says that it is off."""
        return self._ask(lambda control: control.all_off())

    def ask_state(self, output: str) -> SupplyState:
        """What an output does."""
        return self._ask(lambda control: control.ask_state(output))

    def ask_volts(self, output: str) -> float:
        """Measure an output's voltage, V."""
        return self._ask(lambda control: control.ask_volts(output))

    def refusal(self) -> str:
        """What the supply's error queue says."""
        return self._ask(lambda control: control.refusal())

    def close(self) -> None:
        """The wire is the thread's own."""

    def _ask(self, question: Callable[[SupplyControl], Result]) -> Result:
        asked = self._poller.do(lambda supply: question(supply.control))
        try:
            return asked.result(self._patience)
        except NotInTime:
            asked.cancel()
            problem = f"was not answered within {self._patience:g} s"
            raise TimedOut(self._poller.job, problem, "check the supply") from None
