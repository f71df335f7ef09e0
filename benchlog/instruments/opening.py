"""From an entry of a bench to an instrument that answers: opens its wire and has it say what it is.

Each call blocks, at most for the profile's connect time and one deadline, or `patience` real
seconds if that is less; it raises Refused, TimedOut or Gone in one sentence. `rate` is the speed
of plan time: it divides intervals, never deadlines.
"""

import contextlib
from collections.abc import Callable, Iterator

from benchlog.instruments.address import Address, SerialAddress, TcpAddress, UsbSerialAddress
from benchlog.instruments.bench import MeterEntry, SupplyEntry
from benchlog.instruments.link import Link, open_link
from benchlog.instruments.link_serial import SerialLink
from benchlog.instruments.meter import Meter
from benchlog.instruments.profile import Profile, Serial, Wire
from benchlog.instruments.sheet import Sheet
from benchlog.instruments.stream_meter import StreamMeter
from benchlog.instruments.supply import SupplyControl
from benchlog.instruments.supply_meter import SupplyMeter

OpenWire = Callable[[Address, Wire, str, float | None], Link]
"""What opens a wire: `open_link`, or one who listens to it."""


def open_meter(
    entry: MeterEntry,
    profile: Profile,
    rate: float = 1.0,
    patience: float | None = None,
    wire: OpenWire = open_link,
) -> Meter | StreamMeter:
    """The meter of an entry, asked or free-running; a walking one rests until configured and resumed."""
    link = wire(entry.parsed_address, profile.link, entry.job, patience)
    sheet = sheet_of(entry, profile)
    if profile.kind == "stream":
        return StreamMeter(entry.job, link, profile, entry.function, sheet=sheet)
    with _closed_on_failure(link):
        _drop_old(link, entry.parsed_address, profile)
        interval = (entry.interval or 0.0) / rate
        meter = Meter(entry.job, link, profile, entry.function, interval, sheet=sheet)
        meter.prove(patience)
    return meter


def sheet_of(entry: MeterEntry, profile: Profile) -> Sheet:
    """What the bench and, below it, the profile say of a meter."""
    stated = {function: entry.error_in(function) for function in profile.functions}
    known = {function: error for function, error in stated.items() if error is not None}
    range_ = (entry.function, entry.range) if entry.function and entry.range else None
    return Sheet.of(profile, known, entry.test_frequency, range_).nulled(entry.null)


def open_supply(
    entry: SupplyEntry,
    profile: Profile,
    rate: float = 1.0,
    patience: float | None = None,
    wire: OpenWire = open_link,
) -> SupplyMeter:
    """The supply of an entry, to read and, by its `control`, to set and switch on."""
    link = wire(entry.parsed_address, profile.link, entry.job, patience)
    with _closed_on_failure(link):
        _drop_old(link, entry.parsed_address, profile)
        meter = SupplyMeter(entry.job, link, profile, entry.interval / rate)
        meter.prove(patience)
    return meter


def open_control(entry: SupplyEntry, profile: Profile, patience: float | None = None) -> SupplyControl:
    """A connection of its own to a supply, kept for switching off."""
    link = open_link(entry.cut, profile.link, entry.job, patience)
    with _closed_on_failure(link):
        _drop_old(link, entry.cut, profile)
        control = SupplyControl(link, profile, entry.job)
        control.prove(patience)
    return control


def open_lines(address: SerialAddress | UsbSerialAddress, place: str, high: frozenset[str]) -> SerialLink:
    """A port of which the lines matter: those of `high` are up from before it is opened, all others down."""
    return SerialLink.open(address, Serial(dtr="dtr" in high, rts="rts" in high), place)


def _drop_old(link: Link, address: Address, profile: Profile) -> None:
    """Throw away what a port still held of an earlier conversation; a new connection holds nothing."""
    if not isinstance(address, TcpAddress):
        link.drain(profile.link.quiet)


@contextlib.contextmanager
def _closed_on_failure(link: Link) -> Iterator[None]:
    try:
        yield
    except BaseException:
        link.close()
        raise
