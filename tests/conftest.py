"""What holds for every test: nothing of the person's own is touched, hypothesis repeats itself in CI."""

import gc
import os
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from helpers.outside import COMMON_PRACTICE, PROPERTY
from hypothesis import HealthCheck, settings
from xdist.scheduler import LoadScopeScheduling

REAL_TIME = frozenset({"alarm", "commands", "end_to_end", "faults", "recorder", "simbench"})
"""Rooms whose tests start processes and wait for them; side by side they would only get into each other's way."""

NICE = 10

# Before the first application is made, which lives as long as the session.
os.environ["QT_QPA_PLATFORM"] = "offscreen"

# A test asserts what happens, never how fast: a slow machine must not fail it.
settings.register_profile("bench", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("ci", settings.get_profile("bench"), derandomize=True)
settings.load_profile("ci" if os.environ.get("CI") else "bench")


def pytest_addoption(parser: pytest.Parser) -> None:
    """Offer --long, which runs what a night may run."""
    parser.addoption("--long", action="store_true", help="also run the tests marked long")


class ByRoom(LoadScopeScheduling):
    """Gives one process all rooms that work against real time, and each other file whole to whoever is free.

    Not by xdist's own groups: pytest 9.2 passes over the name that xdist 3.8 gives a test of a group.
    """

    def _split_scope(self, nodeid: str) -> str:
        """What stays together with this test."""
        file, _, _ = nodeid.partition("::")
        return "real time" if Path(file).parts[1] in REAL_TIME else file


@pytest.fixture(autouse=True, scope="module")
def gives_way(request: pytest.FixtureRequest) -> None:
    """Where several processes share the tests out, what mostly computes lets what works against real time go first."""
    room = request.path.relative_to(Path(__file__).parent).parts[0]
    if "PYTEST_XDIST_WORKER" in os.environ and room not in REAL_TIME and hasattr(os, "nice"):
        os.nice(NICE - os.nice(0))


def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> ByRoom:
    """Share the tests out where there are several processes."""
    return ByRoom(config, log)


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave tests marked long out unless asked for."""
    if config.getoption("--long"):
        return
    kept = [item for item in items if item.get_closest_marker("long") is None]
    left_out = [item for item in items if item.get_closest_marker("long") is not None]
    if left_out:
        config.hook.pytest_deselected(items=left_out)
        items[:] = kept


def pytest_collection_finish() -> None:
    """What every test shares is no garbage: not to look through it spares each collection most of its time."""
    gc.collect()
    gc.freeze()


@pytest.fixture(autouse=True)
def collected_here(request: pytest.FixtureRequest) -> Iterator[None]:
    """Where there are widgets, collect garbage on this thread alone, as the window does (window/tidy.py)."""
    if "qapp" not in request.fixturenames and "qtbot" not in request.fixturenames:
        yield
        return
    gc.disable()
    yield
    gc.collect()
    gc.enable()


@pytest.fixture(autouse=True)
def own_folders(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Give each test a library and a log folder of its own, also for the processes it starts."""
    home = tmp_path_factory.mktemp("home")
    monkeypatch.setenv("BENCHLOG_LIBRARY", str(home / "library"))
    monkeypatch.setenv("BENCHLOG_LOG_DIR", str(home / "log"))
    monkeypatch.setenv("QT_QPA_PLATFORM", "offscreen")
    monkeypatch.setenv("BENCHLOG_MAY_SLEEP", "1")
    return home


# Here, since of several processes the one that reports collects no tests and loads no other conftest.
def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Print how many distinct sources and values were checked, and how many defaults have none."""
    found: Counter[str] = Counter()
    for report in terminalreporter.getreports("passed"):
        if report.when == "call":
            found.update(value for name, value in report.user_properties if name == PROPERTY)
    habits = found.pop(COMMON_PRACTICE.name, 0)
    if not found:
        return
    terminalreporter.section("checked against the outside")
    values = found.total()
    terminalreporter.write_line(
        f"{len(found)} sources, {values} values; and {habits} defaults that are {COMMON_PRACTICE.name}"
    )
    if terminalreporter.config.get_verbosity() > 0:
        for name, count in found.most_common():
            terminalreporter.write_line(f"{count:5d}  {name}")
