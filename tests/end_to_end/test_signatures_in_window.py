"""Each of the ten signatures through the window, by keys: what the person sees of it, and never anything better.

How each must end stands in the one table; here it is held against the words and marks on the window.
"""

from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from typing import NamedTuple

import pytest
from helpers.signature_window import METERS, Shown, show
from helpers.signatures import DONE, GIVEN_UP, SIGNATURES, TRIPPED, Signature

from benchlog.window import words

pytestmark = pytest.mark.timeout(600)

AT_ONCE = 2
MARKS = {DONE: "good", TRIPPED: "tripped", GIVEN_UP: "undecided"}


class Played(NamedTuple):
    """A signature, and what the window showed of it."""

    signature: Signature
    shown: Shown


@pytest.fixture(scope="session")
def windows(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[dict[Signature, Future[Shown]]]:
    """Every signature that this run of the tests looks at through the window, started."""
    items = request.session.items
    asked = {item.callspec.params.get("seen") for item in items if hasattr(item, "callspec")}
    home = tmp_path_factory.mktemp("windows")
    with ThreadPoolExecutor(AT_ONCE) as pool:
        yield {one: pool.submit(show, one.name, home / one.name) for one in SIGNATURES if one in asked}


def row(signature: Signature) -> object:
    """One row of the table, marked where it is left to a night."""
    return pytest.param(signature, marks=[pytest.mark.long] * (not signature.seen), id=signature.name)


@pytest.fixture(params=map(row, SIGNATURES))
def seen(request: pytest.FixtureRequest, windows: dict[Signature, Future[Shown]]) -> Played:
    """One signature, waited for."""
    return Played(request.param, windows[request.param].result())


def test_a_trip_takes_the_whole_window_with_its_reason_and_its_stage(seen: Played) -> None:
    signature, shown = seen
    if signature.outcome != TRIPPED:
        assert shown.cut is None, shown.cut
        return
    cut, came = shown.cut, shown.came
    assert cut is not None
    assert cut.word in (words.CUT, words.STILL_LIVE), cut
    said = cut.what if cut.word == words.CUT else cut.where
    assert came.reason.casefold() in said.casefold(), (cut, came)
    assert (came.trace, came.limit) in signature.limits, came
    assert signature.says in came.reason, came
    assert f"stage {shown.stage}, " in cut.where, (cut, shown.stage)
    assert shown.stage in signature.stages, shown.stage


def test_the_off_switch_is_shown_as_it_stands(seen: Played) -> None:
    signature, shown = seen
    seen_off = words.CUT_OUTCOME["verified off"]
    # By hand, with a rail that is not seen, the lamp alone stands for the proof; nothing is ever taken for less.
    may = {"verified off", "unknown"} if signature.example == "by-hand" else {"verified off"}
    assert shown.came.off in may, shown.came
    if signature.outcome != TRIPPED:
        assert words.CUT_OUTCOME[shown.came.off] in shown.closed[1], shown.closed
        return
    last = shown.off
    if shown.came.off == "verified off":
        assert last is not None
        assert last.word == words.CUT, last
        assert last.off, last
        assert all(line.endswith(seen_off) for line in last.off), last
    elif last is not None:
        assert not any(line.endswith(seen_off) for line in last.off), last
    assert shown.cut is not None
    if not all(line.endswith(seen_off) for line in shown.cut.off):
        assert shown.cut.keep_out.startswith("Treat it as live"), shown.cut


def test_the_closed_run_says_how_it_ended(seen: Played) -> None:
    signature, shown = seen
    said = " ".join(shown.closed)
    assert words.ENDING[signature.outcome] in said, shown.closed
    assert f"{len(set(shown.came.stages))} of " in said, shown.closed
    if signature.outcome == TRIPPED:
        assert shown.came.reason.rstrip(".").casefold() in said.casefold(), shown.closed


def test_past_runs_shows_it_with_its_outcome(seen: Played) -> None:
    signature, shown = seen
    past, ending = shown.past, words.ENDING[signature.outcome]
    assert past.row.startswith(f"{ending}, "), past
    assert past.ending.startswith(ending), past
    if signature.outcome == TRIPPED:
        assert past.row.endswith(shown.came.reason), past
        assert past.ending == f"{ending}: {shown.came.reason}", past
    assert past.mark == MARKS[signature.outcome], past
    if shown.came.off == "verified off":
        assert words.CUT_OUTCOME["verified off"] in past.about, past


def test_nothing_is_offered_at_the_stage_it_does_not_pass(seen: Played) -> None:
    signature, shown = seen
    assert shown.stage in signature.stages, shown.stage
    assert (shown.stage in shown.offered) == (signature.outcome == DONE), shown


def test_it_is_not_said_before_it_is_true(seen: Played) -> None:
    signature, shown = seen
    if signature.true is None:
        assert not shown.came.broke_at, shown.came
        return
    assert shown.came.true_since, shown.came
    assert shown.came.delay > 0.0, shown.came


def test_what_only_warns_is_said_on_the_window_and_kept(seen: Played) -> None:
    signature, shown = seen
    if signature.outcome == TRIPPED or not signature.says:
        return
    assert any(signature.says in said for said in shown.notices), shown.notices
    assert any(signature.says in said for said in shown.past.told), shown.past


def volts(shown: str) -> float:
    """The size of what is drawn, in volts."""
    number, unit = shown.split()
    return abs(float(number)) * {"V": 1.0, "mV": 1e-3}[unit]


def test_a_value_that_is_not_to_be_believed_never_looks_good(seen: Played) -> None:
    signature, shown = seen
    if signature.number != METERS:
        return
    places = {face.where for face in shown.faces}
    assert {"numeral", "tile"} <= places, places
    for where in places:
        faces = [face for face in shown.faces if face.where == where]
        told = next((n for n, face in enumerate(faces) if face.wrong), len(faces))
        # Once it is doubted it stays so; a thousandth of an empty reservoir is lost in what the meter shows of nothing.
        slipped = signature.act is not None and signature.act.does == "slip"
        assert all(face.wrong for face in faces[told:] if face.live or not slipped), faces[told:]
        # A trip on the number itself may come before any doubt.
        assert told < len(faces) or not signature.doubt, faces
    assert not any(face.wrong and face.good for face in shown.faces), shown.faces


def test_no_false_number_is_drawn_as_if_it_were_one(seen: Played) -> None:
    signature, shown = seen
    if signature.number != METERS:
        return
    # What was read before it began, and what a repeated reply or swapped leads show: as large as it is.
    plain = [volts(face.shown) for face in shown.faces if face.live and not face.wrong]
    assert plain, shown.faces
    odd = [one for one in plain if one != pytest.approx(plain[0], rel=0.1)]
    # What the trip itself was for stands there until the page of the cut covers it.
    tripped_on = abs(shown.came.value) if shown.came.value is not None else None
    assert all(one == pytest.approx(tripped_on, rel=0.1, abs=0.1) for one in odd), plain


def test_silence_is_drawn_before_it_trips(seen: Played) -> None:
    signature, shown = seen
    if signature.number != METERS or shown.came.limit != "lost":
        return
    before = shown.faces[: [*(face.where for face in shown.faces), "charge"].index("charge")]
    assert any(face.wrong for face in before if face.where == "numeral"), shown.faces
    assert any(shown.came.trace in said for said in shown.notices), shown.notices
