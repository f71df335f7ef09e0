"""A run on one page: what it says, and what it must not leave out."""

from dataclasses import replace

import numpy as np
from helpers.watched import DIRECT, IDLE, LAMP, OFFSET, plan_of

from benchlog.domain.cold_checks import ColdAnswer, ColdCheck, overridden, told
from benchlog.domain.drift import Drift
from benchlog.domain.moved import Moved
from benchlog.domain.one_page import WIDE, Facts, Told, page
from benchlog.domain.plan import Plan
from benchlog.domain.plan_trace import Role
from benchlog.domain.run_kind import RunKind
from benchlog.domain.stage_numbers import Result, Span, StageRow
from benchlog.domain.trim import BEHIND_LAMP

IDLE_R = "name='idle R', role='idle', side='right'"
IDLE_L = "name='idle L', role='idle', side='left'"
TRIM = "trim=[{trace='idle L', low=0.0155, high=0.0175, ohms=0.33}]"


def adjusted(source: str = DIRECT) -> Plan:
    stages = ("name='idle', fraction=1.0, dwell=60.0, " + TRIM,)
    return replace(plan_of(IDLE_L, IDLE_R, OFFSET, source=source, stages=stages), kind=RunKind.ADJUST)


def row(trace: str, final: float, role: Role = Role.IDLE, result: Result = Result.HELD) -> StageRow:
    span = Span("idle", 0, 10.0, 12.0, 1300.0)
    return StageRow(span, trace, "V", final, final - 1e-3, final + 1e-3, 120.0, "", result, role)


def facts(**other: object) -> Facts:
    usual = Facts(
        unit="Hall amplifier",
        visit="visit 0147",
        plan=adjusted(),
        plan_name="Adjust, direct",
        began="2026-03-02 10:00",
        length=1400.0,
        ending="went through: all stages done",
        off="seen off",
        on=5.0,
        off_at=1300.0,
        rows=(row("idle L", 0.0165), row("idle R", 0.0120), row("offset L", 0.003, Role.OFFSET)),
        told=(),
    )
    return replace(usual, **other)  # type: ignore[arg-type]


def event(kind: str, text: str, t: float = 30.0, **data: object) -> Told:
    return Told(t, kind, text, data)


def test_it_says_which_unit_what_was_run_and_how_it_ended() -> None:
    said = page(facts())
    assert said.startswith(
        "Hall amplifier, visit 0147\nAdjust, direct\n2026-03-02 10:00, 23:20, on for 21:35\n"
    )
    assert "It went through: all stages done." in said
    assert "Off-switch: seen off." in said
    assert all(len(line) <= WIDE for line in said.splitlines())


def test_what_was_set_stands_with_its_band_and_its_current() -> None:
    said = page(facts())
    assert "idle L 16.50 mV in band" in said
    assert "50 mA across one" in said
    high = page(facts(rows=(row("idle L", 0.019), row("idle R", 0.012))))
    assert "idle L 19.00 mV HIGH" in high
    assert "idle L was left outside its band." in high


def test_what_a_reformed_capacitor_still_takes_stands_under_its_drop() -> None:
    plan = plan_of("name='drop', role='drop', ohms=10000.0", source=DIRECT)
    said = page(facts(plan=replace(plan, kind=RunKind.REFORM), rows=(row("drop", 2.5, Role.DROP),)))
    assert "250 µA through 10 kΩ" in said
    bare = plan_of("name='drop', role='drop'", source=DIRECT)
    assert (
        "through" not in page(facts(plan=bare, rows=(row("drop", 2.5, Role.DROP),))).partition("AS LEFT")[2]
    )


def test_the_sides_and_the_last_visit_are_held_beside_it() -> None:
    before = (row("idle L", 0.0165), row("idle R", 0.0164))
    said = page(facts(before=before, before_day="2025-01-20"))
    assert "idle R from idle L: 12.00 mV against 16.50 mV, 27 % less" in said
    assert "idle R from 2025-01-20: 12.00 mV against 16.40 mV, 27 % less" in said
    assert "idle L from 2025-01-20" not in said
    assert "no earlier good run" in page(facts())


def test_behind_a_lamp_idle_and_offset_are_kept_out_of_as_left() -> None:
    stages = ("name='idle', fraction=1.0, dwell=60.0, " + TRIM,)
    behind = plan_of(IDLE, OFFSET, LAMP, stages=stages)
    said = page(facts(plan=behind))
    as_left = said[said.index("AS LEFT") : said.index("WHAT DIFFERS")]
    assert as_left.count(BEHIND_LAMP) == 3
    assert "16.50 mV" not in as_left


def test_every_cold_check_is_told_and_what_was_overridden_is_to_be_looked_at() -> None:
    answers = (told(ColdCheck.EARTH, yes=True), overridden(ColdAnswer(ColdCheck.PRESETS)))
    said = page(
        facts(told=tuple(event("cold", one.in_words, holds=one.holds, check=one.check) for one in answers))
    )
    assert "protective earth continuous: told." in said
    assert "! presets at minimum: not looked at, overridden" in said
    assert "Cold check still open: presets at minimum" in said


def test_a_trip_what_was_doubted_and_what_was_not_marked_come_next() -> None:
    rows = (
        row("idle L", 0.0165, result=Result.TRIPPED),
        replace(row("idle R", 0.012), settled=None, unsettled="not settled"),
    )
    said = page(
        facts(
            rows=rows,
            ending="tripped: idle L above 33 mV",
            told=(
                event("trip", "idle L above 33 mV", 1299.0),
                event("idle", "idle R: set", trace="idle R", set=True),
            ),
            reservoirs={"+B": {"charge": "falling"}},
        )
    )
    following = said[said.index("WHAT TO LOOK AT NEXT") :]
    for text in (
        "It tripped: idle L above 33 mV.",
        "Not seen to discharge: +B.",
        "idle L: tripped.",
        "idle R was not settled at the end.",
        "Not marked as set: idle L.",
        "before you touch, measure across the capacitor's own terminals",
    ):
        assert text in " ".join(following.split()), text
    assert "Then:" not in following


def test_notes_stand_among_what_happened_and_many_warnings_are_counted() -> None:
    many = tuple(event("warn", f"warning {at}", 40.0 + at) for at in range(20))
    said = page(facts(told=(*many, Told(35.0, "note", "smells of dust"))))
    assert "0:35  note: smells of dust" in said
    assert "warning 11" in said
    assert "warning 12" not in said
    assert "and 8 warnings more" in said


def test_a_soak_tells_what_moved_with_mains_and_silences() -> None:
    soak = replace(adjusted(), kind=RunKind.SOAK)
    still = Moved("mains", Role.MAINS, "V", 231.0, 229.5, (226.1, 9000.0), (234.2, 20000.0))
    idle = Moved("idle L", Role.IDLE, "V", 0.0165, 0.0169, (0.016, 60.0), (0.017, 700.0), ((3600.0, 45.0),))
    said = page(facts(plan=soak, moved=(still, idle)))
    assert "WHAT MOVED" in said
    (line,) = [one for one in said.splitlines() if one.startswith("  mains ")]
    assert " ".join(line.split()) == "mains 231.0 V 229.5 V -1.50 V 226.1 V 2:30:00 234.2 V 5:33:20"
    assert "idle L: 1 silence of 0:45 from 1:00:00" in said
    assert "WHAT MOVED" not in page(facts(moved=(still,)))


def test_cold_to_hot_is_told_where_it_is_known() -> None:
    drift = Drift("idle L", (0.0101, 0.0143, None, None, None))
    said = page(facts(drifts={"idle L": drift, "idle R": Drift("idle R", (None,) * 5)}))
    (line,) = [one for one in said.splitlines() if one.startswith("  idle L ") and "10.10 mV" in one]
    assert line.split() == ["idle", "L", "10.10", "mV", "14.30", "mV", "-", "-", "-"]


def test_a_run_that_was_never_on_still_has_a_page() -> None:
    said = page(
        facts(rows=(), on=None, off_at=None, ending="was ended by the operator: closed before it was on")
    )
    assert "It was ended by the operator" in said
    assert "AS LEFT" not in said
    assert np.all([len(line) <= WIDE for line in said.splitlines()])
