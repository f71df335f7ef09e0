"""Which runs may lie beside a run: its unit's, as found and as left, and other units of its model."""

from pathlib import Path

from helpers.kept import begin

from benchlog.domain.unit import UnitFile
from benchlog.store import edit
from benchlog.store.library import Library
from benchlog.store.run_beside import UNITS, candidates


def kept(folder: Path, day: int, unit: str, visit: str = "", outcome: str = "completed") -> Path:
    writer = begin(folder / "sessions", started=f"2026-11-{day:02}T10:00:00.000Z", unit=unit, visit=visit)
    writer.close(outcome, "", 0)
    return writer.path


def test_its_own_unit_newest_first_then_the_newest_good_run_of_each_other_unit(tmp_path: Path) -> None:
    with Library.open(tmp_path) as library:
        model = {"maker": "Invented", "model": "A-60"}
        mine = edit.create_unit(library, UnitFile(name="mine", **model)).id  # type: ignore[arg-type]
        other = edit.create_unit(library, UnitFile(name="other", maker="INVENTED ", model="a-60")).id
        stranger = edit.create_unit(library, UnitFile(name="stranger", maker="Invented", model="B")).id
        visit = edit.open_visit(library, mine, "hums").id
        first, tripped, last, now = (
            kept(tmp_path, day, mine, visit, outcome)
            for day, outcome in (
                (1, "ended by the operator"),
                (2, "tripped"),
                (3, "completed"),
                (4, "tripped"),
            )
        )
        kept(tmp_path, 5, other)
        kept(tmp_path, 6, other)
        kept(tmp_path, 7, other, outcome="tripped")
        kept(tmp_path, 8, stranger)
        for i in range(UNITS + 1):
            unit = edit.create_unit(library, UnitFile(name=f"u{i}", **model)).id  # type: ignore[arg-type]
            kept(tmp_path, 9 + i, unit)
    found = candidates(tmp_path, now)
    own = [one for one in found if not one.other_unit]
    assert [(one.line.file, one.stands) for one in own] == [
        (last, "as left"),
        (tripped, ""),
        (first, "as found"),
    ]
    assert {one.visit for one in own} == {1}
    others = [one for one in found if one.other_unit]
    assert len(others) == UNITS
    assert "stranger" not in {one.unit for one in others}
