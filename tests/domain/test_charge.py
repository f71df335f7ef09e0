"""What is left on a board: 1 V for the hands, 10 mV for ohms, and how far ohms can be off by it."""

import pytest

from benchlog.domain.charge import Charge, volts
from benchlog.errors import BadInput


@pytest.mark.parametrize(
    ("reservoirs", "nodes", "dead"),
    [
        (0.2, 0.002, True),
        (-0.2, -0.002, True),
        (1.0, 0.002, False),
        (-44.0, None, False),
        (0.2, 0.010, False),
        (None, 0.05, False),
        (0.2, None, None),
        (None, 0.002, None),
        (None, None, None),
    ],
)
def test_both_readings_together_make_a_board_without_charge(
    reservoirs: float | None, nodes: float | None, dead: bool | None
) -> None:
    assert Charge(reservoirs, nodes).dead is dead


def test_fifty_millivolts_are_fifty_kilohms_at_a_microamp() -> None:
    left = Charge(0.2, 0.05)
    assert left.error == pytest.approx(50e3)
    assert left.said == (
        "0.2 V across the reservoirs and 50 mV at the nodes. Ohms can be off by 50 kΩ at a test current of 1 µA."
    )
    assert "Discharge them through a resistor" in Charge(44.0, None).said
    assert Charge().said == ""


def test_volts_are_typed_as_everywhere() -> None:
    assert volts("12 mV", "nodes") == pytest.approx(0.012)
    assert volts(" ", "nodes") is None
    with pytest.raises(BadInput, match=r"nodes: .* is in Ω"):
        volts("4k7 ohm", "nodes")
