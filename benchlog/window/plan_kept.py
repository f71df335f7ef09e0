"""Plans that were made here: kept in the library under the unit's name, and what was typed for them. No Qt.

Files are touched here; call it from a worker.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import ClassVar

from benchlog import textfile
from benchlog.domain.plan import Plan
from benchlog.domain.sixtyped import KINDS, Field, Kind
from benchlog.errors import BenchlogError, Full
from benchlog.textfile import key
from benchlog.window.bench_file import file_name
from benchlog.window.plan_files import PLANS, PlanFile, read_plan

NUMBERS = "numbers.toml"
"""What was typed last, in the library."""
MOST_UNITS = 100


@dataclass(frozen=True, slots=True)
class Typed:
    """What was typed for one unit."""

    unit: str = key("its id in the library; empty where none was in hand", default="")
    kind: int = key("which kind of plan, by its number", default=2, low=1, high=len(KINDS))
    meters: tuple[str, ...] = key("the meters that were used, by their jobs", default=())
    mains: str = key("as it was typed", default="")
    rail: str = key("as it was typed, with its sign", default="")
    channels: str = key("as it was typed", default="")
    idle: str = key("as it was typed, in mV", default="")
    across: str = key("as it was typed, in ohm", default="")
    lamp_watts: str = key("as it was typed", default="")

    @property
    def texts(self) -> dict[Field, str]:
        """What stood in each field."""
        return {field: str(getattr(self, field)) for field in Field}


@dataclass(frozen=True, slots=True)
class Numbers:
    """What was typed for each unit, the last one at the end."""

    FILE: ClassVar[str] = "benchlog numbers"
    VERSION: ClassVar[int] = 1

    file: str = key("kind and version of this file: benchlog numbers 1")
    unit: tuple[Typed, ...] = key("by unit", default=())


_USUAL = {Field.MAINS: "230", Field.RAIL: "+/-", Field.CHANNELS: "2", Field.LAMP: "100"}
_OF_THE_BENCH = (Field.MAINS, Field.LAMP)
"""What is likely the same for the next unit; the rest stands on that one's own sheet."""


def remembered(library: Path, unit: str, mains: float | None) -> Typed:
    """What the fields begin with: this unit's own numbers, else what the bench had last, else the usual.

    `mains` is what is known of the unit and its visit. A file that cannot be read is as good as none.
    """
    try:
        kept = textfile.read(library / NUMBERS, Numbers).unit
    except BenchlogError:
        kept = ()
    own = next((one for one in kept if one.unit == unit), None)
    if own is not None:
        return own
    last = kept[-1] if kept else Typed()
    texts = dict(_USUAL)
    texts.update({field: text for field in _OF_THE_BENCH if (text := last.texts[field])})
    if mains:
        texts[Field.MAINS] = f"{mains:g}"
    return typed(unit, last.kind, texts, last.meters)


def typed(unit: str, kind: int, texts: Mapping[Field, str], meters: Sequence[str]) -> Typed:
    """The record of what stands in the fields."""
    return Typed(
        unit=unit, kind=kind, meters=tuple(meters), **{field.value: texts.get(field, "") for field in Field}
    )


def number_of(kind: Kind) -> int:
    """The number by which a kind is taken."""
    return KINDS.index(kind) + 1


def keep(library: Path, title: str, plan: Plan, numbers: Typed) -> PlanFile:
    """Write a plan to a file of its own under the unit's name, and keep what was typed.

    No file is ever written over; one that says the same is taken as it is. Full where there is no room.
    """
    folder = library / PLANS
    try:
        folder.mkdir(parents=True, exist_ok=True)
        path = _kept(folder, file_name(title or "plan").removesuffix(".toml"), plan)
        _remember(library / NUMBERS, numbers)
    except OSError as error:
        problem = f"cannot be written ({error.strerror or error})"
        raise Full(str(folder), problem, "look at the folder and the room left") from None
    return read_plan(path, "yours")


def _kept(folder: Path, stem: str, plan: Plan) -> Path:
    text = textfile.write(plan)
    if textfile.parse(text, stem, Plan) != plan:
        raise RuntimeError(f"the text of {plan.name!r} says something else than the plan")
    count = 1
    while True:
        path = folder / (f"{stem}.toml" if count == 1 else f"{stem}-{count}.toml")
        try:
            with path.open("x", encoding="utf-8", newline="\n") as file:
                file.write(text)
        except FileExistsError:
            if path.is_file() and path.read_text(encoding="utf-8", errors="replace") == text:
                return path
            count += 1
            continue
        return path


def _remember(path: Path, numbers: Typed) -> None:
    try:
        kept = textfile.read(path, Numbers).unit
    except BenchlogError:
        kept = ()
    others = [one for one in kept if one.unit != numbers.unit][-MOST_UNITS + 1 :]
    fresh = path.with_suffix(".new")
    made = Numbers(file=f"{Numbers.FILE} {Numbers.VERSION}", unit=(*others, numbers))
    fresh.write_text(textfile.write(made), encoding="utf-8", newline="\n")
    fresh.replace(path)
