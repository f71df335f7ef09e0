"""What every wire offers, and which one reaches an address."""

from typing import Protocol

from benchlog.instruments.address import Address, TcpAddress, VisaAddress
from benchlog.instruments.link_apart import VisaLink
from benchlog.instruments.link_serial import SerialLink
from benchlog.instruments.link_tcp import TcpLink
from benchlog.instruments.profile import Wire


class Link(Protocol):
    """A wire to one instrument; bytes in and out, never a hang.

    `send` and `wake` may be called from any thread, the rest from the thread that owns the link.
    """

    def send(self, data: bytes) -> None:
        """Send a whole line; raises Gone where the far end does not take it."""

    def receive(self, wait: float) -> bytes:
        """At most `wait` real seconds; empty where nothing came or `wake` was called; raises Gone."""

    def drain(self, quiet: float) -> bytes:
        """Throw away what comes until `quiet` s of silence; give its end."""

    def wake(self) -> None:
        """Make a blocked `receive`, or the next one, return at once."""

    def close(self) -> None:
        """Close the wire; does nothing the second time."""


def open_link(address: Address, wire: Wire, place: str, patience: float | None = None) -> Link:
    """Open the wire to an address, within the profile's time or `patience` s if that is less.

    `place` is the instrument's job or address, as errors name it.
    """
    deadline = wire.connect if patience is None else min(wire.connect, patience)
    if isinstance(address, TcpAddress):
        return TcpLink.open(address.host, address.port, place, deadline)
    if isinstance(address, VisaAddress):
        return VisaLink.open(address.text, wire.reply_end, place, deadline)
    return SerialLink.open(address, wire.serial, place, deadline=deadline)
