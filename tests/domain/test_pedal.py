"""A contact counts as pressed when it stays so, soon, and as known only when it has come to rest."""

import pytest

from benchlog.domain.pedal import KNOWN_AFTER, PRESSED_AFTER, RELEASED_AFTER, Contact

UP, DOWN = Contact(pressed=False), Contact(pressed=True)


def after(contact: Contact, looks: str) -> bool | None:
    """What is known after these looks: `d` found it down, `u` up."""
    for look in looks:
        contact = contact.look(look == "d")
    return contact.pressed


@pytest.mark.parametrize(
    ("contact", "looks", "pressed"),
    [
        (UP, "d" * (PRESSED_AFTER - 1), False),
        (UP, "d" * PRESSED_AFTER, True),
        (UP, "dududu", False),
        (UP, "uddu", True),
        (DOWN, "u" * (RELEASED_AFTER - 1), True),
        (DOWN, "u" * RELEASED_AFTER, False),
        (DOWN, "uuuuduuuu", True),
        (Contact(), "d" * (KNOWN_AFTER - 1), None),
        (Contact(), "d" * KNOWN_AFTER, True),
        (Contact(), "u" * KNOWN_AFTER, False),
        (Contact(), "du" * KNOWN_AFTER, None),
    ],
)
def test_looks_in_a_row_decide(contact: Contact, looks: str, pressed: bool | None) -> None:
    assert after(contact, looks) is pressed
