"""Parts found by words: kinds, boards, results, runs of designators, and what must not be there."""

import pytest

from benchlog.domain.partsought import found, line_of, sought
from benchlog.domain.verdict import Verdict


def part(name: str, texts: str, verdict: Verdict | None, *, paired: bool = False) -> tuple[str, str]:
    return name, line_of(name, texts, verdict or "", verdict=verdict, read=verdict is not None, paired=paired)


PARTS = (
    part("R101", "resistor 4k7 5% Left board", Verdict.WITHIN, paired=True),
    part("R102", "resistor 47k 5% Left board", Verdict.HIGH, paired=True),
    part("C104", "electrolytic 100u 63V Left board", Verdict.UNPROVEN),
    part("C204", "electrolytic 100u 63V Right board", None),
    part("C205", "film capacitor 100n 10% Tone board", Verdict.DRIFTED),
)


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("", "R101 R102 C104 C204 C205"),
        ("electrolytics", "C104 C204"),
        ("Electrolytic left", "C104"),
        ("outside limits", "R102 C205"),
        ("outside -film", "R102"),
        ("doubtful", "C104"),
        ("pairs", "R101 R102"),
        ("to do", "C204"),
        ("done left", "R101 R102 C104"),
        ("r1", "R101 R102"),
        ("104", "C104"),
        ("R101-R110", "R101 R102"),
        ("R101, C204", "R101 C204"),
        ("R101-R110 high", "R102"),
        ("100u", "C104 C204"),
        ("zebra", ""),
        ("R9-R3", ""),
    ],
)
def test_every_word_must_stand_in_the_line_of_a_part(text: str, names: str) -> None:
    places = found(((line, name) for name, line in PARTS), sought(text))
    assert " ".join(PARTS[at][0] for at in places) == names


def test_nothing_typed_is_nothing_sought() -> None:
    assert sought("  ").nothing
    assert not sought("r1").nothing
