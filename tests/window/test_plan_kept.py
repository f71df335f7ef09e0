"""Plans that were made are kept beside each other, and what was typed comes back for the same unit."""

from pathlib import Path

import pytest

from benchlog import textfile
from benchlog.domain.plan import Plan
from benchlog.domain.plan_templates import Template, plan
from benchlog.domain.sixnumbers import MeterAtHand, SixNumbers
from benchlog.domain.sixtyped import KINDS, Field
from benchlog.errors import Full
from benchlog.window.plan_kept import MOST_UNITS, NUMBERS, Numbers, Typed, keep, number_of, remembered

SIX = SixNumbers(230.0, 44.0, True, 2, 0.0165, 0.33, 100.0, (MeterAtHand("dmm", mains_side=True),))
MADE = plan(Template.VARIABLE_TRANSFORMER, SIX)
HALL = Typed(
    unit="u1", kind=4, meters=("dmm",), mains="120", rail="+/-44", channels="2", idle="16.5", across=".33"
)


def test_a_plan_is_kept_under_the_units_name_and_reads_back_equal(tmp_path: Path) -> None:
    file = keep(tmp_path, "Hall amplifier, two channels", MADE, HALL)
    assert (file.name, file.source) == ("hall-amplifier-two-channels.toml", "yours")
    kept = tmp_path / "plans" / file.name
    assert textfile.read(kept, Plan) == MADE


def test_another_plan_of_the_unit_stands_beside_the_first(tmp_path: Path) -> None:
    first = keep(tmp_path, "Hall", MADE, HALL)
    second = keep(tmp_path, "Hall", plan(Template.QUICK, SIX), HALL)
    again = keep(tmp_path, "Hall", plan(Template.QUICK, SIX), HALL)
    assert (first.name, second.name, again.name) == ("hall.toml", "hall-2.toml", "hall-2.toml")
    assert textfile.read(tmp_path / "plans" / "hall.toml", Plan) == MADE


@pytest.mark.parametrize(
    ("title", "name"), [("", "plan.toml"), ("../../x", "x.toml"), ("con", "bench-con.toml")]
)
def test_no_name_leads_out_of_the_folder(tmp_path: Path, title: str, name: str) -> None:
    file = keep(tmp_path, title, MADE, HALL)
    assert file.name == name
    assert [path.name for path in (tmp_path / "plans").iterdir()] == [name]


def test_what_was_typed_comes_back_for_its_own_unit_and_the_benchs_part_of_it_for_others(
    tmp_path: Path,
) -> None:
    assert remembered(tmp_path, "u1", None).texts[Field.MAINS] == "230"
    keep(tmp_path, "Hall", MADE, HALL)
    assert remembered(tmp_path, "u1", 230.0) == HALL
    other = remembered(tmp_path, "u2", None)
    assert (other.kind, other.meters, other.mains) == (4, ("dmm",), "120")
    assert (other.rail, other.idle, other.across, other.lamp_watts) == ("+/-", "", "", "100")


def test_the_mains_of_the_unit_goes_before_the_last_ones(tmp_path: Path) -> None:
    keep(tmp_path, "Hall", MADE, HALL)
    assert remembered(tmp_path, "u2", 100.0).mains == "100"


def test_each_unit_is_remembered_once_and_not_more_than_so_many(tmp_path: Path) -> None:
    for at in range(MOST_UNITS + 5):
        keep(tmp_path, "Hall", MADE, Typed(unit=f"u{at % (MOST_UNITS + 2)}"))
    kept = textfile.read(tmp_path / NUMBERS, Numbers).unit
    assert len(kept) == MOST_UNITS
    assert kept[-1].unit == "u2"
    assert len({one.unit for one in kept}) == MOST_UNITS


def test_a_memory_that_cannot_be_read_is_none(tmp_path: Path) -> None:
    (tmp_path / NUMBERS).write_text("?", "utf-8")
    assert remembered(tmp_path, "u1", None).rail == "+/-"
    keep(tmp_path, "Hall", MADE, HALL)
    assert remembered(tmp_path, "u1", None) == HALL


def test_a_folder_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    (tmp_path / "plans").write_text("in the way", "utf-8")
    with pytest.raises(Full, match="cannot be written"):
        keep(tmp_path, "Hall", MADE, HALL)


def test_every_kind_has_its_number() -> None:
    assert [number_of(kind) for kind in KINDS] == list(range(1, 12))
