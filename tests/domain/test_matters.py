"""What matters between two passes (rules 26, 37, 38)."""

from benchlog.domain.matters import Compared, Matter, Read, changed, differs, matters, weight
from benchlog.domain.quantity import Overload
from benchlog.domain.verdict import Verdict

WAY = ("parts meter", "", "in circuit")


def ohms(
    value: float | Overload, verdict: Verdict | None = Verdict.WITHIN, item: str = "old", **more: object
) -> Read:
    """A reading in ohms."""
    return Read(value, "ohm", verdict, item, **({"way": WAY} | more))  # type: ignore[arg-type]


def test_a_part_that_reads_as_before_and_as_its_other_side_matters_nothing() -> None:
    same = Compared(ohms(4700.0), ohms(4710.0), ohms(4690.0), ohms(4690.0), "old")
    assert matters(same) == ()
    assert weight(matters(same)) == len(Matter) + 1


def test_what_is_still_out_comes_first() -> None:
    found = matters(
        Compared(ohms(6200.0, Verdict.HIGH), ohms(6200.0, Verdict.HIGH), None, ohms(4700.0), "old")
    )
    assert found == (Matter.OUT, Matter.DIFFERS)


def test_sides_agree_within_five_per_cent_and_a_tenth_of_an_ohm() -> None:
    """Rule 26: within 5 %, floor 0.1 ohm."""
    assert not differs(ohms(104.9), ohms(100.0))
    assert differs(ohms(105.2), ohms(100.0))
    assert not differs(ohms(0.31), ohms(0.22))
    assert differs(ohms(Overload.POSITIVE), ohms(100.0))
    assert not differs(ohms(Overload.POSITIVE), ohms(Overload.POSITIVE))


def test_only_what_was_read_in_one_way_is_held_against_the_other_side() -> None:
    """Rule 26: same meter, leads the same way round, both equally lifted."""
    lifted = ohms(200.0, way=("parts meter", "", "lifted"))
    another = ohms(200.0, way=("second meter", "", "in circuit"))
    assert not differs(lifted, ohms(100.0))
    assert not differs(another, ohms(100.0))
    assert not differs(None, ohms(100.0))


def test_another_item_is_a_change_and_the_old_readings_are_not_its_own() -> None:
    """Rule 38: readings hang on the fitted item."""
    new = Compared(ohms(6200.0, Verdict.HIGH), None, now="new")
    assert new.stands is None
    assert matters(new) == (Matter.NO_LATER, Matter.CHANGED)
    read = Compared(ohms(6200.0, Verdict.HIGH), ohms(4700.0, item="new"), now="new")
    assert matters(read) == (Matter.CHANGED,)
    assert changed(read)


def test_what_was_read_as_left_before_the_item_went_does_not_stand_for_the_new_one() -> None:
    gone = Compared(ohms(4700.0), ohms(4700.0), now="new")
    assert matters(gone) == (Matter.NO_LATER, Matter.CHANGED)


def test_what_was_not_read_is_told_from_what_was_not_read_again() -> None:
    assert matters(Compared(None, None)) == (Matter.UNREAD,)
    assert matters(Compared(ohms(4700.0), None)) == (Matter.NO_LATER,)


def test_a_reading_that_proves_nothing_is_unproven_also_where_nobody_judged_it() -> None:
    for verdict in (Verdict.UNPROVEN, Verdict.UNDECIDED, Verdict.NOT_YET, Verdict.NO_CONTACT, None):
        assert matters(Compared(None, ohms(4700.0, verdict))) == (Matter.UNPROVEN,)


def test_another_result_or_five_per_cent_is_a_change() -> None:
    """The same width as part against part: rule 26."""
    assert changed(Compared(ohms(4700.0, Verdict.DRIFTED), ohms(4700.0)))
    assert changed(Compared(ohms(4700.0), ohms(4400.0)))
    assert not changed(Compared(ohms(4700.0), ohms(4600.0)))
    assert not changed(Compared(None, ohms(4600.0)))
