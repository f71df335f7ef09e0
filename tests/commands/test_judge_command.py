"""`benchlog judge`: a verdict at the terminal, with its rule and with what was assumed."""

import json
from typing import Any

import pytest

from benchlog.__main__ import main


def document(capsys: pytest.CaptureFixture[str], *given: str) -> dict[str, Any]:
    assert main(["judge", *given, "--json"]) == 0
    made: dict[str, Any] = json.loads(capsys.readouterr().out)
    return made


def test_a_verdict_is_one_document(capsys: pytest.CaptureFixture[str]) -> None:
    found = document(capsys, "--expect", "4k7 5%", "--reading", "4.65k", "--meter-error", "0.5%+2@1")
    assert {name: found[name] for name in ("verdict", "low", "high", "value", "rule", "unit")} == {
        "verdict": "within",
        "low": 4465.0,
        "high": 4935.0,
        "value": 4650.0,
        "rule": "bench",
        "unit": "ohm",
    }
    assert found["reason"] == "4.65 kΩ is inside 4.465 to 4.935 kΩ."
    assert found["uncertainty"] == pytest.approx(2 * 25.25 / 3**0.5)
    assert 0.999 < found["probability"] <= 1.0


def test_what_is_unknown_is_null(capsys: pytest.CaptureFixture[str]) -> None:
    found = document(capsys, "--expect", "> 1 M", "--reading", "OL")
    assert (found["verdict"], found["low"], found["high"]) == ("within", 1e6, None)
    assert (found["value"], found["uncertainty"], found["probability"]) == (None, None, None)


def test_what_was_assumed_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    assert document(capsys, "--expect", "4k7 5%", "--reading", "4.65")["assumed"] == ["4.65 taken as 4.65 kΩ"]
    assert main(["judge", "--expect", "4k7 5%", "--reading", "4.65"]) == 0
    assert capsys.readouterr().out.splitlines() == [
        "within (bench rule)",
        "4.65 kΩ is inside 4.465 to 4.935 kΩ; the meter's error is not known.",
        "4.65 taken as 4.65 kΩ.",
    ]


def test_the_other_side_and_the_board_count(capsys: pytest.CaptureFixture[str]) -> None:
    given = ("--expect", "22k 5%", "--reading", "9.84k", "--in-circuit")
    assert document(capsys, *given)["verdict"] == "unproven"
    found = document(capsys, *given, "--mirror", "9.81k")
    assert found["verdict"] == "as other side"
    assert found["notes"] == ["Both may be bad alike."]


def test_hand_over_is_stricter(capsys: pytest.CaptureFixture[str]) -> None:
    given = ("--expect", "35 V 5%", "--reading", "36.6", "--meter-error", "0.433 V")
    assert document(capsys, *given)["verdict"] == "within"
    found = document(capsys, *given, "--rule", "handover")
    assert (found["verdict"], found["rule"]) == ("undecided", "handover")
    assert main(["judge", *given, "--rule", "handover"]) == 0
    assert capsys.readouterr().out.splitlines() == [
        "undecided (handover rule)",
        "It is inside 33.25 to 36.75 V, but nearer to the limit than the uncertainty of 0.5 V (k = 2).",
        "Uncertainty 0.5 V (k = 2), probability of conformity 72.57 %.",
    ]


@pytest.mark.parametrize(("reading", "said"), [("35", "above 99.99 %"), ("38", "below 0.01 %")])
def test_a_probability_is_never_rounded_to_certainty(
    reading: str, said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["judge", "--expect", "35 V 5%", "--reading", reading, "--meter-error", "1 mV"]) == 0
    assert f"probability of conformity {said}." in capsys.readouterr().out


@pytest.mark.parametrize(
    ("given", "verdict"),
    [
        (("--expect", "-38 V 10%", "--reading", "-38.9V"), "within"),
        (("--expect", "0.33 5%", "--kind", "emitter_resistor", "--reading", "0.341"), "undecided"),
        (
            ("--expect", "0.33 5%", "--kind", "resistor", "--reading", "0.341", "--function", "ohms_4w"),
            "within",
        ),
        (
            (
                "--expect",
                "0.33 5%",
                "--kind",
                "resistor",
                "--reading",
                "0.341",
                "--nulled",
                "--resolution",
                "1m",
            ),
            "within",
        ),
        (("--expect", "4k7 5%", "--reading", "4.65 V"), "wrong function"),
        (("--expect", "4k7 5%", "--reading", "4.65 V", "--function", "ohms"), "wrong function"),
        (("--expect", "4k7 5%", "--reading", "4.65", "--function", "volts_dc"), "wrong function"),
        (("--expect", "4k7 5%", "--reading", "OL", "--in-circuit", "--dead-board", "no"), "unproven"),
        (
            (
                "--expect",
                "4k7 5%",
                "--reading",
                "6k",
                "--in-circuit",
                "--dead-board",
                "yes",
                "--reversed",
                "6k",
            ),
            "high",
        ),
        (
            (
                "--expect",
                "0.55..0.7 V",
                "--kind",
                "diode",
                "--reading",
                "0.1",
                "--in-circuit",
                "--no-path-below-1k",
            ),
            "low",
        ),
        (
            ("--expect", "100n 10%", "--reading", "100n", "--dissipation", "0.8", "--frequency", "1000"),
            "undecided",
        ),
    ],
)
def test_each_option_bears_on_the_verdict(
    given: tuple[str, ...], verdict: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert document(capsys, *given)["verdict"] == verdict


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        (("--expect", "4k7", "--reading", "4.65k"), "does not say how far it may be off"),
        (("--expect", "4k7 5%", "--reading", "abc"), '"abc": is not a value'),
        (("--expect", "4k7 5%", "--reading", "120"), "write 120 Ω or 120 kΩ."),
        (("--expect", "4k7 5%", "--reading", "4.65k", "--meter-error", "0.5%+2"), "counts digits"),
        (("--expect", "4k7 5%", "--reading", "4.65k", "--meter-error", ""), "is not a meter's error"),
        (
            ("--expect", "100n 10%", "--reading", "100n", "--dissipation", "0.1"),
            "means nothing without a frequency",
        ),
        (("--reading", "4.65k"), "--expect"),
    ],
)
def test_bad_input_is_one_plain_sentence(
    given: tuple[str, ...], sentence: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["judge", *given]) == 2
    said = capsys.readouterr()
    assert sentence in said.err
    assert said.err.count("\n") == 1
    assert "Traceback" not in said.err
    assert not said.out


def test_what_is_usual_for_a_measure_of_a_kind_needs_no_expectation(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """The limits' sources stand in tests/outside; here a plain comparison of 0.61 V would say within."""
    given = ("--kind", "transistor", "--measure", "be", "--reading", "0.61")
    assert document(capsys, *given)["verdict"] == "within"
    found = document(capsys, *given, "--beside", "ce=0.001")
    assert (found["verdict"], found["high"]) == ("undecided", 0.8)
    assert found["reason"].startswith("C-E reads as a short")


def test_losses_and_leakage_are_judged_by_size_voltage_frequency_and_minute(
    capsys: pytest.CaptureFixture[str],
) -> None:
    part = ("--kind", "electrolytic", "--value", "4700u 20% 63V")
    found = document(capsys, *part, "--measure", "d", "--reading", ".12", "--frequency", "120")
    assert (found["verdict"], found["high"]) == ("within", pytest.approx(0.164))
    assert document(capsys, *part, "--measure", "esr", "--reading", ".02", "--frequency", "500")[
        "verdict"
    ] == ("undecided")
    leak = (*part, "--measure", "leakage", "--reading", "5m", "--minutes", "2")
    assert document(capsys, *leak)["verdict"] == "not yet"
    assert document(capsys, *leak[:-1], "6", "--earlier", "5.1m/5")["verdict"] == "high"
    little = (*part, "--measure", "leakage", "--reading", "0.5m", "--minutes", "2", "--applied", "20")
    assert document(capsys, *little)["verdict"] == "unproven"


def test_a_parallel_figure_is_turned_into_the_series_one(capsys: pytest.CaptureFixture[str]) -> None:
    part = ("--kind", "capacitor", "--expect", "10u 10%", "--reading", "8u")
    given = (*part, "--dissipation", "0.5", "--frequency", "120")
    assert document(capsys, *given, "--model", "series")["verdict"] == "low"
    assert document(capsys, *given, "--model", "parallel")["verdict"] == "within"


@pytest.mark.parametrize(
    ("given", "says"),
    [
        (("--reading", "4.65k"), "say what it should read, or what kind of part it is"),
        (("--reading", "0.6", "--measure", "be"), "say which with --kind"),
        (("--reading", "0.6", "--kind", "diode", "--measure", "be"), "is no measurement of a diode"),
        (("--reading", "0.6", "--kind", "transistor", "--measure", "be", "--beside", "ce"), "as in ce=OL"),
        (("--reading", "5m", "--kind", "electrolytic", "--measure", "leakage", "--earlier", "9m"), "9m/1"),
        (("--reading", ".1", "--kind", "electrolytic", "--measure", "d"), "at how many hertz"),
    ],
)
def test_what_is_missing_is_asked_for_in_one_sentence(
    capsys: pytest.CaptureFixture[str], given: tuple[str, ...], says: str
) -> None:
    assert main(["judge", *given]) == 2
    assert says in capsys.readouterr().err
