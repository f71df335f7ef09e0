"""Parts of which more than one thing is measured: where a value against its limits would say something wrong.

Where nobody published the number a test holds, it is common practice, no source, and the ruling says so.
"""

from typing import Any

import pytest
from helpers.asking import OL, ask, word

from benchlog.domain.expectation import Expectation, Origin
from benchlog.domain.kind import Kind
from benchlog.domain.measures import measure_of
from benchlog.domain.reading import Function
from benchlog.domain.verdict import Judgement, Verdict

DIODE = Function.DIODE


def usual(kind: Kind, measure: str = "") -> Expectation:
    """What any good part of a kind reads."""
    found = measure_of(kind, measure)
    return found.expected(kind, found.limits, Origin.PRACTICE)


def read(kind: Kind, measure: str, value: Any, **more: Any) -> Judgement:
    """Give the judgement of a measure of a part nobody has said anything of."""
    function = measure_of(kind, measure).function
    return ask(usual(kind, measure), value, kind=kind, measure=measure, function=function, **more)


def test_a_short_from_collector_to_emitter_is_one_and_the_rest_counts_no_longer() -> None:
    # Common practice, no source: C-E first. B-E alone would be inside 0.5..0.8 V, a naive within.
    assert read(Kind.TRANSISTOR, "ce", OL).verdict is Verdict.WITHIN
    assert read(Kind.TRANSISTOR, "ce", 0.001).verdict is Verdict.SHORT
    found = read(Kind.TRANSISTOR, "be", 0.61, others=(("ce", 0.001),))
    assert found.verdict is Verdict.UNDECIDED
    assert found.reason == "C-E reads as a short: until that is cleared, nothing else it reads counts."
    assert read(Kind.TRANSISTOR, "be", 0.61, others=(("ce", OL),)).verdict is Verdict.WITHIN


def test_on_the_board_a_short_from_collector_to_emitter_wants_a_lifted_leg() -> None:
    # Rule 30: short is unproven unless the mirror differs or no path below 1 k was stated.
    assert read(Kind.TRANSISTOR, "ce", 0.001, in_circuit=True).verdict is Verdict.UNPROVEN
    assert read(Kind.TRANSISTOR, "ce", 0.001, in_circuit=True, mirror=OL).verdict is Verdict.SHORT
    assert read(Kind.TRANSISTOR, "ce", 0.001, in_circuit=True, no_path_stated=True).verdict is Verdict.SHORT


def test_an_emitter_junction_below_the_collectors_may_be_swapped_leads() -> None:
    # Common practice, no source: B-E reads 10 to 30 mV above B-C. Both are inside their limits.
    assert read(Kind.TRANSISTOR, "be", 0.640, others=(("bc", 0.622),)).verdict is Verdict.WITHIN
    found = read(Kind.TRANSISTOR, "be", 0.622, others=(("bc", 0.640),))
    assert found.verdict is Verdict.UNDECIDED
    assert "emitter and collector are swapped" in found.reason
    assert read(Kind.TRANSISTOR, "bc", 0.640, others=(("be", 0.622),)).verdict is Verdict.UNDECIDED
    # A millivolt is no more than two good readings may lie apart, and on the board the rest of it reads along.
    assert read(Kind.TRANSISTOR, "be", 0.622, others=(("bc", 0.623),)).verdict is Verdict.WITHIN
    assert (
        read(Kind.TRANSISTOR, "be", 0.622, others=(("bc", 0.640),), in_circuit=True).verdict is Verdict.WITHIN
    )


@pytest.mark.parametrize(
    ("kind", "forward", "reverse", "says"),
    [
        (Kind.DIODE, "", "reverse", "put in the wrong way round"),
        (Kind.TRANSISTOR, "be", "eb", "a PNP for an NPN"),
        (Kind.BRIDGE, "a+", "+a", "put in the wrong way round"),
    ],
)
def test_what_conducts_the_other_way_round_is_not_open(
    kind: Kind, forward: str, reverse: str, says: str
) -> None:
    # Common practice, no source. OL against 0.4..0.9 V alone would be called open.
    assert read(kind, forward, OL).verdict is Verdict.OPEN
    for found in (
        read(kind, forward, OL, others=((reverse, 0.58),)),
        read(kind, forward, OL, reversed=0.58),
        read(kind, reverse, 0.58, others=((forward, OL),)),
    ):
        assert found.verdict is Verdict.UNDECIDED
        assert says in found.reason
    assert read(kind, reverse, OL, others=((forward, 0.58),)).verdict is Verdict.WITHIN
    both_ways = read(kind, reverse, 0.58, others=((forward, 0.58),))
    assert both_ways.verdict is Verdict.LOW
    assert both_ways.reason == "It conducts where it should not: 0.58 V in the place of OL."
    assert read(kind, reverse, 0.01, others=((forward, 0.01),)).verdict is Verdict.SHORT


def test_a_bias_package_that_reads_ol_is_not_proven_open() -> None:
    # Common practice, no source: it reads 1.2 to 1.8 V, and many meters end at 2 V with less current than it wants.
    found = read(Kind.BIAS_PACKAGE, "", OL)
    assert found.verdict is Verdict.UNDECIDED
    assert found.reason == "OL proves nothing here: many meters end at 2 V on diodes."
    assert read(Kind.BIAS_PACKAGE, "", OL, open_volts=1.5).verdict is Verdict.UNDECIDED
    # A meter that puts out more than it can want has said something.
    assert read(Kind.BIAS_PACKAGE, "", OL, open_volts=6.0).verdict is Verdict.OPEN
    assert read(Kind.BIAS_PACKAGE, "", 1.43).verdict is Verdict.WITHIN
    # One of three junctions shorted still conducts, and is no diode of another material.
    assert read(Kind.BIAS_PACKAGE, "", 0.61).verdict is Verdict.LOW


def test_a_zener_in_the_reverse_is_beyond_the_meter_and_forward_it_is_a_diode() -> None:
    # Common practice, no source: a 6.2 V zener cannot be told from an open one by a meter's 2 to 3 V.
    assert word("6.2 V 5%", OL, kind=Kind.ZENER, function=DIODE) is Verdict.UNDECIDED
    found = read(Kind.ZENER, "", 0.71)
    assert found.verdict is Verdict.WITHIN
    assert found.notes == ("Forward only: it shows a diode, not its voltage.",)
    assert read(Kind.ZENER, "", OL).verdict is Verdict.OPEN


def test_low_for_silicon_may_be_right_for_another_material() -> None:
    # Common practice, no source: germanium 0.2 to 0.35 V, Schottky 0.15 to 0.3 V.
    found = read(Kind.DIODE, "", 0.27)
    assert found.verdict is Verdict.UNDECIDED
    assert "germanium or Schottky" in found.reason
    assert read(Kind.DIODE, "", 0.10).verdict is Verdict.LOW
    # Who says what it is has spoken: then it is low.
    assert word("0.5..0.7 V", 0.27, kind=Kind.DIODE, function=DIODE) is Verdict.LOW
    assert read(Kind.DIODE, "", 0.27, in_circuit=True).verdict is Verdict.UNPROVEN


def test_inside_what_any_junction_reads_is_not_healthy_where_the_other_side_reads_otherwise() -> None:
    # A published repair: the healthy side read 0.588 V at both, the sick one 0.761 V and 0.179 V.
    assert read(Kind.DIODE, "", 0.588, in_circuit=True, mirror=0.588).verdict is Verdict.WITHIN
    found = read(Kind.DIODE, "", 0.761, in_circuit=True, mirror=0.588)
    assert found.verdict is Verdict.UNPROVEN
    assert (
        found.reason == "A good junction may read so, but the other side reads 0.588 V: lift a leg on both."
    )
    assert read(Kind.DIODE, "", 0.761, mirror=0.588).verdict is Verdict.UNDECIDED
    assert read(Kind.DIODE, "", 0.179, in_circuit=True, mirror=0.588).verdict is not Verdict.WITHIN


def test_an_open_diode_of_a_bridge_hides_behind_the_winding() -> None:
    # Common practice, no source: the winding joins both AC pins with less than an ohm.
    found = read(Kind.BRIDGE, "a+", 0.52, in_circuit=True)
    assert found.verdict is Verdict.UNPROVEN
    assert "the winding joins" in found.reason
    assert read(Kind.BRIDGE, "a+", 0.52, in_circuit=True, no_path_stated=True).verdict is Verdict.WITHIN
    assert read(Kind.BRIDGE, "a+", 0.52).verdict is Verdict.WITHIN


def test_half_windings_speak_for_each_other() -> None:
    # Common practice, no source: within 5 %. Nobody knows of one alone, whatever it reads.
    half: dict[str, Any] = {"kind": Kind.WINDING, "measure": "half", "function": Function.OHMS}
    assert word(None, 12.0, **half) is Verdict.UNDECIDED
    found = ask(None, 12.0, **half, others=(("other half", 12.5),))
    assert found.verdict is Verdict.WITHIN
    assert found.notes == ("A shorted turn does not show in ohms.",)
    assert word(None, 11.0, **half, others=(("other half", 12.5),)) is Verdict.LOW
    assert word(None, 14.0, **half, others=(("other half", 12.5),)) is Verdict.HIGH


def test_leads_hide_what_lies_between_two_halves_of_less_than_two_ohms() -> None:
    # 0.30 and 0.40 ohm lie 25 % apart; with 0.2 ohm of leads in each 0.50 and 0.60 lie 17 % apart, 1.70 and 1.78 4 %.
    half: dict[str, Any] = {"kind": Kind.WINDING, "measure": "half", "others": (("other half", 1.78),)}
    assert word(None, 1.70, function=Function.OHMS, **half) is Verdict.UNDECIDED
    assert word(None, 1.70, function=Function.OHMS_4W, **half) is Verdict.WITHIN


def test_insulation_that_an_ohmmeter_likes_says_nothing_of_its_test_voltage() -> None:
    # Above 1 megohm from a winding to the chassis is published, below 100 kilohm bad (api.pouncer.ai).
    assert read(Kind.WINDING, "chassis", OL).verdict is Verdict.WITHIN
    found = read(Kind.WINDING, "chassis", 20e6)
    assert found.verdict is Verdict.WITHIN
    assert "A meter's few volts say nothing of its test voltage." in found.notes
    assert read(Kind.WINDING, "chassis", 400e3).verdict is Verdict.UNDECIDED
    bad = read(Kind.WINDING, "chassis", 60e3)
    assert (bad.verdict, "do not put power on it" in bad.reason) == (Verdict.LOW, True)


def test_a_collector_is_open_to_its_heatsink_once_what_links_them_is_off() -> None:
    # 100 kilohm after any common link is off is a service sheet's pass line (manualshive.com/3799503?page=10).
    assert read(Kind.TRANSISTOR, "heatsink", 250e3).verdict is Verdict.WITHIN
    assert read(Kind.TRANSISTOR, "heatsink", 40e3).verdict is Verdict.LOW
    assert read(Kind.TRANSISTOR, "heatsink", 0.3).verdict is Verdict.SHORT
    assert read(Kind.TRANSISTOR, "heatsink", 40e3, in_circuit=True).verdict is Verdict.UNPROVEN


def test_a_wiper_may_stand_anywhere_but_not_in_the_air() -> None:
    # Common practice, no source: an open bias wiper is the one fault of a trimmer that costs output transistors.
    wiper: dict[str, Any] = {"kind": Kind.POTENTIOMETER, "measure": "wiper", "function": Function.OHMS}
    found = ask("0..12 k", 3.3e3, **wiper)
    assert found.verdict is Verdict.WITHIN
    assert found.notes == ("Turn it from end to end: a worn track shows as a jump.",)
    assert ask("0..12 k", OL, **wiper).reason.startswith("The wiper has no contact here")
    jumps = ask("0..12 k", 3.3e3, settled=False, **wiper)
    assert (jumps.verdict, jumps.reason) == (Verdict.UNSTABLE, "It jumps: clean it and read it again.")


def test_a_control_is_made_to_twenty_per_cent() -> None:
    # Common practice, no source: nothing is marked, and 5 % would be a naive measure.
    assert word("10k", 8.4e3, kind=Kind.POTENTIOMETER) is Verdict.WITHIN
    assert word("10k", 7.4e3, kind=Kind.POTENTIOMETER) is Verdict.LOW


@pytest.mark.parametrize(
    ("ohms", "verdict", "says"),
    [
        (0.03, Verdict.WITHIN, "is inside"),
        (0.08, Verdict.DRIFTED, "it can stay"),
        (0.15, Verdict.HIGH, "clean it and read it again"),
        (0.40, Verdict.HIGH, "replace it"),
    ],
)
def test_a_contact_goes_up_before_it_goes(ohms: float, verdict: Verdict, says: str) -> None:
    # Common practice, no source: below 50 milliohm good, above 100 to 200 clean or replace.
    four: dict[str, Any] = {"kind": Kind.CONTACT, "function": Function.OHMS_4W}
    found = ask(usual(Kind.CONTACT), ohms, **four)
    assert found.verdict is verdict
    assert says in found.reason


def test_a_contact_on_two_wires_reads_its_leads() -> None:
    # 30 milliohm of contact and 200 of leads: 0.23 ohm would be a replaced relay.
    assert word(usual(Kind.CONTACT), 0.23, kind=Kind.CONTACT, function=Function.OHMS) is Verdict.UNDECIDED
    assert ask(usual(Kind.CONTACT), OL, kind=Kind.CONTACT, function=Function.OHMS).reason.startswith(
        "It does not close"
    )
    assert word(usual(Kind.CONTACT), 0.23, kind=Kind.CONTACT, settled=False) is Verdict.UNSTABLE


def test_a_fuse_is_whole_or_blown() -> None:
    assert read(Kind.FUSE, "", 0.4).verdict is not Verdict.HIGH
    assert read(Kind.FUSE, "", OL).reason == "The fuse is blown: see how, black means a short."


def test_two_contacts_near_nothing_are_not_held_against_each_other_in_per_cent() -> None:
    # Mirror floor (rule 26): 12 and 18 milliohm lie 50 % apart and are the same.
    assert word(None, 0.012, mirror=0.018, unit="ohm", kind=Kind.CONTACT) is Verdict.AS_OTHER_SIDE
    # A millivolt on volts: 0.3 mV and 1.1 mV of offset.
    assert word(None, 0.0003, mirror=0.0011, unit="V") is Verdict.AS_OTHER_SIDE


def test_what_would_have_to_lie_across_a_resistor_that_reads_low_is_said() -> None:
    # 1 / (1/Rm - 1/Rn): 10k with 12k across it reads 5.4545k (calculated).
    found = ask("10k 5%", 5454.5, in_circuit=True)
    assert found.verdict is Verdict.UNPROVEN
    assert found.reason == "Reads low, as if something of about 12 kΩ lay across it: lift a leg."
    # The junction of a diode is nothing that a resistor lies across.
    assert "as if" not in ask("0.5..0.7 V", 0.3, in_circuit=True, kind=Kind.DIODE, function=DIODE).reason
