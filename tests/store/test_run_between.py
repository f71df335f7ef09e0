"""A run between two moments, from its file."""

from dataclasses import replace
from pathlib import Path

import pytest
from helpers.kept import begin

from benchlog.domain.between import Between
from benchlog.store.records import ReadingRow
from benchlog.store.run_between import between_of, summed_between

S = 1_000_000_000


def test_every_reading_of_the_stretch_counts_and_those_without_a_number_are_told(tmp_path: Path) -> None:
    writer = begin(tmp_path)
    writer.append(
        readings=[
            ReadingRow(1, seq, seq * S // 10, 40.0 + seq, "ok", "")
            if seq % 4
            else ReadingRow(1, seq, seq * S // 10, None, "missing", "")
            for seq in range(1, 41)
        ]
    )
    found = {name: between_of(writer.path, name, 0.3, 1.1) for name in ("+B", "offset L", "none")}
    writer.close("completed", "", 5 * S)
    # Readings 3 to 11, of which 4 and 8 carry no number.
    assert (found["+B"].count, found["+B"].missing) == (7, 2)
    assert (found["+B"].lowest, found["+B"].highest, found["+B"].difference) == (43.0, 51.0, 8.0)
    assert found["+B"].slope == pytest.approx(10.0)
    assert found["offset L"] == found["none"] == Between(0, 0)


@pytest.mark.parametrize(("from_t", "to_t"), [(0.0, 900.0), (12.34, 456.7), (100.0, 100.05), (100.0, 100.06)])
def test_what_is_summed_up_agrees_with_every_reading(tmp_path: Path, from_t: float, to_t: float) -> None:
    writer = begin(tmp_path)
    writer.append(
        readings=[
            ReadingRow(1, seq, seq * S // 10, 44.0 + (seq * 7919 % 101) / 1e3, "ok")
            if seq % 13
            else ReadingRow(1, seq, seq * S // 10, None, "missing")
            for seq in range(1, 9001)
        ]
    )
    writer.close("completed", "", 900 * S)
    whole, summed = between_of(writer.path, "+B", from_t, to_t), summed_between(writer.path, from_t, to_t)
    assert summed["offset L"] == Between(0, 0)
    found = summed["+B"]
    assert found == replace(whole, slope=None, spread=None, mean=found.mean)
    assert found.mean == (pytest.approx(whole.mean, rel=1e-13) if whole.mean is not None else None)
