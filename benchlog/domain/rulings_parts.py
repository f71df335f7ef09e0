"""Rulings on parts of which more than one thing is measured, or of which a number alone says too little."""

from benchlog.domain.case import Case, Finding
from benchlog.domain.expectation import Origin
from benchlog.domain.kind import Kind
from benchlog.domain.measures import BC, BE, CE, CHASSIS_WORD, EC, HALF, OPPOSITE, OTHER_HALF, WIPER
from benchlog.domain.quantity import Overload, show, tidy
from benchlog.domain.standing import Side
from benchlog.domain.verdict import Verdict

HALVES_WITHIN = 0.05
"""Half windings of one transformer (common practice, no source)."""

BARELY = 0.002
"""Volts by which B-E may lie below B-C before it is taken for more than chance (common practice, no source)."""

CONDUCTS = (0.1, 2.0)
"""Between these volts a meter on diodes shows a junction that conducts (common practice, no source)."""

SHORTED = 0.05
"""Below these volts it shows none (common practice, no source)."""

GERMANIUM = 0.15
"""From here up to silicon's limit a germanium or Schottky junction reads (common practice, no source)."""

WORN_FROM, WORN_TO = 0.1, 0.2
"""Ohms from which a contact is cleaned, and from which it is replaced (common practice, no source)."""

BAD_INSULATION = 100e3
"""Below these ohms to the chassis it is bad; up to its limit it may be damp (published: see `measures.CHASSIS`)."""

_BOTH_WAYS = OPPOSITE | {other: one for one, other in OPPOSITE.items()}
_CONTACTS = frozenset({Kind.CONTACT, Kind.SWITCH})


def collector_first(case: Case) -> Finding | None:
    """With a short from collector to emitter the junctions prove nothing."""
    if case.kind is not Kind.TRANSISTOR or case.asked.measure in (CE, EC) or not case.is_junction:
        return None
    found = [case.asked.read(one) for one in (CE, EC)]
    if not any(isinstance(one, float) and abs(one) < SHORTED for one in found):
        return None
    return Verdict.UNDECIDED, "C-E reads as a short: until that is cleared, nothing else it reads counts"


def turned_round(case: Case) -> Finding | None:
    """A junction that conducts the other way round is not open: part or leads are the wrong way round."""
    asked = case.asked
    opposite = _BOTH_WAYS.get(asked.measure)
    if not case.is_junction or opposite is None or asked.reading is None:
        return None
    # What conducts and what does not: as the measure is called, and the other way round.
    blocks = asked.expectation is not None and asked.expectation.open
    back = asked.read(opposite)
    if back is None and not blocks:
        back = asked.reversed
    forward, reverse = (back, asked.reading) if blocks else (asked.reading, back)
    if not isinstance(forward, Overload) or not isinstance(reverse, float):
        return None
    if not CONDUCTS[0] <= abs(reverse) <= CONDUCTS[1]:
        return None
    if case.kind is Kind.TRANSISTOR:
        return Verdict.UNDECIDED, "it conducts the other way round: a PNP for an NPN, or the leads turned"
    return (
        Verdict.UNDECIDED,
        "it conducts the other way round: either the part was put in the wrong way round, or the leads are",
    )


def hidden_in_bridge(case: Case) -> Finding | None:
    """On the board the transformer joins both AC pins, and one open diode hides behind its neighbour."""
    if (
        case.kind is not Kind.BRIDGE
        or not case.on_board
        or case.side is not Side.INSIDE
        or case.asked.no_path_stated
    ):
        return None
    return (
        Verdict.UNPROVEN,
        "it conducts, but the winding joins both its AC pins and an open diode hides behind the next: "
        "take the winding off",
    )


def other_material(case: Case) -> Finding | None:
    """Low for silicon is not low for germanium or Schottky, where nobody said which it is."""
    expected, value = case.asked.expectation, case.value
    if expected is None or expected.origin is not Origin.PRACTICE or not case.is_junction or value is None:
        return None
    if expected.open:
        return None
    if case.side is not Side.BELOW or value < GERMANIUM or case.on_board or case.kind is Kind.BIAS_PACKAGE:
        return None
    return (
        Verdict.UNDECIDED,
        f"{case.show(value)} is low for silicon, and right for germanium or Schottky: see the type",
    )


def conducts(case: Case) -> Finding | None:
    """A junction that should block, and does not."""
    expected = case.asked.expectation
    if expected is None or not expected.open or not case.is_junction or case.value is None:
        return None
    return Verdict.LOW, f"it conducts where it should not: {case.show(case.value)} in the place of OL"


def unlike_other_side(case: Case) -> Finding | None:
    """Inside what any junction reads is not yet healthy where the other side reads something else."""
    expected, mirror = case.asked.expectation, case.asked.mirror
    if expected is None or expected.origin is not Origin.PRACTICE or not case.is_junction:
        return None
    if case.side is not Side.INSIDE or case.as_mirror is not False or mirror is None:
        return None
    said = f"a good junction may read so, but the other side reads {case.show(mirror)}"
    if case.on_board:
        return Verdict.UNPROVEN, f"{said}: lift a leg on both"
    return Verdict.UNDECIDED, f"{said}: one of the two is not what it should be"


def emitter_below_collector(case: Case) -> Finding | None:
    """B-E reads a little above B-C; the other way round the two may be swapped."""
    asked, value = case.asked, case.value
    if asked.measure not in (BE, BC) or case.on_board or case.side is not Side.INSIDE or value is None:
        return None
    other = asked.read(BC if asked.measure == BE else BE)
    if not isinstance(other, float):
        return None
    emitter, collector = (value, other) if asked.measure == BE else (other, value)
    if tidy(collector - emitter) <= max(BARELY, asked.resolution or 0.0):
        return None
    return (
        Verdict.UNDECIDED,
        f"B-E reads {case.show(emitter)} and B-C {case.show(collector)}, where B-E is the higher one in a good part: "
        "see whether emitter and collector are swapped",
    )


def halves(case: Case) -> Finding | None:
    """Half windings speak for each other; of one alone nobody knows."""
    asked, value = case.asked, case.value
    if asked.measure not in (HALF, OTHER_HALF) or value is None:
        return None
    other = asked.read(OTHER_HALF if asked.measure == HALF else HALF)
    if not isinstance(other, float):
        return (
            None
            if asked.expectation
            else (Verdict.UNDECIDED, "one half says nothing until the other is read")
        )
    if case.leads_count and max(value, other) < 2.0:
        return (
            Verdict.UNDECIDED,
            "the leads add as much to both halves as may lie between them: use four wires",
        )
    apart = abs(value - other) / max(value, other) if max(value, other) > 0 else 0.0
    beside = f"the other half reads {case.show(other)}"
    if tidy(apart) <= HALVES_WITHIN:
        return Verdict.WITHIN, f"{case.show(value)}, and {beside}"
    if value < other:
        return (
            Verdict.LOW,
            f"{case.show(value)}, where {beside}: turns may be shorted, or it is no middle tap",
        )
    return Verdict.HIGH, f"{case.show(value)}, where {beside}: a joint, or turns shorted in that one"


def insulation(case: Case) -> Finding | None:
    """Between bad and good an insulation is damp or dirty before it is broken."""
    value = case.value
    if case.asked.measure != CHASSIS_WORD or case.side is not Side.BELOW or value is None:
        return None
    if value < BAD_INSULATION:
        return Verdict.LOW, f"{case.show(value)} to the chassis is bad: do not put power on it"
    return (
        Verdict.UNDECIDED,
        f"{case.show(value)} to the chassis is little: dry it, clean it, and test it at its voltage",
    )


def contact(case: Case) -> Finding | None:
    """A contact goes up before it goes: kept, cleaned, replaced."""
    expected, value = case.asked.expectation, case.value
    if case.kind not in _CONTACTS or case.asked.measure or case.unit != "ohm" or value is None:
        return None
    if expected is None or expected.origin is not Origin.PRACTICE or case.side is not Side.ABOVE:
        return None
    read = case.show(value)
    if value <= WORN_FROM:
        return (
            Verdict.DRIFTED,
            f"{read} is past {case.show(case.high)}, but not past {case.show(WORN_FROM)}: it can stay",
        )
    if value <= WORN_TO:
        return Verdict.HIGH, f"{read} across a contact: clean it and read it again"
    return Verdict.HIGH, f"{read} across a contact: replace it if cleaning does not help"


def open_inside(case: Case) -> Finding | None:
    """An overload at a fuse, a wiper or a contact, in the words of the part."""
    asked = case.asked
    if not isinstance(asked.reading, Overload) or case.unit != "ohm" or case.wants_open:
        return None
    if asked.measure == WIPER:
        return Verdict.OPEN, "the wiper has no contact here: turn it, clean it, and read it again"
    if asked.measure:
        return None
    if case.kind is Kind.FUSE:
        return Verdict.OPEN, "the fuse is blown: see how, black means a short"
    if case.kind in _CONTACTS:
        return Verdict.OPEN, "it does not close: see that it is switched, or that its coil has its voltage"
    return None


def notes(case: Case, verdict: Verdict) -> list[str]:
    """What is worth saying beside a verdict on one of these."""
    asked = case.asked
    said = []
    if verdict is Verdict.WITHIN:
        if case.kind is Kind.ZENER and not asked.measure:
            said.append("Forward only: it shows a diode, not its voltage.")
        if case.kind is Kind.WINDING and asked.measure in ("", HALF, OTHER_HALF):
            said.append("A shorted turn does not show in ohms.")
        if asked.measure == WIPER:
            said.append("Turn it from end to end: a worn track shows as a jump.")
        if case.kind is Kind.INSULATION or asked.measure == CHASSIS_WORD:
            said.append("A meter's few volts say nothing of its test voltage.")
    return said


def across(case: Case) -> str:
    """What would have to lie across a resistor that reads low, as words for a sentence; empty where that is unknown."""
    expected, value = case.asked.expectation, case.value
    nominal = expected.nominal if expected is not None else None
    if case.unit != "ohm" or case.is_junction or not nominal or not value or value >= nominal or value <= 0.0:
        return ""
    return show(1.0 / (1.0 / value - 1.0 / nominal), "ohm", digits=2)
