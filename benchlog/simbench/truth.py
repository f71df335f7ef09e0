"""What is true at the far end: an example's truth, as one of its faults changes it."""

import dataclasses
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, TypeVar

from benchlog import resources
from benchlog.errors import BadInput
from benchlog.simbench.amplifier import UnitTruth
from benchlog.simbench.board import SideTruth
from benchlog.simbench.channel import ChannelTruth
from benchlog.simbench.contact import ContactTruth
from benchlog.simbench.reservoir import ReservoirTruth

EXAMPLES = ("amplifier", "by-hand", "lamp-ladder", "board")


@dataclass(frozen=True, slots=True)
class InstrumentTruth:
    """One instrument of the bench: its job, its kind, and the point its clips hang on."""

    job: str
    kind: str
    point: str = ""
    function: str = "VOLT:DC"


@dataclass(frozen=True, slots=True)
class PartTruth:
    """What probes find on a part where it sits; what is left out cannot be measured.

    Attributes:
        designator: as the unit file has it.
        ohms: resistance between its ends, with whatever lies in parallel; negative for open.
        farads: capacitance.
        esr: ohms in series with it.
        forward: volts of the junction at the test current; 0 or more.
        settle: seconds its reading takes to come to rest.
        creep: how far off it starts, as a fraction.
    """

    designator: str
    ohms: float = -1.0
    farads: float = -1.0
    esr: float = 0.0
    forward: float = -1.0
    settle: float = 0.05
    creep: float = 0.06


@dataclass(frozen=True, slots=True)
class SilentTruth:
    """An instrument that stops answering: `after` plan seconds once the source has reached `level`."""

    job: str
    level: float
    after: float = 5.0


WAYS = ("refuses", "late", "lies", "vanishes", "welded", "deaf")


@dataclass(frozen=True, slots=True)
class OffTruth:
    """An off-switch that fails once the source has reached `level`, so that it can be proven before.

    Attributes:
        how: one of `WAYS`: a supply refuses the off, carries it out late, says off and stays on, or vanishes
            at it; a relay's contact is welded; the hand hears no alarm.
        level: where the source must have stood.
    """

    how: str
    level: float = 0.0


@dataclass(frozen=True, slots=True)
class Truth:
    """All that is true of one example under one fault, which does not count when two are compared."""

    example: str
    model: str
    instruments: tuple[InstrumentTruth, ...]
    parts: Mapping[str, PartTruth]
    silent: SilentTruth | None = None
    off: OffTruth | None = None
    reservoir: ReservoirTruth = ReservoirTruth()
    contact: ContactTruth = ContactTruth()
    unit: UnitTruth = UnitTruth()
    left: ChannelTruth = ChannelTruth()
    right: ChannelTruth = ChannelTruth()
    plus: SideTruth = SideTruth()
    minus: SideTruth = SideTruth()
    fault: str = dataclasses.field(default="healthy", compare=False)


def faults(example: str = "") -> tuple[str, ...]:
    """Name every fault that can play, of one example or of any, healthy first."""
    found = sorted(file.stem for file in resources.path("simbench", "faults").glob("*.toml"))
    if example:
        found = [name for name in found if example in _read("faults", f"{name}.toml")]
    return ("healthy", *(name for name in found if name != "healthy"))


def check_names(example: str, fault: str) -> None:
    """Refuse an example or a fault that there is none of; BadInput names those there are."""
    if example not in EXAMPLES:
        raise BadInput("--example", f'there is no "{example}"', f"there are: {', '.join(EXAMPLES)}")
    if fault not in (known := faults(example)):
        wrong = f'there is no "{fault}"' + (f" on the {example}" if fault in faults() else "")
        raise BadInput("--fault", wrong, f"there are: {', '.join(known)}")


def load(example: str, fault: str = "healthy") -> Truth:
    """Read the truth of an example and let a fault change it; BadInput for a name there is none of."""
    check_names(example, fault)
    table = _read(f"{example}.toml")
    changes = _read("faults", f"{fault}.toml").get(example, {})
    name = f"simbench/{example}.toml with simbench/faults/{fault}.toml"
    silent, off = changes.get("silent"), changes.get("off")
    if off and off.get("how") not in WAYS:
        raise BadInput(name, f'an off-switch never "{off.get("how")}"', f"known: {', '.join(WAYS)}")
    return Truth(
        example=example,
        model=table["model"],
        instruments=tuple(_build(InstrumentTruth, entry, name) for entry in table["instrument"]),
        parts={entry["designator"]: _build(PartTruth, entry, name) for entry in table["part"]},
        silent=_build(SilentTruth, silent, name) if silent else None,
        off=_build(OffTruth, off, name) if off else None,
        reservoir=_changed(ReservoirTruth, "reservoir", table, changes, name),
        contact=_changed(ContactTruth, "contact", table, changes, name),
        unit=_changed(UnitTruth, "unit", table, changes, name),
        left=_changed(ChannelTruth, "left", table, changes, name),
        right=_changed(ChannelTruth, "right", table, changes, name),
        plus=_changed(SideTruth, "plus", table, changes, name),
        minus=_changed(SideTruth, "minus", table, changes, name),
        fault=fault,
    )


def _read(*parts: str) -> dict[str, Any]:
    file = resources.path("simbench", *parts)
    try:
        return tomllib.loads(file.read_text(encoding="utf-8"))
    except tomllib.TOMLDecodeError as error:
        raise BadInput(file.name, str(error), "install benchlog again") from error


Record = TypeVar("Record")


def _changed(
    shape: type[Record], part: str, table: Mapping[str, Any], changes: Mapping[str, Any], name: str
) -> Record:
    return _build(shape, {**table.get(part, {}), **changes.get(part, {})}, name)


def _build(shape: type[Record], table: Mapping[str, Any], name: str) -> Record:
    """Make a record of a table, refusing keys that are none of its own."""
    known = {field.name for field in dataclasses.fields(shape)}  # type: ignore[arg-type]
    strange = sorted(set(table) - known)
    if strange:
        raise BadInput(name, f"unknown: {', '.join(strange)}", f"known: {', '.join(sorted(known))}")
    return shape(**{key: float(value) if isinstance(value, int) else value for key, value in table.items()})
