"""Commands with placeholders: filled in literally, checked before they are ever sent."""

import pytest

from benchlog.instruments.template import LONGEST, faults, fill, number


def test_placeholders_are_filled_in() -> None:
    assert fill("VOLT {value},(@{output})", {"value": "15", "output": "1"}) == "VOLT 15,(@1)"
    assert fill("READ?", {"value": "15"}) == "READ?"


@pytest.mark.parametrize(("value", "text"), [(15.0, "15"), (0.25, "0.25"), (1e-5, "1e-05"), (-38.9, "-38.9")])
def test_numbers_are_plain(value: float, text: str) -> None:
    assert number(value) == text


@pytest.mark.parametrize(
    ("command", "allowed", "word"),
    [
        ("VOLT {volts}", ("value",), "known here: {value}"),
        ("VOLT {value!r}", ("value",), "known here: {value}"),
        ("VOLT {value", ("value",), "known here: {value}"),
        ("READ? {output}", (), "no placeholder is filled in here"),
        ("A\nB", (), "leave line ends to link.send_end"),
        ("µV?", (), "leave line ends to link.send_end"),
        ("x" * (LONGEST + 1), (), "send one command"),
    ],
)
def test_a_command_that_cannot_be_sent_is_a_fault(command: str, allowed: tuple[str, ...], word: str) -> None:
    found = list(faults("set_volts", command, allowed))
    assert [key_path for key_path, _, _ in found] == ["set_volts"]
    assert found[0][2] == word


def test_a_sound_command_has_none() -> None:
    assert not list(faults("on", "OUTP ON,(@{outputs})", ("outputs",)))
