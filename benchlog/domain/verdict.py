"""Verdicts: the question a reading asks, the words of the answer, and the judgement that is kept."""

from dataclasses import KW_ONLY, dataclass
from enum import StrEnum

from benchlog.domain.accuracy import MeterError
from benchlog.domain.expectation import Expectation
from benchlog.domain.kind import Kind
from benchlog.domain.quantity import Overload
from benchlog.domain.reading import Function
from benchlog.domain.standing import Rule
from benchlog.domain.tolerance import Tolerance


class Verdict(StrEnum):
    """What a reading proves."""

    WITHIN = "within"
    AS_OTHER_SIDE = "as other side"
    DRIFTED = "drifted"
    HIGH = "high"
    LOW = "low"
    OPEN = "open"
    SHORT = "short"
    UNPROVEN = "unproven"
    UNDECIDED = "undecided"
    UNSTABLE = "unstable"
    NO_CONTACT = "no contact"
    WRONG_FUNCTION = "wrong function"
    NOT_YET = "not yet"


@dataclass(frozen=True, slots=True)
class Question:
    """A reading with everything that bears on what it proves.

    Attributes:
        expectation: what it should read; None where nobody knows.
        reading: in SI, or the overload; None where the probes had no contact, or no reply came.
        function: what the meter measured; None where it was not said.
        unit: of the reading, where no function says it.
        kind: of the part; a resistance with a tolerance counts as a resistor's where it was not said.
        in_circuit: whether both legs are on the board.
        mirror: what the same part on the other side reads.
        mirror_alike: whether it was read with the same meter, the leads the same way round, equally lifted.
        node_to_node: whether several parts lie in the path.
        meter_error, resolution: how far the meter can be off; the value of its last digit in this range.
        rule: by which limits it is judged.
        reversed: what it reads with the leads the other way round.
        dead_board: whether the board was found without charge; None where nobody looked.
        no_path_stated: whether somebody said that no path below 1 kilohm lies across it.
        nulled: whether the leads were nulled within the hour.
        leads: ohms of them that were taken off the reading.
        idle_drops_agree: whether the drops across the emitter resistors in operation agree.
        measure: which measure of its kind was read, by its word; empty: the part's own value.
        others: what the other measures of the same part read, by their words.
        dissipation, frequency: D of a capacitor, and the Hz at which it, its D or its ESR was measured.
        model: in which an LCR meter states its values: `series` or `parallel`; empty: not said.
        rated, applied, minutes: volts a capacitor is made for, volts put on it, and for how long.
        earlier: what a leakage was before, A, and at which minute.
        open_volts: what the meter puts out on diodes with nothing at its leads, V; None where nobody knows.
        replace_beyond: shares beyond which this part is replaced, in place of its kind's.
        settled: whether the reading stood still.
        not_yet: why the figure does not count yet ("behind a lamp"); empty where it does.
    """

    expectation: Expectation | None
    reading: float | Overload | None
    _: KW_ONLY
    function: Function | None = None
    unit: str = ""
    kind: Kind | None = None
    in_circuit: bool = False
    mirror: float | Overload | None = None
    mirror_alike: bool = True
    node_to_node: bool = False
    meter_error: MeterError | None = None
    resolution: float | None = None
    rule: Rule = Rule.BENCH
    reversed: float | Overload | None = None
    dead_board: bool | None = None
    no_path_stated: bool = False
    nulled: bool = False
    leads: float = 0.0
    idle_drops_agree: bool = False
    dissipation: float | None = None
    frequency: float | None = None
    replace_beyond: Tolerance | None = None
    settled: bool = True
    not_yet: str = ""
    measure: str = ""
    others: tuple[tuple[str, float | Overload], ...] = ()
    model: str = ""
    rated: float | None = None
    applied: float | None = None
    minutes: float | None = None
    earlier: tuple[float, float] | None = None
    open_volts: float | None = None

    def read(self, measure: str) -> float | Overload | None:
        """What another measure of the same part read; None where it was not read."""
        return dict(self.others).get(measure)


@dataclass(frozen=True, slots=True)
class Judgement:
    """What a reading proves, and by which rule.

    Attributes:
        verdict: one word.
        reason: one sentence, as a colleague would say it.
        rule: by which limits.
        value: in SI, the mean where both lead directions of a resistance agree; None for an overload.
        low, high: the limits of the expectation; None where there is none.
        unit: code word of all of these.
        uncertainty: expanded, k = 2; None where the meter's error is not known.
        probability: of conformity; None where it cannot be said.
        near_limit: inside, but the limit is nearer than the meter's error.
        notes: more sentences, none of which changes the verdict.
    """

    verdict: Verdict
    reason: str
    rule: Rule
    value: float | None = None
    low: float | None = None
    high: float | None = None
    unit: str = ""
    uncertainty: float | None = None
    probability: float | None = None
    near_limit: bool = False
    notes: tuple[str, ...] = ()
