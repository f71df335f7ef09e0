"""Where an instrument is: an address as a person writes it, told apart by which link reaches it."""

import re
import sys
from dataclasses import dataclass

from benchlog.errors import BadInput

EXAMPLES = (
    "write it as tcp://192.168.1.20:5025, TCPIP::host::5025::SOCKET, COM3, /dev/ttyUSB0 or usb:VID:PID:SERIAL"
)


@dataclass(frozen=True, slots=True)
class TcpAddress:
    """A plain network socket; `text` is the address as written."""

    text: str
    host: str
    port: int


@dataclass(frozen=True, slots=True)
class SerialAddress:
    """A serial port by its name or pyserial URL; `device` is what to open."""

    text: str
    device: str


@dataclass(frozen=True, slots=True)
class UsbSerialAddress:
    """A serial adapter by what it is, since port names move: hexadecimal ids and its serial number."""

    text: str
    vendor: int
    product: int
    serial: str


@dataclass(frozen=True, slots=True)
class VisaAddress:
    """Everything else that has VISA's form, such as `USB0::0x1234::...::INSTR`."""

    text: str


Address = TcpAddress | SerialAddress | UsbSerialAddress | VisaAddress

_SOCKET = re.compile(r"TCPIP\d*::(?P<host>\[[^\[\]]+\]|[^:\[\]]+)::(?P<port>\d{1,5})::SOCKET", re.IGNORECASE)
_HOST_PORT = re.compile(r"(?P<host>\[[^\[\]/]+\]|[^:\[\]/@]+):(?P<port>\d{1,5})/?")
_COM = re.compile(r"COM\d{1,3}", re.IGNORECASE)
_ASRL = re.compile(r"ASRL(?P<port>[^:]+)(::INSTR)?", re.IGNORECASE)
_USB = re.compile(
    r"usb:(?P<vendor>[0-9a-f]{1,4}):(?P<product>[0-9a-f]{1,4}):(?P<serial>[^:]+)", re.IGNORECASE
)
_VISA = re.compile(r"(TCPIP|USB|GPIB|PXI|VXI|VICP|FIREWIRE)\d*::.+", re.IGNORECASE)


def parse_address(text: str, place: str = "address") -> Address:
    """Read an address; `BadInput` at `place` where it has none of the known forms."""
    written = text.strip()
    if not written.isprintable() or len(written) > 200:
        raise BadInput(place, "is not one line of plain text", EXAMPLES)
    if found := _SOCKET.fullmatch(written):
        return _tcp(written, found, place)
    if written.startswith("tcp://"):
        if found := _HOST_PORT.fullmatch(written.removeprefix("tcp://")):
            return _tcp(written, found, place)
        raise BadInput(place, f'"{written}" lacks a host or a port', "write it as tcp://host:5025")
    if serial := _serial(written, place):
        return serial
    if _VISA.fullmatch(written):
        return VisaAddress(written)
    if written.startswith("simulated:"):
        fix = "`benchlog demo` and `benchlog simulate` give real ones"
        raise BadInput(place, f'"{written}" is a place on the simulated bench, not an address', fix)
    raise BadInput(place, f'"{written}" is not an address', EXAMPLES)


def _tcp(text: str, found: re.Match[str], place: str) -> TcpAddress:
    port = int(found["port"])
    if not 1 <= port <= 65535:
        raise BadInput(
            place, f"there is no port {port}", "ports go from 1 to 65535; SCPI's usual one is 5025"
        )
    return TcpAddress(text, found["host"].strip("[]"), port)


def _serial(text: str, place: str) -> SerialAddress | UsbSerialAddress | None:
    """A serial address, or None where the text is none."""
    if text.startswith("/dev/") or _COM.fullmatch(text):
        return SerialAddress(text, text)
    for scheme in ("socket://", "rfc2217://"):
        if text.startswith(scheme):
            rest, _, options = text.removeprefix(scheme).partition("?")
            found = _HOST_PORT.fullmatch(rest)
            if not found:
                raise BadInput(place, f'"{text}" lacks a host or a port', f"write it as {scheme}host:4000")
            _tcp(text, found, place)
            if options:
                raise BadInput(place, f'"{text}" carries options', f"write it as {scheme}{rest}")
            return SerialAddress(text, text)
    if found := _USB.fullmatch(text):
        return UsbSerialAddress(text, int(found["vendor"], 16), int(found["product"], 16), found["serial"])
    if found := _ASRL.fullmatch(text):
        return SerialAddress(text, _numbered_port(found["port"]))
    return None


def _numbered_port(port: str) -> str:
    """The port VISA calls ASRL1: COM1 on Windows, the first built-in port elsewhere."""
    if not port.isdigit():
        return port
    if sys.platform == "win32":
        return f"COM{port}"
    return f"/dev/ttyS{max(int(port) - 1, 0)}"
