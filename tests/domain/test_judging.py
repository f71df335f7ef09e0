"""Every question gets one word and one sentence, and the sentence names no safety."""

from typing import Any

from helpers.asking import OL
from hypothesis import given
from hypothesis import strategies as st

from benchlog.domain.accuracy import MeterError
from benchlog.domain.expectation import Expectation
from benchlog.domain.judging import judge, turn_leads
from benchlog.domain.kind import Kind
from benchlog.domain.quantity import Overload
from benchlog.domain.reading import Function
from benchlog.domain.standing import Rule
from benchlog.domain.verdict import Question, Verdict


def test_every_verdict_can_be_reached() -> None:
    assert {verdict.value for verdict in Verdict} == {
        "within", "as other side", "drifted", "high", "low", "open", "short", "unproven", "undecided",
        "unstable", "no contact", "wrong function", "not yet",
    }  # fmt: skip


EXPECTED = [
    "4k7 5%",
    "0.33 Ω 5%",
    "12..15 mV",
    "-38 V 10%",
    "0 V +/-20 mV",
    "100u 20%",
    "OL",
    "> 1 M",
    "38 10%",
    "< 1 Ω",
]
READINGS = st.one_of(st.floats(-1e9, 1e9), st.floats(-0.1, 0.1), st.sampled_from([OL, Overload.NEGATIVE]))
MAYBE = st.one_of(st.none(), READINGS)


@given(
    st.sampled_from([None, *EXPECTED]),
    MAYBE,
    st.fixed_dictionaries(
        {
            "function": st.sampled_from([None, *Function]),
            "kind": st.sampled_from([None, *Kind]),
            "in_circuit": st.booleans(),
            "mirror": MAYBE,
            "reversed": MAYBE,
            "rule": st.sampled_from(Rule),
            "dead_board": st.sampled_from([None, True, False]),
            "no_path_stated": st.booleans(),
            "nulled": st.booleans(),
            "resolution": st.sampled_from([None, 0.001]),
        }
    ),
    st.sampled_from([None, "0.5%", "0.5%+2@0.1"]),
)
def test_every_question_is_answered_in_one_sentence_that_names_its_rule(
    expect: str | None, reading: float | Overload | None, more: dict[str, Any], error: str | None
) -> None:
    expectation = Expectation.parse(expect) if expect else None
    meter = MeterError.parse(error) if error else None
    found = judge(Question(expectation, reading, meter_error=meter, **more))
    assert found.rule is more["rule"]
    assert found.reason.endswith(".")
    assert found.reason[0].isupper() or not found.reason[0].isalpha()
    assert found.reason.count(". ") == 0
    assert "safe" not in found.reason
    if reading is None:
        assert found.verdict in (Verdict.NO_CONTACT, Verdict.WRONG_FUNCTION)
    if found.verdict is Verdict.WITHIN and not isinstance(reading, Overload):
        assert expectation is not None
        assert expectation.low <= (found.value or 0.0) <= expectation.high
    if found.probability is not None:
        assert 0.0 <= found.probability <= 1.0


@given(st.floats(0, 10_000), st.floats(0, 2_000))
def test_what_passes_at_hand_over_passes_at_the_bench(value: float, error: float) -> None:
    meter = MeterError(fixed=error)
    expectation = Expectation.parse("4k7 5%")
    strict = judge(Question(expectation, value, meter_error=meter, rule=Rule.HANDOVER)).verdict
    if strict is Verdict.WITHIN:
        assert judge(Question(expectation, value, meter_error=meter)).verdict is Verdict.WITHIN


def turned(reading: float | Overload | None, **more: Any) -> bool:
    """Whether the leads are to be turned on a resistor of 4.7 kilohm."""
    given: dict[str, Any] = {"function": Function.OHMS, "kind": Kind.RESISTOR, "in_circuit": True}
    question = Question(Expectation.parse("4k7 5%"), reading, **(given | more))
    return turn_leads(question, judge(question))


def test_the_leads_are_turned_where_a_resistor_reads_high_on_the_board_and_only_there() -> None:
    assert turned(5600.0)
    assert turned(5600.0, dead_board=True)
    assert turned(5600.0, kind=Kind.EMITTER_RESISTOR)
    assert not turned(5600.0, reversed=5500.0)  # They were turned already.
    assert not turned(4700.0)
    assert not turned(3900.0)
    assert not turned(5600.0, in_circuit=False)
    assert not turned(5600.0, kind=Kind.CONTACT)
    assert not turned(OL)
    assert not turned(None)
