"""Whether what was unplugged is plugged in again, so that nobody waits longer than needed to open it."""

from benchlog.instruments.address import Address, SerialAddress, UsbSerialAddress
from benchlog.instruments.link_serial import Lister, plugged_in, ports


class Reappearing:
    """Tells once that a serial adapter is there again; of everything else nothing can be told."""

    def __init__(self, address: Address, lister: Lister = ports) -> None:
        self._address = address
        self._lister = lister
        self._there = True

    def __call__(self) -> bool:
        """Whether it was away when last looked at, and is there now."""
        if not isinstance(self._address, SerialAddress | UsbSerialAddress):
            return False
        was, self._there = self._there, plugged_in(self._address, self._lister)
        return self._there and not was
