"""The ten fault signatures of a power-up: how each is played, when it is true, and how its run must end.

What is true is told by the far end's model alone, at the place where the meter's clips hang, and by no reading.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from benchlog import resources
from benchlog.simbench.amplifier import Amplifier
from benchlog.simbench.bench import Bench
from benchlog.simbench.board import Board

TRUE_IDLE_DROP = 0.033
"""Volts across the emitter resistor at twice the target."""
BROKEN_LAMP = 0.35
"""The part of the applied volts on the lamp that the amplifier's plan allows."""
NEVER_READY = 150.0
"""Plan seconds after which a person gives up a stage that is not offered."""

Plan = Callable[[str], str]
"""Changes the text of an example's plan."""
IsTrue = Callable[[Bench], bool]


@dataclass(frozen=True, slots=True)
class Act:
    """What happens to a meter, once the run dwells at a stage."""

    job: str
    does: str
    stage: str


@dataclass(frozen=True, slots=True)
class Signature:
    """One signature on the simulated bench.

    Attributes:
        number: of the signature; a healthy unit is the first, a meter's own faults the tenth.
        name: its own among all rows.
        example, fault: what the bench simulates.
        outcome: how the run ends.
        stages: the last stage that was reached is one of these.
        limits: of these traces, these kinds of limit may trip, whichever comes first.
        says: what must stand in the reason, or in a warning where nothing trips.
        true: whether the fault is true now at the far end; left out where there is none.
        plan: what is changed in the example's plan.
        act: what happens to a meter.
        doubt: what a reading of that meter is called from then on.
        lamp: watts of the lamp in series at the far end, where it is not the example's; 0 for a plain wire.
        speed: plan seconds in a real one.
        patience: plan seconds a person waits for the next stage.
        long: whether it is left to a run of the tests that may take its time.
        seen: whether any run of the tests plays it through the window too.
    """

    number: int
    name: str
    example: str
    fault: str
    outcome: str
    stages: tuple[str, ...]
    limits: tuple[tuple[str, str], ...] = ()
    says: str = ""
    true: IsTrue | None = None
    plan: Plan = str
    act: Act | None = None
    doubt: str = ""
    lamp: float | None = None
    speed: float = 20.0
    patience: float = NEVER_READY
    long: bool = False
    seen: bool = False

    def __str__(self) -> str:
        return self.name


# --- the plans -----------------------------------------------------------------------------------


def shortened(text: str, share: float = 0.25) -> str:
    """A plan whose dwells last a part of what they should."""
    return re.sub(r"dwell = ([\d.]+)", lambda found: f"dwell = {share * float(found[1])}", text)


def long_at_the_top(text: str, seconds: float, more: str = "", short: Plan = shortened) -> str:
    """A plan with more limits, that stays so long at its last stage."""
    *ladder, top = re.split(r"(?m)^(?=\[\[stage\]\])", short(text))
    return "".join(ladder) + more + "\n" + re.sub(r"dwell = [\d.]+", f"dwell = {seconds}", top)


def nothing_awaited(text: str) -> str:
    """A plan whose stages are offered after their dwell, whatever their traces read."""
    return re.sub(r"(?ms)^wait = \[.*?\]\n", "", shortened(text))


def without_lamp(text: str) -> str:
    """The same unit and ladder with a plain wire in the lamp's place."""
    tables = re.split(r"(?m)^(?=\[\[)", nothing_awaited(text))
    kept = [one for one in tables if not re.search(r'(?m)^(name|trace) = "lamp"', one)]
    return re.sub(r"(?m)^lamp_watts = .*\n", "", "".join(kept)).replace(', "100 W lamp"', "")


def known_lamp(text: str) -> str:
    """A plan that knows from a good run what a healthy unit leaves on the lamp: a tenth, and 12 % of mains more."""
    return long_at_the_top(text, seconds=400.0).replace("over_healthy = 0.12", "of_source = 0.22")


def from_forty(text: str) -> str:
    """A plan that begins at 40 %: below, a bad joint takes so much of a rail that it counts as low."""
    head, _, _, *ladder = re.split(r"(?m)^(?=\[\[stage\]\])", shortened(text))
    return head + "".join(ladder)


RUNAWAY = """
[[limit]]
trace = "idle L"
kind = "runaway"
target = 0.0165
"""
OFFSET_CREEPS = """
[[limit]]
trace = "offset L"
kind = "high"
value = 0.025
persistence = 30.0
action = "warn"
gate = { any_of = ["+B", "-B"], above = 20.0, seconds = 5.0 }
why = "the offset grows"
"""

# --- what is true --------------------------------------------------------------------------------


def amplifier(bench: Bench) -> Amplifier:
    """The model, where it is the amplifier."""
    assert isinstance(bench.model, Amplifier)
    return bench.model


def board(bench: Bench) -> Board:
    """The model, where it is the board."""
    assert isinstance(bench.model, Board)
    return bench.model


def draws_too_much(bench: Bench) -> bool:
    """The lamp takes more than a healthy unit leaves it."""
    unit = amplifier(bench)
    applied = unit.measure("mains", "ac")
    return unit.energised and applied > 1.0 and unit.measure("lamp", "ac") > BROKEN_LAMP * applied


def plus_is_missing(bench: Bench) -> bool:
    """The plus rail stays down while the other one stands."""
    unit = amplifier(bench)
    return unit.energised and unit.minus > 1.0 and unit.plus_terminal < 0.75 * unit.minus


def plus_is_reversed(bench: Bench) -> bool:
    """The plus rail stands on the wrong side."""
    return amplifier(bench).plus_terminal < 0.0


def idle_is_high(bench: Bench) -> bool:
    """The idle current is past twice its target."""
    return amplifier(bench).measure("idle left", "dc") > TRUE_IDLE_DROP


def idle_climbs(bench: Bench) -> bool:
    """The rails stand where the bias begins to climb."""
    unit = amplifier(bench)
    return min(unit.plus, unit.minus) > unit.left.truth.climb_rail


def oscillates(bench: Bench) -> bool:
    """The output stage oscillates."""
    return amplifier(bench).left.singing


def leaks(bench: Bench) -> bool:
    """The reservoir takes current that it should not."""
    unit = amplifier(bench)
    return unit.energised and unit.reservoir.draw(unit.plus)[0] > 0.02


def joint_is_bad(bench: Bench) -> bool:
    """The joint is in a bad spell."""
    return amplifier(bench).contact.lost > 0.0


def offset_creeps(bench: Bench) -> bool:
    """The output's offset is past what the plan warns of."""
    return abs(amplifier(bench).left.offset) > 0.025


def regulated(bench: Bench, low: float, high: float) -> bool:
    """The supply is on, and its plus regulator gives between so many volts, as parts of what is set and as volts."""
    output = board(bench).outputs[0]
    return output.on and low < board(bench).measure("regulated plus", "dc") < high


def regulator_is_open(bench: Bench) -> bool:
    """The plus regulator gives less than the plan's part of what goes in."""
    return regulated(bench, -1.0, 0.6 * board(bench).outputs[0].set_volts)


def meter_is(field: str, job: str, bench: Bench) -> bool:
    """The meter stands as an act has left it."""
    return bool(getattr(bench._meters[job], field))


def is_silent(job: str, bench: Bench) -> bool:
    """The meter answers no more."""
    return bool(bench._plugged[job].thing.silent)  # type: ignore[union-attr]


# --- the table -----------------------------------------------------------------------------------

DONE, TRIPPED, GIVEN_UP = "completed", "tripped", "ended by the operator"
TOP = ("100 %",)
RAIL_GONE = (("+B", "rail_low"), ("+B", "apart"))
IDLE_HIGH = (("idle L", "high"),)
LAMP_HIGH = (("lamp", "high"),)
METER_GONE = (("+B", "lost"),)
AT_60 = ("60 %",)
FROM_60 = ("60 %", "80 %", "100 %")


def meddled(name: str, act: str, field: str, *limits: tuple[str, str], **more: Any) -> Signature:
    """A healthy unit, of which one meter does not show what it should from 60 % on."""
    found = Signature(
        10,
        name,
        "amplifier",
        "healthy",
        TRIPPED,
        AT_60,
        limits=(*METER_GONE, *limits),
        true=partial(meter_is, field, "+B"),
        plan=from_forty,
        act=Act("+B", act, "60 %"),
    )
    return replace(found, **more)


SIGNATURES = (
    Signature(1, "healthy", "amplifier", "healthy", DONE, TOP, plan=shortened),
    Signature(1, "poor but safe", "amplifier", "untracked", DONE, TOP, plan=shortened),
    Signature(
        1, "leaks, and forms again", "amplifier", "reforming-reservoir", DONE, TOP, plan=shortened, long=True
    ),
    Signature(
        *(2, "shorted output", "amplifier", "shorted-output", TRIPPED, ("10 %",)),
        limits=LAMP_HIGH,
        says="the unit draws too much",
        true=draws_too_much,
        seen=True,
    ),
    Signature(
        *(3, "leaky reservoir", "amplifier", "leaky-reservoir", TRIPPED, TOP),
        limits=(*LAMP_HIGH, *RAIL_GONE),
        true=leaks,
        plan=known_lamp,
    ),
    Signature(
        *(4, "open regulator", "board", "open-regulator", TRIPPED, ("10 V",)),
        limits=(("regulated +", "low"),),
        says="the output stays down",
        true=regulator_is_open,
        seen=True,
    ),
    Signature(
        *(4, "shorted regulator, awaited", "board", "shorted-regulator", GIVEN_UP, ("10 V",)),
        plan=shortened,
        speed=50.0,
    ),
    Signature(
        *(4, "shorted regulator, not awaited", "board", "shorted-regulator", TRIPPED, ("20 V",)),
        limits=(("regulated +", "high"),),
        says="above its limit",
        true=partial(regulated, low=16.5, high=99.0),
        plan=nothing_awaited,
        long=True,
    ),
    Signature(
        *(5, "one rail missing", "amplifier", "missing-rail", TRIPPED, ("10 %",)),
        limits=RAIL_GONE,
        true=plus_is_missing,
    ),
    Signature(
        *(5, "one rail reversed", "amplifier", "rail-reversed", TRIPPED, ("10 %",)),
        limits=(("+B", "polarity"), *LAMP_HIGH, *RAIL_GONE),
        true=plus_is_reversed,
        long=True,
    ),
    Signature(
        *(6, "bias high, runaway, no lamp", "amplifier", "bias-runaway", TRIPPED, AT_60),
        limits=IDLE_HIGH,
        says="above twice its target",
        true=idle_is_high,
        plan=without_lamp,
        lamp=0.0,
    ),
    Signature(
        *(6, "bias high, runaway, behind the lamp", "amplifier", "bias-runaway", GIVEN_UP, ("40 %",)),
        plan=from_forty,
        long=True,
    ),
    Signature(
        *(6, "slow runaway", "amplifier", "slow-runaway", TRIPPED, TOP),
        limits=(("idle L", "runaway"),),
        says="runs away",
        true=idle_climbs,
        plan=partial(long_at_the_top, more=RUNAWAY, seconds=900.0),
    ),
    Signature(
        *(7, "leaky input", "amplifier", "leaky-input", DONE, TOP),
        limits=(("offset L", "high"),),
        says="the offset grows",
        true=offset_creeps,
        plan=partial(long_at_the_top, more=OFFSET_CREEPS, seconds=200.0),
        patience=600.0,
    ),
    Signature(
        *(8, "intermittent joint", "amplifier", "intermittent", DONE, TOP),
        says="leapt",
        true=joint_is_bad,
        # Long enough that a bad spell falls among the readings of any run.
        plan=partial(long_at_the_top, seconds=150.0, short=from_forty),
        # A spell may come just as it would be offered.
        patience=600.0,
    ),
    Signature(
        *(8, "dirty wiper", "amplifier", "dirty-wiper", TRIPPED, FROM_60),
        limits=IDLE_HIGH,
        true=idle_is_high,
        # Its bad spells are as long and as deep as they like: one that lasts comes in a few minutes.
        plan=partial(long_at_the_top, seconds=900.0),
        long=True,
    ),
    Signature(
        *(9, "oscillation", "amplifier", "oscillation", TRIPPED, ("80 %",)),
        limits=(*IDLE_HIGH, *LAMP_HIGH),
        says="above its limit",
        true=oscillates,
        plan=from_forty,
    ),
    Signature(
        *(10, "silent meter", "amplifier", "silent-meter", TRIPPED, AT_60),
        limits=METER_GONE,
        says="no reading from +B",
        true=partial(is_silent, "+B"),
        speed=10.0,
        seen=True,
    ),
    Signature(
        *(10, "clip off on the commonest bench", "by-hand", "healthy", TRIPPED, ("70 %",)),
        limits=(*METER_GONE, ("+B", "rail_low")),
        true=partial(meter_is, "off", "+B"),
        plan=shortened,
        act=Act("+B", "clip", "70 %"),
    ),
    meddled("clip off", "clip", "off", *RAIL_GONE, seen=True),
    meddled("AC in place of DC", "ac", "ac", *RAIL_GONE, long=True),
    meddled("dial turned to ohms", "ohms", "ohms", *RAIL_GONE, ("+B", "beyond range"), long=True),
    meddled("leads swapped", "swap", "swapped", ("+B", "polarity"), long=True),
    meddled("prefix slipped", "slip", "slipped", *RAIL_GONE, long=True),
    meddled("cable pulled", "unplug", "unplugged", plan=str, speed=10.0, long=True),
    # Nothing tells it from a steady rail before the source moves.
    meddled(
        "last reading repeated",
        "stuck",
        "stuck",
        *RAIL_GONE,
        stages=("80 %",),
        doubt="did not follow",
        long=True,
    ),
)
BY_NAME = {signature.name: signature for signature in SIGNATURES}


def plan_of(signature: Signature) -> str:
    """The plan that a signature is played on."""
    return signature.plan(resources.path("examples", signature.example, "plan.toml").read_text("utf-8"))
