"""On the board, where comparing two numbers would be wrong: the other side, leads, junctions, capacitors."""

from typing import Any

import pytest
from helpers.asking import OL, ask, word

from benchlog.domain.kind import Kind
from benchlog.domain.reading import Function
from benchlog.domain.verdict import Verdict
from benchlog.errors import BadInput


def test_low_on_the_board_is_unproven_where_off_the_board_it_is_low() -> None:
    assert word("22k 5%", 9840.0) is Verdict.LOW
    found = ask("22k 5%", 9840.0, in_circuit=True)
    assert found.verdict is Verdict.UNPROVEN
    assert found.reason == "Reads low, as if something of about 18 kΩ lay across it: lift a leg."


def test_a_capacitor_is_not_low_for_what_lies_across_it() -> None:
    found = ask("100u 20%", 38e-6, in_circuit=True, kind=Kind.ELECTROLYTIC)
    assert found.verdict is Verdict.UNPROVEN
    assert "cannot do" in found.reason
    assert "dried out" in found.reason


def test_the_other_side_clears_what_would_be_unproven() -> None:
    found = ask("22k 5%", 9840.0, in_circuit=True, mirror=9810.0)
    assert found.verdict is Verdict.AS_OTHER_SIDE
    assert found.notes == ("Both may be bad alike.",)
    differs = ask("22k 5%", 9840.0, in_circuit=True, mirror=12e3)
    assert differs.verdict is Verdict.UNPROVEN
    assert "the other side reads 12 kΩ" in differs.reason
    assert word("22k 5%", 9840.0, in_circuit=True, mirror=9810.0, mirror_alike=False) is Verdict.UNPROVEN
    assert word("22k 5%", 9840.0, in_circuit=True, mirror=9100.0) is Verdict.UNPROVEN
    assert word("22k 5%", 9840.0, in_circuit=True, mirror=9100.0, node_to_node=True) is Verdict.AS_OTHER_SIDE


def test_the_other_side_clears_no_electrolytic_of_which_nobody_knows_more() -> None:
    # Rule 26: both sides age alike. A film capacitor does not.
    for measure, function in (("", Function.CAPACITANCE), ("esr", Function.ESR)):
        given: dict[str, Any] = {"measure": measure, "function": function, "frequency": 1e3}
        assert word(None, 80e-6, kind=Kind.ELECTROLYTIC, mirror=80e-6, **given) is Verdict.UNDECIDED
        assert word(None, 80e-6, kind=Kind.FILM, mirror=80e-6, **given) is Verdict.AS_OTHER_SIDE


def test_the_other_side_never_clears_high_or_anything_off_the_board() -> None:
    both: dict[str, Any] = {"in_circuit": True, "dead_board": True, "reversed": 6000.0}
    assert word("4k7 5%", 6000.0, mirror=6000.0, **both) is Verdict.HIGH
    assert word("4k7 5%", 6000.0, mirror=6000.0, in_circuit=True) is Verdict.UNPROVEN
    assert word("4k7 5%", 6000.0, mirror=6000.0) is Verdict.HIGH
    assert word("4k7 5%", 3000.0, mirror=3000.0) is Verdict.LOW


def test_high_on_the_board_is_bad_only_on_a_dead_board_with_both_directions_agreeing() -> None:
    assert word("4k7 5%", 6000.0, in_circuit=True) is Verdict.UNPROVEN
    assert word("4k7 5%", 6000.0, in_circuit=True, dead_board=True) is Verdict.UNPROVEN
    assert word("4k7 5%", 6000.0, in_circuit=True, reversed=6000.0) is Verdict.UNPROVEN
    assert word("4k7 5%", 6000.0, in_circuit=True, dead_board=True, reversed=5000.0) is Verdict.UNPROVEN
    found = ask("4k7 5%", 6000.0, in_circuit=True, dead_board=True, reversed=5900.0)
    assert (found.verdict, found.value) == (Verdict.HIGH, 5950.0)
    assert found.notes == ("Mean of both lead directions: 5.95 kΩ.",)
    assert word("4k7 5%", 5000.0, in_circuit=True, dead_board=True, reversed=5010.0) is Verdict.DRIFTED


def test_on_a_live_board_ohms_prove_nothing() -> None:
    assert word("4k7 5%", 4700.0, in_circuit=True, dead_board=False) is Verdict.UNPROVEN
    assert word("38 V 10%", 38.0, in_circuit=True, dead_board=False) is Verdict.WITHIN


def test_right_on_the_board_is_within_unless_the_directions_differ() -> None:
    assert word("4k7 5%", 4700.0, in_circuit=True) is Verdict.WITHIN
    assert word("4k7 5%", 4700.0, in_circuit=True, reversed=4650.0) is Verdict.WITHIN
    assert word("4k7 5%", 4700.0, in_circuit=True, reversed=3000.0) is Verdict.UNPROVEN


def test_lifting_does_not_help_where_the_meter_cannot_tell() -> None:
    assert word("4k7 5%", 4460.0, "10 ohm", in_circuit=True, mirror=4460.0) is Verdict.UNDECIDED


def test_below_two_ohms_two_wires_cannot_tell() -> None:
    assert word("0.33 5%", 0.33, kind=Kind.RESISTOR, function=Function.OHMS) is Verdict.UNDECIDED
    assert word("0.33 5%", 0.52, kind=Kind.RESISTOR) is Verdict.UNDECIDED
    assert word("0.33 5%", 47.0, kind=Kind.RESISTOR) is Verdict.UNDECIDED
    assert word("0.33 5%", 0.33, kind=Kind.RESISTOR, function=Function.OHMS_4W) is Verdict.WITHIN
    assert word("0.33 5%", 0.52, kind=Kind.RESISTOR, function=Function.OHMS_4W) is Verdict.HIGH
    assert word("0.8 10%", 0.8, kind=Kind.WINDING) is Verdict.UNDECIDED
    assert word("2R2 5%", 2.2) is Verdict.WITHIN


def test_nulled_leads_count_only_with_a_fine_last_digit() -> None:
    nulled: dict[str, Any] = {"kind": Kind.RESISTOR, "nulled": True}
    assert word("0.33 5%", 0.33, resolution=0.001, **nulled) is Verdict.WITHIN
    assert word("0.33 5%", 0.33, resolution=0.01, **nulled) is Verdict.UNDECIDED
    assert word("0.33 5%", 0.33, **nulled) is Verdict.UNDECIDED


def test_leads_only_ever_add() -> None:
    assert word("< 1 Ω", 0.4, kind=Kind.FUSE) is Verdict.WITHIN
    assert word("< 0.05 Ω", 0.25, kind=Kind.CONTACT) is Verdict.UNDECIDED


def test_an_emitter_resistor_on_the_board_is_unproven() -> None:
    board: dict[str, Any] = {"kind": Kind.EMITTER_RESISTOR, "in_circuit": True, "function": Function.OHMS_4W}
    assert word("0.33 5%", 0.33, **board) is Verdict.UNPROVEN
    assert word("0.33 5%", 0.33, mirror=0.33, **board) is Verdict.UNPROVEN
    assert word("0.33 5%", 0.33, idle_drops_agree=True, **board) is Verdict.WITHIN
    assert word("0.33 5%", 1.2, **board) is Verdict.UNPROVEN
    assert word("0.33 5%", 1.2, dead_board=True, reversed=1.2, **board) is Verdict.HIGH
    two_wires: dict[str, Any] = {**board, "function": Function.OHMS}
    assert word("0.33 5%", 1.2, dead_board=True, reversed=1.2, **two_wires) is Verdict.UNPROVEN
    assert word("0.33 5%", 0.33, kind=Kind.EMITTER_RESISTOR, function=Function.OHMS_4W) is Verdict.WITHIN


def test_a_low_junction_on_the_board_is_unproven_unless_the_other_side_differs() -> None:
    diode: dict[str, Any] = {"kind": Kind.DIODE, "function": Function.DIODE}
    board: dict[str, Any] = {**diode, "in_circuit": True}
    assert word("0.55..0.7 V", 0.179, **board) is Verdict.UNPROVEN
    assert word("0.55..0.7 V", 0.179, mirror=0.588, **board) is Verdict.LOW
    assert word("0.55..0.7 V", 0.179, mirror=0.180, **board) is Verdict.AS_OTHER_SIDE
    assert word("0.55..0.7 V", 0.0, **board) is Verdict.UNPROVEN
    assert word("0.55..0.7 V", 0.0, mirror=0.588, **board) is Verdict.SHORT
    assert word("0.55..0.7 V", 0.0, no_path_stated=True, **board) is Verdict.SHORT
    assert word("0.55..0.7 V", 0.0, mirror=0.0, no_path_stated=True, **board) is Verdict.SHORT
    assert word("0.55..0.7 V", 0.761, **board) is Verdict.HIGH
    assert word("0.55..0.7 V", 0.02, **diode) is Verdict.SHORT
    assert word("OL", 0.4, mirror=OL, **board) is Verdict.LOW
    assert word("OL", 0.0, **diode) is Verdict.SHORT
    assert word("0.55..0.7 V", 0.4, kind=Kind.ZENER, in_circuit=True) is Verdict.UNPROVEN


def test_a_junction_may_read_differently_each_way_round_on_ohms() -> None:
    assert word("> 1 k", 5000.0, kind=Kind.DIODE, in_circuit=True, reversed=OL) is Verdict.WITHIN
    assert word("1k..2k", OL, kind=Kind.DIODE, in_circuit=True, reversed=1500.0, unit="ohm") is Verdict.OPEN
    assert word("1k..2k", 5000.0, kind=Kind.DIODE, in_circuit=True) is Verdict.HIGH


def test_a_capacitor_on_the_board_is_unproven_either_way() -> None:
    film: dict[str, Any] = {"kind": Kind.FILM, "in_circuit": True}
    assert word("100n 10%", 60e-9, **film) is Verdict.UNPROVEN
    assert word("100n 10%", 60e-9, mirror=61e-9, **film) is Verdict.AS_OTHER_SIDE
    assert word("100n 10%", 60e-9, mirror=100e-9, **film) is Verdict.LOW
    assert word("100n 10%", 150e-9, mirror=150e-9, **film) is Verdict.UNPROVEN
    assert word("100n 10%", 60e-9, kind=Kind.FILM) is Verdict.LOW
    assert word("> 100k", 0.5, kind=Kind.FILM, unit="ohm") is Verdict.SHORT
    assert word("> 100k", 5.0, kind=Kind.FILM, unit="ohm", in_circuit=True) is Verdict.UNPROVEN


def test_both_electrolytics_age_alike() -> None:
    board: dict[str, Any] = {"kind": Kind.ELECTROLYTIC, "in_circuit": True}
    assert (
        ask("100u 20%", 60e-6, mirror=61e-6, **board).reason
        == "Reads low, and both sides age alike: lift a leg."
    )
    assert word("100u 20%", 60e-6, mirror=61e-6, **board) is Verdict.UNPROVEN
    assert word("100u 20%", 60e-6, mirror=95e-6, **board) is Verdict.LOW
    assert word("100u 20%", 60e-6, no_path_stated=True, **board) is Verdict.LOW
    assert word("100u 20%", 60e-6, mirror=61e-6, kind=Kind.ELECTROLYTIC) is Verdict.LOW


def test_an_electrolytic_that_holds_too_much_may_leak() -> None:
    assert word("100u +50/-20%", 140e-6, kind=Kind.ELECTROLYTIC) is Verdict.UNDECIDED
    assert "measure leakage" in ask("100u 20%", 140e-6, kind=Kind.ELECTROLYTIC).reason
    assert word("100u 20%", 125e-6, kind=Kind.ELECTROLYTIC) is Verdict.DRIFTED
    assert word("100u +50/-20%", 130e-6, kind=Kind.ELECTROLYTIC) is Verdict.WITHIN
    assert word("80..150 uF", 140e-6, kind=Kind.ELECTROLYTIC) is Verdict.WITHIN
    assert word("100n 20%", 140e-9, kind=Kind.FILM) is Verdict.HIGH
    assert word("12 V 10%", 20.0, kind=Kind.ELECTROLYTIC) is Verdict.HIGH


def test_losses_hide_the_capacitance() -> None:
    lossy: dict[str, Any] = {"kind": Kind.FILM, "dissipation": 0.8, "frequency": 1000.0}
    assert word("100n 10%", 100e-9, in_circuit=True, **lossy) is Verdict.UNPROVEN
    assert word("100n 10%", 100e-9, in_circuit=True, mirror=100e-9, **lossy) is Verdict.UNPROVEN
    assert word("100n 10%", 100e-9, in_circuit=True, mirror=150e-9, **lossy) is Verdict.UNDECIDED
    assert word("100n 10%", 100e-9, in_circuit=True, no_path_stated=True, **lossy) is Verdict.UNDECIDED
    assert word("100n 10%", 100e-9, **lossy) is Verdict.UNDECIDED
    assert word("100n 10%", 100e-9, kind=Kind.FILM, dissipation=0.02, frequency=1000.0) is Verdict.WITHIN


def test_losses_without_a_frequency_are_asked() -> None:
    with pytest.raises(BadInput, match="D: means nothing without a frequency; say at how many hertz"):
        ask("100n 10%", 100e-9, dissipation=0.02)
