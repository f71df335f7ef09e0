"""The demos of this folder: each case is run once, several at a time, for all tests that look at it."""

from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor

import pytest
from helpers.demo_run import Case, DemoRun, run_demo

EXAMPLES = ("amplifier", "by-hand", "board")
FAULTS = ("healthy", "shorted-output", "missing-rail", "runaway", "silent-meter")
LADDER = ("healthy", "shorted-output")
"""Up a lamp ladder the unit is the same one: it is the way up that is another."""
CASES = [Case(example, fault) for fault in FAULTS for example in EXAMPLES]
CASES += [Case("lamp-ladder", fault) for fault in LADDER]
BY_DAY = {
    Case("amplifier", "shorted-output"),
    Case("amplifier", "silent-meter"),
    Case("by-hand", "missing-rail"),
    Case("board", "runaway"),
}
"""Each fault once, besides every bench with a healthy unit; the rest is left to a night."""
AT_ONCE = 3
"""A demo mostly waits for its bench to live: more of them than cores may run."""

Started = dict[Case, Future[DemoRun]]


@pytest.fixture(scope="session")
def demos(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Started]:
    """Every demo that this run of the tests asks for, started."""
    items = request.session.items
    asked = {item.callspec.params.get("demo") for item in items if hasattr(item, "callspec")}
    home = tmp_path_factory.mktemp("demos")
    with ThreadPoolExecutor(AT_ONCE) as pool:
        yield {
            case: pool.submit(run_demo, case, home / f"{case.example}-{case.fault}")
            for case in CASES
            if case in asked
        }


def row(case: Case) -> object:
    """One case, marked where it is left to a night."""
    by_day = case.fault == "healthy" or case in BY_DAY
    return pytest.param(case, marks=[pytest.mark.long] * (not by_day), id=str(case))


@pytest.fixture(params=map(row, CASES))
def demo(request: pytest.FixtureRequest, demos: Started) -> DemoRun:
    """One demo, waited for."""
    run: DemoRun = demos[request.param].result()
    return run
