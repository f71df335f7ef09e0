"""What a bench file's keys cannot tell one by one: addresses, profiles, unique jobs, references.

It works on the tables as TOML gives them, so that these faults are told together with those of the
grammar; whatever has the wrong type is the grammar's matter and passed over here.
"""

import tomllib
from collections.abc import Generator, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from benchlog.domain.accuracy import MeterError
from benchlog.domain.quantity import shorten, symbol
from benchlog.domain.reading import Function
from benchlog.errors import BadInput, Fault
from benchlog.instruments.address import Address, SerialAddress, UsbSerialAddress, parse_address
from benchlog.instruments.profile import Profile, find_profile
from benchlog.textfile import did_you_mean

_Tables = list[tuple[str, dict[str, Any]]]


def check(text: str, name: str, folders: Sequence[Path]) -> list[Fault]:
    """Every such fault of a bench file's text; none where it is no TOML at all."""
    try:
        table = tomllib.loads(text)
    except (ValueError, RecursionError):
        return []
    return list(_Check(table, name, folders).faults())


class _Check:
    """One bench file under examination."""

    def __init__(self, table: dict[str, Any], name: str, folders: Sequence[Path]) -> None:
        self._name = name
        self._folders = folders
        self._meters = _tables(table, "meter")
        self._supplies = _tables(table, "supply")
        self._switches = _tables(table, "off_switch")
        self._pedals = _tables(table, "pedal")
        self._profiles: dict[str, Profile | None] = {}

    def faults(self) -> Iterator[Fault]:
        """All of them, in the order of the file's kinds."""
        if not (self._meters or self._supplies):
            yield Fault(self._name, "names no instrument", "add a [[meter]] or a [[supply]]")
        yield from self._unique([*self._meters, *self._supplies, *self._pedals])
        yield from self._unique(self._switches)
        for path, entry in self._meters:
            yield from self._address(path, entry, "address")
            yield from self._meter(path, entry)
            yield from self._error(path, entry)
        for path, entry in self._supplies:
            yield from self._address(path, entry, "address")
            yield from self._address(path, entry, "cut_address")
            yield from self._supply(path, entry)
        for path, entry in self._switches:
            yield from self._switch(path, entry)
        for path, entry in self._pedals:
            yield from self._serial_port(path, entry, "a pedal hangs on a serial line")
        yield from self._shared_ports()

    def _unique(self, entries: _Tables) -> Iterator[Fault]:
        seen: dict[str, str] = {}
        for path, entry in entries:
            job = _text(entry, "job")
            if job in seen:
                problem = f'"{job}" is the job of {seen[job]} already'
                yield self._fault(f"{path}.job", problem, "give each its own")
            elif job:
                seen[job] = path
            elif "job" in entry and entry["job"] == "":
                yield self._fault(f"{path}.job", "is empty", "say what it is for")

    def _address(self, path: str, entry: dict[str, Any], key: str) -> Iterator[Fault]:
        text = _text(entry, key)
        if not text and not (key == "address" and entry.get(key) == ""):
            return
        try:
            parse_address(text, f"{self._name}: {path}.{key}")
        except BadInput as error:
            yield from error.faults

    def _meter(self, path: str, entry: dict[str, Any]) -> Iterator[Fault]:
        profile = yield from self._profile(path, entry)
        if profile is None:
            return
        if profile.kind == "supply":
            yield self._fault(f"{path}.profile", f"{profile.name} is a supply", "write it as a [[supply]]")
            return
        function = _text(entry, "function")
        if function in tuple(Function) and function not in profile.functions:
            fix = f"it measures {', '.join(profile.functions)}"
            yield self._fault(f"{path}.function", f"{profile.name} does not measure {function}", fix)
        yield from self._range(path, entry, profile)
        if "test_frequency" in entry and not any(one.frequency for one in profile.function.values()):
            problem = f"{profile.name} has no test signal to set"
            yield self._fault(f"{path}.test_frequency", problem, "leave it out")
        if "null" in entry and Function.OHMS not in profile.functions:
            problem = f"{profile.name} does not measure ohms on two wires"
            yield self._fault(f"{path}.null", problem, "leave it out")

    def _range(self, path: str, entry: dict[str, Any], profile: Profile) -> Iterator[Fault]:
        """A range can be selected, in a function that is said."""
        top = entry.get("range")
        if not isinstance(top, int | float):
            return
        settings = profile.function.get(_text(entry, "function"))
        if not _text(entry, "function"):
            yield self._fault(f"{path}.range", "belongs to no function", "write its function too")
        elif settings is None or settings.range_for(float(top)) is None:
            problem = f"{profile.name} selects no range for {top:g} in {_text(entry, 'function')}"
            yield self._fault(f"{path}.range", problem, "leave it out, or set the range at the meter")

    def _error(self, path: str, entry: dict[str, Any]) -> Iterator[Fault]:
        """Errors can be read, and those of one function are in its unit."""
        yield from self._one_error(f"{path}.error", _text(entry, "error"))
        errors = entry.get("errors")
        for name, text in errors.items() if isinstance(errors, dict) else ():
            if name not in tuple(Function):
                fix = did_you_mean(name, Function) or f"one of: {', '.join(Function)}"
                yield self._fault(f"{path}.errors.{name}", f'"{shorten(name)}" is not a function', fix)
            elif isinstance(text, str):
                yield from self._one_error(f"{path}.errors.{name}", text, Function(name).unit)

    def _one_error(self, place: str, text: str, unit: str = "") -> Iterator[Fault]:
        if not text:
            return
        try:
            error = MeterError.parse(text)
        except BadInput as found:
            yield self._fault(place, f"{found.place} {found.problem}", found.fix)
            return
        if unit and error.unit and error.unit != unit:
            problem = f'"{shorten(text)}" is in {symbol(error.unit)}'
            yield self._fault(place, problem, f"write it in {symbol(unit)}")

    def _supply(self, path: str, entry: dict[str, Any]) -> Iterator[Fault]:
        profile = yield from self._profile(path, entry)
        if profile is not None and profile.kind != "supply":
            yield self._fault(f"{path}.profile", f"{profile.name} is no supply", "write it as a [[meter]]")

    def _profile(self, path: str, entry: dict[str, Any]) -> Generator[Fault, None, Profile | None]:
        """The profile an entry names, its faults told once; None where there is none."""
        name = _text(entry, "profile")
        if "profile" not in entry or not isinstance(entry["profile"], str):
            return None
        if name not in self._profiles:
            self._profiles[name] = None
            try:
                self._profiles[name] = find_profile(name, self._folders)
            except BadInput as error:
                if error.place == "profile":
                    yield self._fault(f"{path}.profile", error.problem, error.fix)
                else:
                    yield from error.faults
        return self._profiles[name]

    def _switch(self, path: str, entry: dict[str, Any]) -> Iterator[Fault]:
        kind = _text(entry, "kind")
        if kind == "relay":
            yield from self._serial_port(path, entry, "a relay hangs on a serial line")
        if kind == "supply":
            yield from self._supply_switch(path, entry)

    def _serial_port(self, path: str, entry: dict[str, Any], fix: str) -> Iterator[Fault]:
        """Its address is that of a serial port; an empty one is the grammar's matter."""
        text = _text(entry, "address")
        yield from self._address(path, entry, "address") if text else ()
        found = _address(entry)
        if found is not None and not isinstance(found, SerialAddress | UsbSerialAddress):
            yield self._fault(f"{path}.address", f'"{text}" is no serial port', fix)

    def _shared_ports(self) -> Iterator[Fault]:
        """A relay and pedals may share a port where each has lines of its own; nothing else may."""
        taken: dict[tuple[Address, str], str] = {}
        for path, entry in [*self._meters, *self._supplies]:
            if (at := _address(entry)) is not None:
                taken[at, "port"] = path
        for path, entry in self._switches:
            yield from self._take_lines(taken, path, entry, ("relay", _text(entry, "line") or "pump"))
        for path, entry in self._pedals:
            feed = _text(entry, "feed") or "dtr"
            fed = () if feed == "none" else (f"{feed} ",)
            yield from self._take_lines(taken, path, entry, (_text(entry, "line") or "cts", *fed))

    def _take_lines(
        self, taken: dict[tuple[Address, str], str], path: str, entry: dict[str, Any], lines: Sequence[str]
    ) -> Iterator[Fault]:
        """Give an entry its lines, unless another has them; one with a space behind it only feeds, maybe several."""
        at = _address(entry)
        if at is None:
            return
        fix = "use another line, or another port"
        if path.startswith("pedal") and (at, "port") in taken:
            yield self._fault(f"{path}.address", f"is the port of {taken[at, 'port']}", fix)
        for line in lines:
            others = (line.strip(),) if line.endswith(" ") else (line, f"{line} ")
            other = next((taken[at, one] for one in others if (at, one) in taken), "")
            if other:
                problem = f"needs the line {line.strip()} of a port where {other} has it"
                yield self._fault(f"{path}.address", problem, fix)
            taken.setdefault((at, line), path)

    def _supply_switch(self, path: str, entry: dict[str, Any]) -> Iterator[Fault]:
        """The supply it names is on the bench and can be reached for a cut alone."""
        jobs = {_text(supply, "job"): supply for _, supply in self._supplies}
        named = _text(entry, "supply")
        if not named and len(jobs) == 1:
            named = next(iter(jobs))
        if named not in jobs:
            known = f"the bench has: {', '.join(jobs)}" if jobs else "add a [[supply]]"
            problem = f'there is no supply "{named}"' if named else "does not say which supply"
            yield self._fault(f"{path}.supply", problem, did_you_mean(named, jobs) or known)
            return

    def _fault(self, key_path: str, problem: str, fix: str) -> Fault:
        return Fault(f"{self._name}: {key_path}", problem, fix)


def _tables(table: dict[str, Any], key: str) -> _Tables:
    """The entries of an array of tables with their key paths, counted from 1."""
    found = table.get(key)
    if not isinstance(found, list):
        return []
    return [(f"{key}[{n}]", entry) for n, entry in enumerate(found, 1) if isinstance(entry, dict)]


def _address(entry: dict[str, Any]) -> Address | None:
    """Where an entry's address leads, the same however it is written; None where it is none."""
    try:
        found = parse_address(_text(entry, "address"))
    except BadInput:
        return None
    return replace(found, text="")


def _text(entry: dict[str, Any], key: str) -> str:
    """A text of an entry, empty where there is none."""
    value = entry.get(key)
    return value if isinstance(value, str) else ""
