"""The demo with its window: what the window is opened on, the panel beside it, and what is left at the end."""

import argparse
import json
import os
import re
import signal
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

import platformdirs
import pytest
from helpers.live_bench import Line
from helpers.processes import HAS_PROC, children
from helpers.program import Running
from helpers.until import until

from benchlog import folders
from benchlog.commands import demo_options, demo_window
from benchlog.commands import window as window_command
from benchlog.errors import BadInput, Full
from benchlog.window.offer import Offer


class Opened:
    """Stands in for the window: writes down what it is opened on, and does what a test wants meanwhile."""

    def __init__(self, meanwhile: Callable[["Opened"], None] = lambda _: None) -> None:
        self.meanwhile = meanwhile
        self.library = Path()
        self.offer = Offer()
        self.rate = 0.0
        self.player: list[str] = []

    def __call__(
        self,
        library: Path,
        offer: Offer | None = None,
        *,
        rate: float = 1.0,
        player: Sequence[str] | None = None,
    ) -> int:
        self.library, self.offer, self.rate = library, offer or Offer(), rate
        self.player = list(player or ())
        self.meanwhile(self)
        return 0

    @property
    def control(self) -> Line:
        """A line to the control port of the simulated bench it is opened on."""
        host, port = self.player[3].removeprefix("tcp://").split(":")
        return Line(host, int(port))


def opened(monkeypatch: pytest.MonkeyPatch, meanwhile: Callable[[Opened], None] = lambda _: None) -> Opened:
    stand_in = Opened(meanwhile)
    monkeypatch.setattr(demo_window, "run_window", stand_in)
    return stand_in


def options(*given: str, library: Path | None = None) -> argparse.Namespace:
    parser = argparse.ArgumentParser()
    demo_window.add_arguments(parser)
    args = parser.parse_args(given)
    args.library = library
    return args


@pytest.mark.parametrize("example", demo_options.EXAMPLES)
def test_the_window_is_opened_on_the_examples_own_files_and_the_simulated_addresses(
    example: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    window = opened(monkeypatch)
    library = tmp_path / "a" / "library"
    assert demo_window.run(options("--example", example, library=library)) == 0
    assert (window.library, window.rate) == (library, 1.0)
    assert 'address = "simulated:' not in window.offer.bench_text
    assert "benchlog bench 1" in window.offer.bench_text
    assert "benchlog plan 1" in window.offer.plan_text
    assert "benchlog unit 1" in window.offer.unit_text
    assert window.offer.beside > 300
    assert "simulated bench" in window.offer.note
    assert ("the dial" in window.offer.note) == (example in ("amplifier", "by-hand"))
    assert ("the switch" in window.offer.note) == (example != "board")
    assert f"Kept in {library}." in window.offer.note
    kept = f"Library: {library}\nWhat was measured and run is kept in {library}\n"
    assert capsys.readouterr().out == kept
    assert (library / "witness.jsonl").exists()


def test_without_a_library_named_the_demo_has_one_of_its_own_and_the_same_the_next_time(
    own_folders: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert demo_options.library_of(options()) == own_folders / "library"
    monkeypatch.delenv("BENCHLOG_LIBRARY")
    monkeypatch.setattr(platformdirs, "user_data_path", lambda *_, **__: tmp_path)
    assert demo_options.library_of(options()) == tmp_path / "demo"
    assert demo_options.library_of(options()) == tmp_path / "demo"
    assert folders.library() == tmp_path / "library"
    assert demo_options.library_of(options(library=tmp_path / "L")) == tmp_path / "L"


@pytest.mark.skipif(not HAS_PROC, reason="looks for processes in /proc")
def test_the_panel_stands_beside_the_window_and_ends_with_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    own = os.getpid()

    def look(_window: Opened) -> None:
        assert children(own, "benchlog.window.panel")
        assert children(own, "--played")

    opened(monkeypatch, look)
    demo_window.run(options("--example", "board", library=tmp_path))
    assert not children(own, "benchlog.window.panel")
    assert not children(own, "benchlog.simbench")


def test_the_alarm_is_shown_on_the_bench_and_nobody_switches_off_by_himself(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[dict[str, object]] = []

    def sound(window: Opened) -> None:
        line = window.control
        line.ask('{"do": "switch", "on": true}')
        line.ask('{"do": "alarm"}')
        seen.append(json.loads(line.ask('{"do": "state"}')))
        seen.append(json.loads(line.ask('{"do": "names"}')))
        line.close()

    window = opened(monkeypatch, sound)
    given = ("--example", "by-hand", "--fault", "runaway", "--speed", "5")
    demo_window.run(options(*given, library=tmp_path))
    assert window.rate == 5.0
    assert window.player[:3] == [sys.executable, "-m", "benchlog.simbench.ear"]
    state, names = seen
    assert (state["alarms"], state["live"]) == (1, True)
    assert names["fault"] == "runaway"


def test_where_the_machine_has_a_player_it_sounds_as_well(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for found, behind in (([], []), ([("aplay", ["/bin/aplay", "a.wav"])], ["--", "/bin/aplay", "a.wav"])):
        monkeypatch.setattr(demo_window, "players", lambda _sound, found=found: found)
        window = opened(monkeypatch)
        demo_window.run(options("--example", "board", library=tmp_path))
        assert window.player[4:] == behind


@pytest.mark.parametrize("given", [("--speed", "0"), ("--speed", "nan"), ("--fault", "gremlins")])
def test_what_means_nothing_is_refused_before_anything_opens(
    given: tuple[str, ...], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def never(_window: Opened) -> None:
        raise AssertionError

    opened(monkeypatch, never)
    with pytest.raises(BadInput, match=given[0]):
        demo_window.run(options(*given, library=tmp_path / "library"))
    assert not (tmp_path / "library").exists()


def test_a_library_that_cannot_be_made_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    opened(monkeypatch)
    (tmp_path / "file").touch()
    with pytest.raises(Full, match="cannot be made"):
        demo_window.run(options(library=tmp_path / "file" / "library"))


def test_alone_the_program_opens_the_window_on_the_usual_library(
    own_folders: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    window = Opened()
    monkeypatch.setattr(window_command, "run_window", window)
    window_command.add_arguments(argparse.ArgumentParser())
    assert window_command.run(argparse.Namespace(library=None)) == 0
    assert window.library == own_folders / "library"
    window_command.run(argparse.Namespace(library=Path("L")))
    assert window.library == Path("L")


@pytest.mark.skipif(sys.platform == "win32", reason="needs signals")
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_the_real_windows_open_and_a_signal_ends_them_all(number: signal.Signals, tmp_path: Path) -> None:
    library = ("--library", str(tmp_path / "library"))
    with Running("benchlog", "demo", "--example", "board", *library, home=tmp_path) as demo:
        # Its recorder is up: the window lives.
        until(lambda: children(demo.pid, "benchlog.recorder") or demo.status is not None, limit=120.0)
        assert children(demo.pid, "benchlog.window.panel")
        demo.send(number)
        ended = demo.wait()
        assert ended.status == 0, ended.err
        assert re.search(r"Library: .*library", ended.out)
        assert not re.search("Traceback|QBackingStore", ended.err)
