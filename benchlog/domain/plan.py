"""The staged power-up as a person writes it: source, traces, limits, stages, waits.

A plan is a TOML file; these frozen records are its grammar. Voltages are volts at the point named,
times are plan seconds. Defaults are bench habit (common practice, no source) and editable.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import ClassVar

from benchlog.domain.cold_checks import USUAL, ColdCheck
from benchlog.domain.plan_limit import BY_SOURCE, Limit, misfits
from benchlog.domain.plan_stage import Fitted, StagePlan, unmeant
from benchlog.domain.plan_trace import FaultAt, Role, TracePlan
from benchlog.domain.reading import Function
from benchlog.domain.run_kind import RunKind
from benchlog.textfile import key


class Mover(StrEnum):
    """Who changes the source from stage to stage."""

    HAND = "hand"
    PROGRAM = "program"


@dataclass(frozen=True, slots=True)
class Source:
    """The ordered chain that feeds the unit, and what is known of it."""

    moved_by: Mover = key("who changes the source: hand or program")
    chain: tuple[str, ...] = key("the links from the wall to the unit, in order")
    mains: float = key("mains voltage at the full setting", default=0.0, unit="V", low=0.0, high=500.0)
    lamp_watts: float = key("the series lamp; 0 where there is none", default=0.0, unit="W", low=0.0)
    ratio: float = key(
        "raw rail volts for each volt left to the unit; 0 where no rail follows the source",
        default=0.0,
        low=0.0,
        high=10.0,
    )
    diode_drop: float = key("drop of the rectifier for each rail", default=0.8, unit="V", low=0.0, high=5.0)
    supply: str = key("job of the supply that the program sets", default="")
    protection: float = key(
        "over-voltage protection set on the supply, times the stage's volts; 0 for none",
        default=1.1,
        low=0.0,
        high=2.0,
    )

    def left(self, stage: "StagePlan") -> float:
        """What a raw rail reads at a stage where nothing is lost on the way, V; may be below nothing."""
        volts = stage.volts if stage.fraction is None else stage.fraction * self.mains
        return self.ratio * (volts or 0.0) - self.diode_drop

    def faults(self) -> Iterable[FaultAt]:
        """What does not fit together."""
        if self.moved_by is Mover.PROGRAM and not self.supply:
            yield "supply", "is missing", "name the supply that the program sets"
        if self.moved_by is Mover.HAND and self.mains <= 0.0:
            yield "mains", "is missing", "give the mains voltage at the full setting, such as 230.0"


@dataclass(frozen=True, slots=True)
class Plan:
    """A whole plan; see the fields for its grammar."""

    FILE: ClassVar[str] = "benchlog plan"
    VERSION: ClassVar[int] = 1

    file: str = key("kind and version of this file: benchlog plan 1")
    name: str = key("what this power-up is called")
    source: Source = key("what feeds the unit")
    stage: tuple[StagePlan, ...] = key("the stages, lowest first")
    trace: tuple[TracePlan, ...] = key(
        "the live series; left out: eyes alone, and nothing is guarded", default=()
    )
    limit: tuple[Limit, ...] = key("the bounds", default=())
    about: str = key("for whom and what for", default="")
    kind: RunKind | None = key(
        "what the run is for; left out: board where the program moves the source, else power-up", default=None
    )
    cold: tuple[ColdCheck, ...] | None = key(
        "what must be checked cold before it may go live; left out: what is usual for its kind", default=None
    )
    tail: float = key("logging goes on this long after off", default=10.0, unit="s", low=0.0, high=600.0)

    def find(self, name: str) -> TracePlan:
        """The trace of that name; KeyError where there is none."""
        for trace in self.trace:
            if trace.name == name:
                return trace
        raise KeyError(name)

    def of_role(self, role: Role) -> tuple[TracePlan, ...]:
        """The traces that show this, in the plan's order."""
        return tuple(trace for trace in self.trace if trace.role is role)

    def fitted_at(self, index: int) -> Fitted:
        """What stands between source and unit at that stage."""
        lamp, link = self.source.lamp_watts, ""
        for stage in self.stage[: index + 1]:
            lamp = lamp if stage.lamp_watts is None else stage.lamp_watts
            link = stage.link or link
        return Fitted(lamp, link)

    @property
    def run_kind(self) -> RunKind:
        """What the run is for, said or not."""
        usual = RunKind.BOARD if self.source.moved_by is Mover.PROGRAM else RunKind.POWER_UP
        return self.kind or usual

    @property
    def cold_checks(self) -> tuple[ColdCheck, ...]:
        """What it demands before it may go live, each once."""
        wanted = USUAL[self.run_kind] if self.cold is None else self.cold
        return tuple(dict.fromkeys(wanted))

    @property
    def changes(self) -> bool:
        """Whether anything between source and unit is changed from one stage to another."""
        return len({self.fitted_at(index) for index in range(len(self.stage))}) > 1

    @property
    def has_dial(self) -> bool:
        """Whether a variable transformer stands in the source, for a person to turn."""
        named = any("transformer" in link.lower() for link in self.source.chain)
        return self.source.moved_by is Mover.HAND and (
            named or any(stage.fraction != 1.0 for stage in self.stage)
        )

    def faults(self) -> Iterable[FaultAt]:
        """What does not fit together across tables."""
        names = [trace.name for trace in self.trace]
        for i, name in enumerate(names):
            if name in names[:i]:
                yield f"trace[{i + 1}].name", f"{name!r} stands twice", "give each trace a name of its own"
        yield from self._shared_meters()
        yield from self._unknown_traces(set(names))
        yield from self._stage_faults()
        if self.trace and not any(trace.critical for trace in self.trace):
            yield "trace", "no trace is critical", "mark at least one, or nothing is guarded"
        yield from self._limit_faults()
        yield from self._wait_faults()

    def _limit_faults(self) -> Iterable[FaultAt]:
        known = {trace.name: trace for trace in self.trace}
        lamps = {self.fitted_at(index).lamp_watts for index in range(len(self.stage))}
        for i, limit in enumerate(self.limit, start=1):
            if limit.lamp_watts is not None and limit.lamp_watts not in lamps:
                fix = "name a lamp that one of the stages has"
                yield f"limit[{i}].lamp_watts", f"no stage is behind a lamp of {limit.lamp_watts:g} W", fix
            if self.source.ratio == 0.0 and limit.kind in BY_SOURCE:
                yield f"limit[{i}].kind", "needs to know what the rail should be", "give source.ratio"
            for path, problem, fix in misfits(limit, known[limit.trace]) if limit.trace in known else ():
                yield f"limit[{i}].{path}", problem, fix
            for other in limit.others:
                if {limit.trace, other} <= known.keys():
                    if known[limit.trace].measures is not known[other].measures:
                        problem = f"{other} measures something else than {limit.trace}"
                        yield f"limit[{i}]", problem, "name traces of one function"

    def _wait_faults(self) -> Iterable[FaultAt]:
        known = {trace.name: trace for trace in self.trace}
        for i, stage in enumerate(self.stage, start=1):
            for j, wait in enumerate(stage.wait, start=1):
                where = f"stage[{i}].wait[{j}]"
                if self.source.ratio == 0.0 and wait.as_expected:
                    yield f"{where}.as_expected", "needs to know what the rail should be", "give source.ratio"
                elif wait.as_expected and self.source.left(stage) <= 0.0:
                    problem = "expects nothing: the rectifier's drop takes all that the source gives here"
                    yield f"{where}.as_expected", problem, "leave it out at this stage"
                for path, problem, fix in unmeant(wait, known[wait.trace]) if wait.trace in known else ():
                    yield f"{where}.{path}", problem, fix
            for j, trim in enumerate(stage.trim, start=1):
                for path, problem, fix in trim.misfits(known[trim.trace]) if trim.trace in known else ():
                    yield f"stage[{i}].trim[{j}].{path}", problem, fix

    def _shared_meters(self) -> Iterable[FaultAt]:
        seen: dict[tuple[str, str, Function], str] = {}
        for i, trace in enumerate(self.trace, start=1):
            wire = (trace.job, trace.channel, trace.measures)
            first = seen.setdefault(wire, trace.name)
            if first != trace.name:
                problem = f"{trace.job!r} shows {first} already, and a meter is in one place at a time"
                yield f"trace[{i}].meter", problem, "give each trace a meter or a channel of its own"

    def _unknown_traces(self, names: set[str]) -> Iterable[FaultAt]:
        known = f"the plan has {', '.join(sorted(names)) or 'none'}"
        for i, limit in enumerate(self.limit):
            if limit.trace not in names:
                yield f"limit[{i + 1}].trace", f"no trace is called {limit.trace!r}", known
            other = limit.of_trace.trace if limit.of_trace else ""
            for path, name in (("partner", limit.partner), ("of_trace.trace", other)):
                if name and name not in names:
                    yield f"limit[{i + 1}].{path}", f"no trace is called {name!r}", known
            for name in limit.gate.any_of if limit.gate else ():
                if name not in names:
                    yield f"limit[{i + 1}].gate.any_of", f"no trace is called {name!r}", known
        for i, stage in enumerate(self.stage):
            for j, wait in enumerate(stage.wait):
                if wait.trace and wait.trace not in names:
                    yield f"stage[{i + 1}].wait[{j + 1}].trace", f"no trace is called {wait.trace!r}", known
            for j, trim in enumerate(stage.trim):
                if trim.trace not in names:
                    yield f"stage[{i + 1}].trim[{j + 1}].trace", f"no trace is called {trim.trace!r}", known

    def _stage_faults(self) -> Iterable[FaultAt]:
        if not self.stage:
            yield "stage", "there is no stage", "add one with a name and a dwell"
        by_program = self.source.moved_by is Mover.PROGRAM
        for i, stage in enumerate(self.stage):
            if by_program and stage.volts is None:
                yield f"stage[{i + 1}].volts", "is missing", "say what the supply is set to"
            if by_program and stage.current_limit is None:
                yield f"stage[{i + 1}].current_limit", "is missing", "say where the supply limits its current"
            if not by_program and stage.fraction is None:
                yield f"stage[{i + 1}].fraction", "is missing", "say how far up the variable transformer is"
