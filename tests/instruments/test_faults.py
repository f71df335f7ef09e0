"""Every fault of an instrument, on every wire: no wrong value, no hang, no spin, and each one told.

Alone on TCP and a pty, and a sample of pairs on each wire, at every run; all of them with --long.
"""

import random
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor

import pytest
from helpers.fault_run import FaultRun, run_faults
from helpers.faulty import plans

from benchlog.recorder import poll

pytestmark = [
    pytest.mark.skipif(sys.platform == "win32", reason="Windows has no pty"),
    # pyserial's own, in its RFC 2217 client.
    pytest.mark.filterwarnings("ignore:set(Daemon|Name):DeprecationWarning"),
]

AT_ONCE = 8
SEED, SAMPLE = 20, 8
HARMLESS = {"drip", "slow drip", "late", "half, rest late"}
"""What may pass without a word: the answer comes whole and alone, and whoever looks late finds it in time."""


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    """Open again without much delay."""
    monkeypatch.setattr(poll, "FIRST_RETRY", 0.01)
    monkeypatch.setattr(poll, "LONGEST_RETRY", 0.05)
    monkeypatch.setattr(poll, "LOOK", 0.01)


def run_all(kind: str, wanted: list[tuple[str, ...]]) -> Iterator[tuple[tuple[str, ...], FaultRun]]:
    with ThreadPoolExecutor(AT_ONCE) as pool:
        yield from zip(wanted, pool.map(lambda plan: run_faults(kind, plan), wanted), strict=True)


def check(kind: str, wanted: list[tuple[str, ...]]) -> None:
    bad: list[str] = []
    for plan, run in run_all(kind, wanted):
        bad += [f"{kind}, {' then '.join(plan)}: {fault}" for fault in run.faults()]
        if not run.told and not HARMLESS.issuperset(plan):
            bad.append(f"{kind}, {' then '.join(plan)}: nothing is told of it")
    assert not bad, "\n".join(bad)


@pytest.mark.parametrize("kind", ["tcp", "pty"])
def test_every_fault_alone(kind: str) -> None:
    check(kind, [plan for plan in plans(kind) if len(plan) == 1])


@pytest.mark.parametrize("kind", ["tcp", "pty", "socket", "rfc2217"])
def test_some_faults_in_pairs(kind: str) -> None:
    two = [plan for plan in plans(kind) if len(plan) == 2]
    check(kind, random.Random(f"{SEED} {kind}").sample(two, SAMPLE))


@pytest.mark.long
@pytest.mark.timeout(3600)
@pytest.mark.parametrize("kind", ["tcp", "pty", "socket", "rfc2217"])
def test_all_faults_alone_and_in_pairs(kind: str) -> None:
    check(kind, plans(kind))
