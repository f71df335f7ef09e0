"""The account of a run: which end is a good one, and what is said where nothing shows that the unit is off."""

import pytest

from benchlog.commands.account import account, in_words, only_by_hand, status
from benchlog.commands.conduct import Course
from benchlog.instruments import bench as benches
from benchlog.recorder import messages

PULL = "Nothing shows that the unit is off: pull the plug."


def course(off: str, *, told: bool = False) -> Course:
    """A run whose off-switch ended so."""
    cut = messages.CutState(t=0, path="switch", outcome=off, text="", asked_ns=0, at_ns=1)
    return Course(cuts=[cut], off=off, told_off=told)


def found(outcome: str, off: str, *, told: bool = False, by_hand: bool = False) -> dict[str, object]:
    """The account of a run that ended so."""
    return account(course(off, told=told), by_hand=by_hand) | {"outcome": outcome, "reason": "over"}


@pytest.mark.parametrize(
    ("outcome", "off", "told", "by_hand", "expected"),
    [
        ("completed", "verified off", False, False, 0),
        ("completed", "verified off", False, True, 0),
        ("completed", "unknown", True, True, 0),
        ("completed", "unknown", False, True, 3),
        ("completed", "unknown", True, False, 3),
        ("completed", "asked, still live", True, True, 3),
        ("completed", "asked", False, False, 3),
        ("completed", "refused", False, False, 3),
        ("completed", "", False, False, 3),
        ("tripped", "verified off", False, False, 3),
        ("tripped", "unknown", False, True, 3),
        ("ended by the operator", "verified off", False, False, 4),
        ("ended by the operator", "unknown", False, False, 4),
        ("cut when left alone", "verified off", False, False, 4),
    ],
)
def test_only_a_run_that_is_done_and_proven_off_ends_well(
    outcome: str, off: str, told: bool, by_hand: bool, expected: int
) -> None:
    assert status(found(outcome, off, told=told, by_hand=by_hand)) == expected


def test_an_off_that_nothing_shows_is_said_in_so_many_words() -> None:
    assert PULL in in_words(found("completed", "unknown"))
    assert PULL in in_words(found("tripped", "asked, still live"))
    assert PULL not in in_words(found("completed", "verified off"))
    assert PULL not in in_words(found("completed", "unknown", told=True, by_hand=True))


def test_a_run_that_was_never_on_asks_for_no_plug() -> None:
    never = account(Course(), by_hand=False) | {"outcome": "ended by the operator", "reason": "closed"}
    assert PULL not in in_words(never)
    assert status(never) == 4


def test_a_run_that_never_closed_is_no_good_end() -> None:
    assert status(account(Course(), by_hand=False)) == 4


@pytest.mark.parametrize(("kinds", "alone"), [("hand", True), ("hand relay", False), ("relay", False)])
def test_a_hand_is_alone_where_nothing_else_can_switch_off(kinds: str, alone: bool) -> None:
    more = {"hand": "", "relay": 'address = "/dev/ttyS9"'}
    switches = "".join(f'[[off_switch]]\nkind = "{kind}"\n{more[kind]}\n' for kind in kinds.split())
    meter = '[[meter]]\njob = "+B"\nprofile = "scpi-multimeter"\naddress = "tcp://127.0.0.1:1"\n'
    bench = benches.parse(f'file = "benchlog bench 1"\nname = "b"\n{meter}{switches}', "bench.toml")
    assert only_by_hand(bench) is alone


def test_what_the_reservoirs_still_held_is_said_and_never_more_than_that() -> None:
    ended = course("verified off")
    ended.reservoirs = {
        "+B": {"charge": "falling", "volts": 31.0, "said": "falling"},
        "-B": {"charge": "not proven", "volts": None, "said": "not proven, no reading"},
        "bias": {"charge": "decayed", "volts": 0.4, "said": "under 1 V"},
    }
    told = account(ended, by_hand=False)
    assert [(one["trace"], one["volts"]) for one in told["not_discharged"]] == [("+B", 31.0), ("-B", None)]
    said = in_words(told)
    assert "Rails not seen discharged: +B 31.00 V, -B not known." in said
    assert "Never trust this alone: before you touch, measure across the capacitor's own terminals." in said
