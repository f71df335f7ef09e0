"""Each of the ten signatures on the simulated bench: how its run ends, where, why, and not before it is true.

Recorder, alarm, wires and file are the real ones, at a multiple of life; the truth is the far end's own.
"""

from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from typing import NamedTuple

import pytest
from helpers.signature_came import Came
from helpers.signature_run import play
from helpers.signatures import DONE, SIGNATURES, TRIPPED, Signature

pytestmark = pytest.mark.timeout(600)

AT_ONCE = 2
NUMBERS = range(1, 11)


class Played(NamedTuple):
    """A signature, and what came of it."""

    signature: Signature
    came: Came


@pytest.fixture(scope="session")
def signatures(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[dict[Signature, Future[Came]]]:
    """Every signature that this run of the tests asks for, started."""
    items = request.session.items
    asked = {item.callspec.params.get("played") for item in items if hasattr(item, "callspec")}
    home = tmp_path_factory.mktemp("signatures")
    with ThreadPoolExecutor(AT_ONCE) as pool:
        yield {one: pool.submit(play, one.name, home / one.name) for one in SIGNATURES if one in asked}


def row(signature: Signature) -> object:
    """One row of the table, marked where it is left to a night."""
    return pytest.param(signature, marks=[pytest.mark.long] * signature.long, id=signature.name)


@pytest.fixture(params=map(row, SIGNATURES))
def played(request: pytest.FixtureRequest, signatures: dict[Signature, Future[Came]]) -> Played:
    """One signature, waited for."""
    return Played(request.param, signatures[request.param].result())


def test_all_ten_are_played() -> None:
    assert {one.number for one in SIGNATURES} == set(NUMBERS)
    assert len({one.name for one in SIGNATURES}) == len(SIGNATURES)


def test_it_ends_as_it_must_at_its_stage_and_off(played: Played) -> None:
    signature, came = played
    assert came.outcome == signature.outcome, came
    assert came.stages[-1] in signature.stages, came
    # By hand, with a rail that is not seen, the lamp alone stands for the proof; nothing is ever taken for less.
    assert (
        came.off in {"verified off", "unknown"}
        if signature.example == "by-hand"
        else came.off == "verified off"
    )


def test_it_trips_for_its_own_reason_or_not_at_all(played: Played) -> None:
    signature, came = played
    if signature.outcome == TRIPPED:
        assert (came.trace, came.limit) in signature.limits, came
        assert signature.says in came.reason, came
    else:
        assert not came.cut_at, came
        assert any(signature.says in said for said in came.warned) or not signature.says, came


def test_it_is_not_found_before_it_is_true(played: Played) -> None:
    signature, came = played
    if signature.true is None:
        assert not came.broke_at, came
        return
    assert came.true_since, came
    assert came.delay > 0.0, came


def test_no_stage_is_offered_where_it_trips_or_is_given_up(played: Played) -> None:
    signature, came = played
    offered = [name for name, _ in came.ready]
    assert (came.stages[-1] in offered) == (signature.outcome == DONE), came


def test_a_meter_that_is_not_believed_is_shown_as_such(played: Played) -> None:
    signature, came = played
    if signature.doubt:
        assert came.doubts.get(signature.doubt), came
