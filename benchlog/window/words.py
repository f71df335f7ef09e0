"""Everything shown that stands for a code word: one table, so that a word is changed in one place."""

from benchlog.domain.expectation import Origin
from benchlog.domain.kind import Kind
from benchlog.domain.reading import Function, Outcome
from benchlog.domain.stages import State
from benchlog.domain.unit import RoundKind
from benchlog.domain.verdict import Verdict

RESULT = {
    Verdict.WITHIN: "within",
    Verdict.AS_OTHER_SIDE: "as other side",
    Verdict.DRIFTED: "drifted, kept",
    Verdict.HIGH: "high",
    Verdict.LOW: "low",
    Verdict.OPEN: "open",
    Verdict.SHORT: "short",
    Verdict.UNPROVEN: "lift a leg",
    Verdict.UNDECIDED: "meter can't tell",
    Verdict.UNSTABLE: "will not settle",
    Verdict.NO_CONTACT: "no contact",
    Verdict.WRONG_FUNCTION: "wrong function",
    Verdict.NOT_YET: "not yet",
}
"""A verdict as the person at the bench reads it."""

TO_DO, NOT_JUDGED = "to do", "not judged"
TYPED = "typed"
"""Where a reading came from a hand and not from a meter."""

ORIGIN = {
    Origin.SHEET: "the sheet",
    Origin.MIRROR: "the other side",
    Origin.EARLIER_UNIT: "an earlier unit",
    Origin.EARLIER_VISIT: "an earlier visit",
    Origin.MARKING: "the marking",
    Origin.COMPUTED: "a calculation",
    Origin.PRACTICE: "common practice",
}
"""Where it comes from what something should read."""

KIND = {
    Kind.RESISTOR: "resistor",
    Kind.EMITTER_RESISTOR: "emitter resistor",
    Kind.ELECTROLYTIC: "electrolytic",
    Kind.FILM: "film capacitor",
    Kind.CAPACITOR: "capacitor",
    Kind.INDUCTOR: "inductor",
    Kind.DIODE: "diode",
    Kind.TRANSISTOR_JUNCTION: "junction",
    Kind.ZENER: "zener diode",
    Kind.BRIDGE: "bridge rectifier",
    Kind.BIAS_PACKAGE: "bias package",
    Kind.TRANSISTOR: "transistor",
    Kind.POTENTIOMETER: "potentiometer",
    Kind.INSULATION: "insulation",
    Kind.SWITCH: "switch",
    Kind.FUSE: "fuse",
    Kind.WINDING: "winding",
    Kind.CONTACT: "contact",
}

MEASURE = {
    "d": "D",
    "esr": "ESR",
    "ce": "collector to emitter",
    "be": "base to emitter",
    "bc": "base to collector",
    "ec": "collector to emitter, leads turned",
    "eb": "base to emitter, leads turned",
    "cb": "base to collector, leads turned",
    "-a": "minus to pin a",
    "-b": "minus to pin b",
    "a+": "pin a to plus",
    "b+": "pin b to plus",
    "a-": "minus to pin a, leads turned",
    "b-": "minus to pin b, leads turned",
    "+a": "pin a to plus, leads turned",
    "+b": "pin b to plus, leads turned",
    "volts": "volts across it, in operation",
    "chassis": "to the chassis",
    "heatsink": "collector to the heatsink",
    "reverse": "leads turned",
    "wiper": "wiper to one end",
    "half": "one half",
    "other half": "other half",
}
"""A measure in full; the word itself where it stands for itself."""

SHORT = {"d": "D", "esr": "ESR", "ce": "C-E", "be": "B-E", "bc": "B-C", "ec": "E-C", "eb": "E-B", "cb": "C-B"}
"""The same where there is little room."""

FUNCTION = {
    Function.VOLTS_DC: "volts DC",
    Function.VOLTS_AC: "volts AC",
    Function.AMPS_DC: "amps DC",
    Function.AMPS_AC: "amps AC",
    Function.OHMS: "ohms",
    Function.OHMS_4W: "ohms, four wires",
    Function.DIODE: "diode",
    Function.CAPACITANCE: "capacitance",
    Function.INDUCTANCE: "inductance",
    Function.ESR: "ESR",
    Function.DISSIPATION: "D",
    Function.FREQUENCY: "frequency",
    Function.TEMPERATURE: "temperature",
    Function.STATE: "state",
}
"""What a meter is set to."""

RUN_STATE = {
    State.STANDING: "standing, off",
    State.SETTING: "setting the source",
    State.SWITCHING_ON: "switching on",
    State.MOVING: "source moving",
    State.DWELLING: "dwelling",
    State.DRILL: "drill: switch off now",
    State.READY: "ready to go on",
    State.HELD: "held",
    State.GOING_OFF: "going off for a change",
    State.CHANGING: "off, being changed",
    State.SWITCHING_OFF: "switching off",
    State.TAIL: "off, still logging",
    State.CLOSED: "closed",
}

NO_NUMBER: dict[str, str] = {
    Outcome.OVERLOAD: "OL",
    Outcome.NOT_A_NUMBER: "no number",
    Outcome.MALFORMED: "garbled",
    Outcome.LATE: "late",
    Outcome.MISSING: "no answer",
    Outcome.CLIP: "in hand",
}
"""What stands in the place of a value that is none, where its outcome is no word of the bench itself."""

METER_STATE = {
    "open": "answers",
    "opening": "being opened",
    "gone": "gone",
    "refused": "refused",
    "unreadable": "not readable",
}

CUT_OUTCOME = {
    "asked": "asked to switch off, not seen yet",
    "verified off": "seen off",
    "asked, still live": "STILL LIVE",
    "refused": "refused to switch off",
    "unknown": "off not proven: pull the plug",
}
CUT_BY_ANOTHER = {
    "asked, still live": "did not act",
    "refused": "refused to switch off",
    "unknown": "seen off, perhaps by another",
}
"""The same of an off-switch whose unit is seen off all the same."""

ENDING = {
    "completed": "went through",
    "tripped": "tripped",
    "ended by the operator": "ended by you",
    "cut when left alone": "cut when left alone",
    "not closed": "not closed",
}

ROUND = {RoundKind.AS_FOUND: "as found", RoundKind.WORKING: "working", RoundKind.AS_LEFT: "as left"}

UNIT, BENCH, PARTS, POWER_UP, PAST_RUNS, KEYS = "Unit", "Bench", "Parts", "Power-up", "Past runs", "Keys"
WIRING = "Wiring"
CUT = "CUT"
OFF = "OFF"
STILL_LIVE = "STILL LIVE"
CAUTION = (
    "Mains and charged reservoirs kill. Local codes and licensed practice come first. "
    "benchlog never says that anything is safe: it says what was measured, when, and with what."
)
