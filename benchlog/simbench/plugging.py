"""Plugs the instruments of an example in: each kind on its wire, its clips on its point."""

import random
from collections.abc import Callable
from dataclasses import dataclass

from benchlog.simbench.amplifier import Amplifier
from benchlog.simbench.board import Board
from benchlog.simbench.handheld import Dial, Handheld, as_line, as_segments
from benchlog.simbench.lcr import LcrMeter
from benchlog.simbench.linemeter import LineMeter
from benchlog.simbench.loop import Loop
from benchlog.simbench.multimeter import Multimeter, Pace
from benchlog.simbench.probes import Probes
from benchlog.simbench.relay import Relay
from benchlog.simbench.scpi import ScpiDevice
from benchlog.simbench.serial_end import open_serial
from benchlog.simbench.session import Instrument
from benchlog.simbench.supply import MEASURING, Supply
from benchlog.simbench.truth import InstrumentTruth


@dataclass(frozen=True, slots=True)
class Table:
    """What stands on the bench's table, for instruments to be plugged into.

    `relay_moved` is called with whether the mains relay is in; `sockets` asks for TCP in place of
    pseudo-terminals.
    """

    loop: Loop
    model: Amplifier | Board
    probes: Probes
    pace: Pace
    chance: random.Random
    tell: Callable[..., None]
    relay_moved: Callable[[bool], None]
    sockets: bool = False

    def own_chance(self) -> random.Random:
        """A chance of one instrument's own, so that none hears another's dice."""
        return random.Random(self.chance.random())


@dataclass(frozen=True, slots=True)
class Plugged:
    """An instrument on its wire: where, and what there is to hold it by."""

    job: str
    address: str
    thing: Instrument | Handheld | LineMeter | Relay
    close: Callable[[], None]


def plug_in(table: Table, wanted: InstrumentTruth) -> Plugged:
    """Plug one instrument in."""
    return _KINDS[wanted.kind](table, wanted)


def _scpi(table: Table, job: str, device: ScpiDevice) -> Plugged:
    instrument = Instrument(table.loop, job, device, table.tell)
    return Plugged(job, instrument.address, instrument, instrument.close)


def _multimeter(table: Table, wanted: InstrumentTruth) -> Plugged:
    look = _clip(table.model, wanted.point)
    return _scpi(table, wanted.job, Multimeter(look, table.pace, table.own_chance()))


def _parts(table: Table, wanted: InstrumentTruth) -> Plugged:
    return _scpi(table, wanted.job, Multimeter(table.probes.look, table.pace, table.own_chance()))


def _supply(table: Table, wanted: InstrumentTruth) -> Plugged:
    outputs = table.model.outputs if isinstance(table.model, Board) else ()
    measuring = MEASURING / table.pace.speed if table.pace.delay is None else table.pace.delay
    return _scpi(table, wanted.job, Supply(outputs, measuring, table.own_chance()))


def _lcr(table: Table, wanted: InstrumentTruth) -> Plugged:
    probes = table.probes
    return _scpi(table, wanted.job, LcrMeter(probes.look, probes.esr, table.pace, table.own_chance()))


def _line_meter(table: Table, wanted: InstrumentTruth) -> Plugged:
    look = _clip(table.model, wanted.point)
    meter = LineMeter(
        table.loop,
        job=wanted.job,
        look=lambda: look(wanted.function),
        function=wanted.function,
        speed=table.pace.speed,
        tell=table.tell,
        sockets=table.sockets,
    )
    return Plugged(wanted.job, meter.address, meter, meter.close)


def _handheld(
    table: Table,
    wanted: InstrumentTruth,
    draw: Callable[[float, str, tuple[str, ...]], tuple[bytes, str]] = as_line,
) -> Plugged:
    end = open_serial(table.loop, lambda _: None, sockets=table.sockets)
    meter = Handheld(
        table.loop,
        end,
        job=wanted.job,
        look=_clip(table.model, wanted.point),
        dial=Dial(wanted.function, draw),
        speed=table.pace.speed,
        chance=table.own_chance(),
        tell=table.tell,
    )
    return Plugged(wanted.job, end.address, meter, meter.close)


def _segments(table: Table, wanted: InstrumentTruth) -> Plugged:
    return _handheld(table, wanted, as_segments)


def _relay(table: Table, wanted: InstrumentTruth) -> Plugged:
    relay = Relay(table.loop, wanted.job, table.relay_moved, table.tell)
    end = open_serial(table.loop, relay.heard, sockets=table.sockets)
    return Plugged(wanted.job, end.address, relay, end.close)


_KINDS: dict[str, Callable[[Table, InstrumentTruth], Plugged]] = {
    "multimeter": _multimeter,
    "parts": _parts,
    "supply": _supply,
    "handheld": _handheld,
    "segments": _segments,
    "line-meter": _line_meter,
    "lcr": _lcr,
    "relay": _relay,
}


def _clip(model: Amplifier | Board, point: str) -> Callable[[str], float]:
    """Clip a meter to a live point of the unit; gives what it sees there in each of its functions."""

    def look(function: str) -> float:
        if function.startswith("VOLT"):
            return model.measure(point, "ac" if function == "VOLT:AC" else "dc")
        if function == "TEMP":
            return model.measure(point, "celsius") if point.startswith("sink") else float("nan")
        if function == "FREQ":
            return 50.0 if model.measure(point, "ac") > 1.0 else 0.0
        # Ohms, diode test or capacitance on a live point read nothing but an overload.
        return 0.0 if function.startswith("CURR") else float("inf")

    return look
