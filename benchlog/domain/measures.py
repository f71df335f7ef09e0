"""What can be measured at each kind of part: its measures in the order they are taken, each with what it needs.

A *measure* is one named measurement: a transistor has C-E, B-E and B-C, an electrolytic its capacitance, its
ESR and its leakage. The one without a word is the part's own value. What is usual is to do as soon as a part
is listed; the rest is called up. Limits stand here where common practice or a published one gives them for
any part of the kind; those that follow from the part's own value are in `usual.py`.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import lru_cache

from benchlog.domain.expectation import Expectation, Origin
from benchlog.domain.kind import Kind
from benchlog.domain.quantity import quoted
from benchlog.domain.reading import Function
from benchlog.errors import BadInput
from benchlog.textfile import did_you_mean

PRACTICE = "common practice, no source"
OPEN = "OL"
"""The limits of what should not conduct."""
METERS = "0.5 to 0.8 V for good silicon stands in the manuals of several meters"
RECTIFIERS = "0.4 to 0.9 V for a good diode stands in a meter's manual"
SINK_LINE = "100 kilohm, once any common link is off, is a pass line of a service sheet"
CHASSIS = "more than 1 megohm from a winding to the chassis is a published line; below 100 kilohm is bad"


class Needs(StrEnum):
    """What a reading of a measure means nothing without."""

    FREQUENCY = "frequency"
    """Of the meter's test signal, Hz."""
    MINUTES = "minutes"
    """Since the rated voltage was put on, through a resistor."""


@dataclass(frozen=True, slots=True)
class Measure:
    """One named measurement at a kind of part.

    Attributes:
        word: as it is typed and kept; empty for the part's own value.
        function: what a meter is set to.
        usual: whether it is to do as soon as the part is listed.
        lifted: whether it proves nothing while both legs are on the board.
        needs: what a reading of it means nothing without.
        limits: what any good part of the kind reads, as an expectation is written; empty where nothing says.
        source: where these limits come from.
    """

    word: str
    function: Function
    usual: bool = True
    lifted: bool = False
    needs: tuple[Needs, ...] = ()
    limits: str = ""
    source: str = ""

    @property
    def unit(self) -> str:
        """The SI unit of its values."""
        return self.function.unit

    def expected(self, kind: Kind, text: str, origin: Origin = Origin.SHEET) -> Expectation:
        """What it should read at a part of a kind, as a person wrote it; `BadInput` where that cannot be read."""
        return _expected(self, kind, text, origin)

    @property
    def name(self) -> str:
        """Its word as a person writes it; the part's own value has one here too."""
        return self.word or VALUE


@lru_cache(maxsize=4096)
def _expected(measure: Measure, kind: Kind, text: str, origin: Origin) -> Expectation:
    """What was written of ten thousand parts is read again at every key."""
    own = kind if measure.unit == kind.unit else None
    # A loss or a leakage is never below nothing, which of other volts and amperes nobody knows.
    limits = text.strip().removeprefix("<")
    never_below = measure.word in (D, LEAKAGE) and limits != text.strip()
    found = Expectation.parse(f"0..{limits.lstrip('= ')}" if never_below else text, own, origin, measure.unit)
    found = replace(found, text=text)
    if Needs.FREQUENCY in measure.needs and found.frequency is None:
        raise BadInput(
            quoted(text), "holds at one frequency and names none", f"write it as in {text} at 120 Hz"
        )
    return found


def _own(function: Function, limits: str = "", source: str = "", *, lifted: bool = False) -> Measure:
    return Measure("", function, lifted=lifted, limits=limits, source=source)


def _more(
    word: str,
    function: Function,
    limits: str = "",
    source: str = "",
    *,
    lifted: bool = False,
    needs: tuple[Needs, ...] = (),
) -> Measure:
    """A measure that is called up."""
    return Measure(word, function, usual=False, lifted=lifted, needs=needs, limits=limits, source=source)


_AT = (Needs.FREQUENCY,)
_OHMS, _DIODE, _FARADS = Function.OHMS, Function.DIODE, Function.CAPACITANCE
_SILICON = ("0.5..0.8 V", METERS)

VALUE = "value"
"""How a person writes the measure that has no word of its own."""
D, ESR, LEAKAGE = "d", "esr", "leakage"
REVERSE, BREAKDOWN, VOLTS = "reverse", "breakdown", "volts"
CE, BE, BC, EC, EB, CB = "ce", "be", "bc", "ec", "eb", "cb"
WIPER, HALF, OTHER_HALF, CHASSIS_WORD, HEATSINK = "wiper", "half", "other half", "chassis", "heatsink"

_LOSSES = (_more(D, Function.DISSIPATION, needs=_AT), _more(ESR, Function.ESR, needs=_AT))
_LEAKAGE = _more(LEAKAGE, Function.AMPS_DC, lifted=True, needs=(Needs.MINUTES,))
_ACROSS = _more(VOLTS, Function.VOLTS_DC)
"""In operation; what it should read is the sheet's alone."""
_HEATSINK = _more(HEATSINK, _OHMS, "> 100k", SINK_LINE)
_CHASSIS = _more(CHASSIS_WORD, _OHMS, "> 1M", CHASSIS)
_REVERSE = _more(REVERSE, _DIODE, OPEN, PRACTICE)
_CONTACT = _own(_OHMS, "0..50 mohm", PRACTICE)
_LEADS = ("a", "b")
"""The two pins of a bridge for the AC side."""

_BRIDGE = (
    *(Measure(f"-{pin}", _DIODE, limits="0.4..0.9 V", source=RECTIFIERS) for pin in _LEADS),
    *(Measure(f"{pin}+", _DIODE, limits="0.4..0.9 V", source=RECTIFIERS) for pin in _LEADS),
    *(_more(f"{pin}-", _DIODE, OPEN, PRACTICE) for pin in _LEADS),
    *(_more(f"+{pin}", _DIODE, OPEN, PRACTICE) for pin in _LEADS),
)
_TRANSISTOR = (
    # A short from collector to emitter first: with one, the others prove nothing.
    Measure(CE, _DIODE, limits=OPEN, source=PRACTICE),
    Measure(BE, _DIODE, limits=_SILICON[0], source=_SILICON[1]),
    Measure(BC, _DIODE, limits=_SILICON[0], source=_SILICON[1]),
    _more(EC, _DIODE, OPEN, PRACTICE),
    _more(EB, _DIODE, OPEN, PRACTICE),
    _more(CB, _DIODE, OPEN, PRACTICE),
    _HEATSINK,
)

MEASURES: dict[Kind, tuple[Measure, ...]] = {
    Kind.RESISTOR: (_own(_OHMS), _ACROSS),
    Kind.EMITTER_RESISTOR: (_own(_OHMS), _ACROSS),
    Kind.ELECTROLYTIC: (_own(_FARADS), *_LOSSES, _LEAKAGE, _ACROSS),
    Kind.FILM: (_own(_FARADS), *_LOSSES, _LEAKAGE, _ACROSS),
    Kind.CAPACITOR: (_own(_FARADS), *_LOSSES, _LEAKAGE, _ACROSS),
    Kind.INDUCTOR: (_own(Function.INDUCTANCE), _more(ESR, Function.ESR, needs=_AT), _ACROSS),
    Kind.DIODE: (_own(_DIODE, "0.4..0.9 V", RECTIFIERS), _REVERSE, _ACROSS),
    Kind.TRANSISTOR_JUNCTION: (_own(_DIODE, *_SILICON), _REVERSE, _ACROSS),
    Kind.ZENER: (
        _own(_DIODE, "0.4..0.9 V", RECTIFIERS),
        _more(BREAKDOWN, Function.VOLTS_DC, lifted=True),
        _ACROSS,
    ),
    Kind.BRIDGE: (*_BRIDGE, _ACROSS),
    Kind.BIAS_PACKAGE: (_own(_DIODE, "1.2..1.8 V", PRACTICE), _REVERSE, _ACROSS),
    Kind.TRANSISTOR: (*_TRANSISTOR, _ACROSS),
    Kind.POTENTIOMETER: (_own(_OHMS), Measure(WIPER, _OHMS), _ACROSS),
    Kind.SWITCH: (_CONTACT, _ACROSS),
    Kind.CONTACT: (_CONTACT, _ACROSS),
    Kind.FUSE: (_own(_OHMS, "0..10 ohm", PRACTICE), _ACROSS),
    Kind.WINDING: (_own(_OHMS), _more(HALF, _OHMS), _more(OTHER_HALF, _OHMS), _CHASSIS, _ACROSS),
    Kind.INSULATION: (_own(_OHMS, "> 100k", SINK_LINE), _CHASSIS),
}
"""Every kind's measures, in the order they are taken."""

TYPED_ON: dict[Kind, tuple[str, ...]] = {
    Kind.ELECTROLYTIC: ("", D, ESR),
    Kind.FILM: ("", D, ESR),
    Kind.CAPACITOR: ("", D, ESR),
    Kind.INDUCTOR: ("", ESR),
    Kind.DIODE: ("", REVERSE),
    Kind.TRANSISTOR_JUNCTION: ("", REVERSE),
    Kind.BIAS_PACKAGE: ("", REVERSE),
    Kind.POTENTIOMETER: ("", WIPER),
    Kind.WINDING: ("", HALF, OTHER_HALF),
}
"""In which order values stand that are typed in one go, `4650/.12/.03`; of other kinds as they are taken."""

OPPOSITE = {"": REVERSE, BE: EB, BC: CB} | {
    one: other for pin in _LEADS for one, other in ((f"-{pin}", f"{pin}-"), (f"{pin}+", f"+{pin}"))
}
"""A junction's measure with the leads as it conducts, and the one with the leads turned round."""

LCR = frozenset({Function.CAPACITANCE, Function.INDUCTANCE, Function.ESR, Function.DISSIPATION})
"""What an LCR meter reads, at a frequency and in a model."""


def measure_of(kind: Kind, word: str, function: Function | None = None) -> Measure:
    """A measure by its word; `BadInput` where this kind of part has none of that word.

    `function` is what the part's own value is measured with, where that was said of this part.
    """
    word = "" if word == VALUE else word
    for measure in all_of(kind, function):
        if measure.word == word:
            return measure
    words = [measure.name for measure in all_of(kind, function)]
    listed = f"write one of: {', '.join(words)}"
    name = kind.replace("_", " ")
    raise BadInput(
        quoted(word or VALUE),
        f"is no measurement of {_article(name)} {name}",
        did_you_mean(word, words) or listed,
    )


def all_of(kind: Kind, function: Function | None = None) -> tuple[Measure, ...]:
    """Everything that can be measured at such a part, in the order it is taken; `function` as above."""
    known = MEASURES[kind]
    if function is None:
        return known
    own = next((one for one in known if not one.word), Measure("", function))
    if own.function is not function:
        own = Measure("", function)
    return (own, *(one for one in known if one.word))


def asked_of(kind: Kind, words: Iterable[str] = (), function: Function | None = None) -> tuple[Measure, ...]:
    """What is to do at a part, in the order it is taken: what was asked for, else what is usual.

    A part of which it was said what it is measured with is measured so alone.
    """
    wanted = {"" if word == VALUE else word for word in words}
    known = all_of(kind, function)
    asked = tuple(one for one in known if one.word in wanted)
    if asked:
        return asked
    return known[:1] if function is not None else tuple(one for one in known if one.usual)


def typed_after(kind: Kind, word: str) -> tuple[str, ...]:
    """The measures whose values follow this one's where several are typed in one go; itself first."""
    order = TYPED_ON.get(kind) or tuple(measure.word for measure in MEASURES[kind] if measure.usual)
    return order[order.index(word) :] if word in order else (word,)


def _article(name: str) -> str:
    return "an" if name[0] in "aeiou" else "a"
