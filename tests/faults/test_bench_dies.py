"""The far end itself is gone: readings are lost, the run trips, and nobody claims that anything is off."""

import signal
import sys
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import pytest
from helpers.program import Ended, Said
from helpers.scene import scene

from benchlog.store import query
from benchlog.store.records import Ending

pytestmark = [
    pytest.mark.skipif(not sys.platform.startswith("linux"), reason="needs signals"),
    pytest.mark.timeout(300),
]

EXAMPLES = ("board", "amplifier", "by-hand")


@dataclass
class Orphan:
    """A run whose bench was killed under it, after its end."""

    ended: Ended
    session: Path
    alarmed: bool
    stored: dict[str, int]
    kept: dict[str, list[int]]
    bench_status: int | None

    def said(self, kind: str) -> list[Said]:
        """What its driver heard of one kind."""
        return [line for line in self.ended.lines if line["is"] == kind]


def a_run_whose_bench_is_killed(example: str, home: Path) -> Orphan:
    """Everything from the start to the end of the run."""
    home.mkdir()
    with scene(example, home, sockets=True) as live:
        died = live.is_live().kill(live.bench.pid)
        live.driver.says('"is":"event"', '"kind":"off"')
        alarmed = live.alarm_heard(after=died) > died
        ended = live.driver.wait()
        return Orphan(ended, live.session, alarmed, live.stored(), live.kept(), live.bench.status)


@pytest.fixture(scope="module")
def runs(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, Future[Orphan]]]:
    """One such run on each bench, all at once: what they do most is wait."""
    home = tmp_path_factory.mktemp("benches")
    with ThreadPoolExecutor() as pool:
        yield {name: pool.submit(a_run_whose_bench_is_killed, name, home / name) for name in EXAMPLES}


@pytest.fixture(params=EXAMPLES)
def run(request: pytest.FixtureRequest, runs: dict[str, Future[Orphan]]) -> Orphan:
    """One of them, waited for."""
    return runs[request.param].result()


def test_the_run_trips_for_want_of_readings_and_calls_somebody(run: Orphan) -> None:
    assert run.bench_status == -signal.SIGKILL
    assert run.ended.status == 3, run.ended.err
    assert run.alarmed
    state = query.state(run.session)
    assert state.outcome == Ending.TRIPPED
    # A relay's line may be found dead before a meter has been silent for long enough.
    assert state.reason.startswith(("no reading from ", "mains relay: the port broke"))
    assert [trip["text"] for trip in run.said("trip")] == [state.reason]


def test_nobody_claims_that_it_is_off(run: Orphan) -> None:
    assert "verified off" not in {cut["outcome"] for cut in run.said("cut_state")}
    (off,) = run.ended.lines[-1]["off"]
    assert off["outcome"] in ("unknown", "refused")
    assert "pull the plug" in off["text"]
    (closed,) = query.events(run.session, "closed")
    assert closed.data["off"] == off["outcome"]
    (overdue,) = query.events(run.session, "overdue")
    assert "off is not proven; pull the plug" in overdue.text


def test_what_was_stored_is_kept_and_what_was_lost_is_told(run: Orphan) -> None:
    assert run.stored
    assert all(run.kept[name][-1] >= last for name, last in run.stored.items())
    assert any(event.text.endswith(": gone") for event in query.events(run.session, "meter"))


@pytest.mark.parametrize("example", ["amplifier", "by-hand"])
def test_a_bench_that_dies_before_anything_is_on_ends_the_run(example: str, tmp_path: Path) -> None:
    with scene(example, tmp_path, sockets=True) as live:
        n = live.driver.says('"is":"event"', '"kind":"armed"')
        live.driver.says('"is":"prompt"', '"kind":"set_dial"', after=n)
        live.kill(live.bench.pid)
        ended = live.driver.wait()
        # The hand may have set the dial in time; then the run is lost a step later.
        assert ended.status in (3, 4), ended.err
        assert "verified off" not in {cut["outcome"] for cut in live.said("cut_state")}
        assert query.state(live.session).outcome in (Ending.STOPPED, Ending.TRIPPED)
