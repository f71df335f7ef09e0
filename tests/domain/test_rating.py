"""What is printed beside a meter's terminals, and whether it belongs on the mains side."""

import pytest

from benchlog.domain.rating import FOR_MAINS, fit_for_mains


@pytest.mark.parametrize(
    ("text", "fit"),
    [
        ("CAT II 300 V", True),
        ("cat iii 600V", True),
        ("CAT II 300V / CAT I 1000V", True),
        ("CAT IV 1 kV", True),
        ("CAT.III, 1000 V", True),
        ("CAT II 150 V", False),
        ("CAT I 1000 V", False),
        ("CAT I 600 V, fused", False),
        ("", None),
        ("600 V", None),
        ("CAT V 300 V", None),
        ("fused", None),
    ],
)
def test_a_rating_is_read_as_it_is_printed(text: str, fit: bool | None) -> None:
    assert fit_for_mains(text) is fit


def test_the_least_is_said_as_the_rules_say_it() -> None:
    assert FOR_MAINS == "CAT II 300 V or better, fused"
