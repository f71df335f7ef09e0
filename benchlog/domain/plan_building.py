"""What every made plan is put together from: clipped meters, stages on the mains, and the plan around them."""

from collections.abc import Sequence

from benchlog.domain import guard_defaults
from benchlog.domain.plan import Mover, Plan, Source
from benchlog.domain.plan_limit import Limit
from benchlog.domain.plan_stage import StagePlan, Wait
from benchlog.domain.plan_trace import Role, TracePlan
from benchlog.domain.sixnumbers import DROP, SixNumbers, clip
from benchlog.errors import BadInput


def lamp_words(six: SixNumbers) -> str:
    """The lamp in series, as it is called."""
    return f"{six.lamp_watts:g} W lamp"


def clipped(six: SixNumbers, wanted: Sequence[TracePlan], most: int | None = None) -> tuple[TracePlan, ...]:
    """The points that get a meter; BadInput where none of them could guard anything."""
    traces = clip(wanted, six.meters)[:most]
    if not any(trace.critical for trace in traces):
        fix = "use one for volts, with an isolated link and rated for the mains where it goes across the lamp"
        raise BadInput("meters", "none of them can read a point of this plan", fix)
    return traces


def from_mains(
    six: SixNumbers,
    name: str,
    chain: tuple[str, ...],
    traces: tuple[TracePlan, ...],
    steps: Sequence[tuple[float, float]],
    limits: tuple[Limit, ...] | None = None,
) -> Plan:
    """A plan whose source a hand moves, with the usual limits where none are given."""
    source = Source(
        moved_by=Mover.HAND,
        chain=chain,
        mains=six.mains,
        lamp_watts=six.lamp_watts,
        ratio=six.ratio,
        diode_drop=DROP,
    )
    stages = tuple(mains_stage(source, traces, fraction, dwell) for fraction, dwell in steps)
    return whole(
        six, name, source, traces, stages, guard_defaults.limits(six, traces) if limits is None else limits
    )


def mains_stage(source: Source, traces: tuple[TracePlan, ...], fraction: float, dwell: float) -> StagePlan:
    """A step with what must hold: rails as expected where that is known, and a lamp that stays as it is."""
    bare = StagePlan(name=f"{100 * fraction:.0f} %", fraction=fraction, dwell=dwell)
    seen = source.lamp_watts == 0.0 or any(trace.role is Role.LAMP for trace in traces)
    waits = []
    for trace in traces:
        if trace.role is Role.RAIL:
            # Behind a lamp that no meter watches nobody knows what is left for the unit.
            known = seen and source.left(bare) > 0.0
            steady = Wait(trace=trace.name, steady=0.05, seconds=5.0)
            waits.append(Wait(trace=trace.name, as_expected=True) if known else steady)
        elif trace.role is Role.LAMP and fraction >= 0.6:
            waits.append(Wait(trace=trace.name, steady=0.1, seconds=10.0))
    return StagePlan(name=bare.name, fraction=fraction, dwell=dwell, wait=tuple(waits))


def _offset(traces: tuple[TracePlan, ...]) -> bool:
    return any(trace.role is Role.OFFSET for trace in traces)


def whole(
    six: SixNumbers,
    name: str,
    source: Source,
    traces: tuple[TracePlan, ...],
    stages: tuple[StagePlan, ...],
    limits: tuple[Limit, ...],
) -> Plan:
    """The plan with its name and for whom it is."""
    rails = f"+/-{six.rail:g} V rails" if six.paired else f"one rail, +{six.rail:g} V"
    offset = "" if six.paired else " Take the offset after the output capacitor."
    if offset and source.moved_by is Mover.PROGRAM:
        # A board may end before it; what stands there then is half the rail, and would trip.
        offset = f"{offset[:-1]}; where there is none, leave it out of the plan." if _offset(traces) else ""
    each = " in each of two channels" if six.channels > 1 else ""
    about = (
        f"{rails[:1].upper()}{rails[1:]}, {1e3 * six.idle_amps:.3g} mA idle{each}"
        f" ({1e3 * six.idle:.3g} mV across {six.across:g} ohm). Inputs shorted, no speakers.{offset}"
    )
    return Plan(
        file=f"{Plan.FILE} {Plan.VERSION}",
        name=name,
        about=about,
        source=source,
        trace=traces,
        limit=limits,
        stage=stages,
    )
