"""A computer that measures stays awake: held off from arming to close and between parts, gone with the recorder."""

import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.kept import head
from helpers.live_bench import live_bench
from helpers.near import Inside
from helpers.stand_ins import Outbox
from helpers.until import until
from helpers.watched import DIRECT, PLUS, plan_of

from benchlog.recorder import awake, messages
from benchlog.recorder.awake import MAY_SLEEP_VARIABLE, Awake, ways
from benchlog.recorder.clock import Clock
from benchlog.recorder.outlet import Outlet, trace_rows
from benchlog.recorder.writer import Writer
from benchlog.store import query
from benchlog.store.append import SessionWriter

PLAN = plan_of(PLUS, source=DIRECT)
HOLDS = 'echo "start $*" >> {log}\ncat\necho end >> {log}\n'
FAILS = "echo no bus >&2\nexit 1\n"

needs_sh = pytest.mark.skipif(
    sys.platform == "win32", reason="the stand-in for the platform's command is a shell script"
)


# --- which commands ------------------------------------------------------------------------------


def everywhere(name: str) -> str:
    return f"/usr/bin/{name}"


def test_linux_takes_the_session_manager_and_the_desktops_own_side_by_side() -> None:
    there = {"systemd-inhibit", "gnome-session-inhibit"}
    first, second = ways("linux", lambda name: everywhere(name) if name in there else None)
    assert first[:4] == [
        "/usr/bin/systemd-inhibit",
        "--what=idle:sleep",
        "--who=benchlog",
        f"--why={awake._WHY}",
    ]
    assert second[0] == "/usr/bin/gnome-session-inhibit"
    assert first[-1] == second[-1] == "cat"


def test_a_mac_has_a_command_of_its_own() -> None:
    assert ways("darwin", everywhere) == [["/usr/bin/caffeinate", "-dims", "cat"]]


def test_windows_is_asked_by_a_python_that_lasts_as_long_as_its_input() -> None:
    (only,) = ways("win32", lambda _: None)
    assert only[0] == sys.executable
    compile(only[-1], "the script", "exec")


def test_where_there_is_no_command_there_is_no_way() -> None:
    assert not ways("linux", lambda _: None)
    assert not ways("darwin", lambda _: None)


# --- holding -------------------------------------------------------------------------------------


class Room:
    """A computer with one way to hold sleep off, or none: what that noted, and what the recorder said."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self._log = folder / "noted"
        self._bin = folder / "bin"
        self._bin.mkdir()
        cat = shutil.which("cat")
        assert cat is not None
        (self._bin / "cat").symlink_to(cat)
        monkeypatch.setenv("PATH", str(self._bin))
        monkeypatch.delenv(MAY_SLEEP_VARIABLE)
        # One that is about to note its end is not to be killed by a slow machine.
        monkeypatch.setattr(awake, "PARTING", 60.0)
        self.outbox = Outbox()
        self.outlet = Outlet(self.outbox.send)
        self.sessions = folder / "sessions"
        self.file = folder
        self._made: list[Awake] = []

    def has(self, script: str) -> None:
        """Its command does that."""
        path = self._bin / ("caffeinate" if sys.platform == "darwin" else "systemd-inhibit")
        path.write_text(f"#!/bin/sh\n{script.format(log=self._log)}", encoding="utf-8")
        path.chmod(0o755)

    def awake(self) -> Awake:
        self._made.append(Awake(Clock(), self.outlet))
        return self._made[-1]

    def noted(self) -> list[str]:
        text = self._log.read_text(encoding="utf-8") if self._log.exists() else ""
        return [line.split(" ", 1)[0] for line in text.splitlines()]

    def becomes(self, *noted: str) -> None:
        until(lambda: self.noted() == list(noted), f"{noted} where it says {self.noted()}")

    def begin(self) -> Writer:
        """A session is open."""
        session = SessionWriter.create(self.sessions, head())
        session.declare(trace_rows(PLAN))
        writer = Writer(session, {1: "+B"}, lambda _: None, lambda _: None)
        self.outlet.begin(PLAN, writer, lambda: (0, 0))
        self.file = session.path
        return writer

    def end(self, writer: Writer) -> None:
        self.outlet.end()
        writer.close("completed", "", 1)

    @property
    def notices(self) -> list[str]:
        return [notice.problem for notice in self.outbox.of(messages.Notice)]

    @property
    def events(self) -> list[messages.Event]:
        return [event for event in self.outbox.of(messages.Event) if event.kind == "may sleep"]

    def keeps_it(self) -> None:
        """The session that is open has the event in its file."""
        until(lambda: len(query.events(self.file, "may sleep")) == 1, "the event")

    def close(self) -> None:
        for one in self._made:
            one.close()


@pytest.fixture
def room(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Room]:
    made = Room(tmp_path, monkeypatch)
    made.has(HOLDS)
    yield made
    made.close()


@needs_sh
def test_it_is_held_off_while_a_session_is_open_and_no_longer(room: Room) -> None:
    held = room.awake()
    writer = room.begin()
    held.look()
    held.look()
    room.becomes("start")
    room.end(writer)
    held.look()
    room.becomes("start", "end")
    assert not room.notices


@needs_sh
def test_a_part_holds_it_off_for_a_while(room: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    held = room.awake()
    held.part()
    room.becomes("start")
    monkeypatch.setattr(awake, "ROUND_SECONDS", 0.01)
    held.part()
    room.becomes("start", "end")


@needs_sh
def test_the_end_of_the_recorder_ends_it_whatever_it_was_for(room: Room) -> None:
    held = room.awake()
    held.part()
    room.becomes("start")
    held.close()
    room.becomes("start", "end")


@needs_sh
def test_it_goes_with_a_recorder_that_is_killed(room: Room) -> None:
    script = (
        "import sys\n"
        "from benchlog.recorder.awake import Awake\n"
        "from benchlog.recorder.clock import Clock\n"
        "from benchlog.recorder.outlet import Outlet\n"
        "Awake(Clock(), Outlet(print)).part()\n"
        "sys.stdin.read()\n"
    )
    recorder = subprocess.Popen([sys.executable, "-c", script], stdin=subprocess.PIPE)
    try:
        room.becomes("start")
    finally:
        recorder.kill()
        recorder.communicate()
    room.becomes("start", "end")


@needs_sh
def test_where_it_fails_the_person_is_told_once_and_every_run_keeps_it(room: Room) -> None:
    room.has(FAILS)
    held = room.awake()
    for _ in range(2):
        writer = room.begin()
        held.look()
        room.keeps_it()
        room.end(writer)
        held.look()
    assert len(room.notices) == 1
    assert len(room.events) == 2


@needs_sh
def test_a_round_that_failed_does_not_keep_the_run_after_it_from_being_told(room: Room) -> None:
    room.has(FAILS)
    held = room.awake()
    held.part()
    until(lambda: room.notices, "the notice")
    assert not room.events
    writer = room.begin()
    held.look()
    room.keeps_it()
    room.end(writer)
    assert len(room.notices) == 1


@needs_sh
def test_one_that_ends_by_itself_is_told_too(room: Room) -> None:
    room.has(HOLDS.replace("cat", ":"))
    room.awake().part()
    until(lambda: room.notices, "the notice")
    assert room.noted() == ["start", "end"]


@pytest.mark.parametrize("found", [[], [["/no/such/command"]]])
def test_no_way_at_all_is_told(found: list[list[str]], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(MAY_SLEEP_VARIABLE)
    monkeypatch.setattr(awake, "ways", lambda: found)
    outbox = Outbox()
    held = Awake(Clock(), Outlet(outbox.send))
    held.part()
    until(lambda: outbox.of(messages.Notice), "the notice")
    held.close()


@needs_sh
def test_a_computer_that_may_sleep_is_let_alone(room: Room, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(MAY_SLEEP_VARIABLE, "1")
    held = room.awake()
    held.part()
    held.close()
    assert not room.noted()
    assert not room.notices


# --- the recorder --------------------------------------------------------------------------------


@needs_sh
def test_a_recorder_holds_it_off_from_arming_to_close_and_when_a_part_is_read(
    room: Room, tmp_path: Path
) -> None:
    with live_bench("board") as far:
        near = Inside()
        try:
            near.ready(far, "board", tmp_path)
            room.becomes("start")
            near.act("close")
            near.wait(messages.Closed)
            room.becomes("start", "end")
            near.request(messages.StayAwake(id=0))
            room.becomes("start", "end", "start")
        finally:
            near.close()
    room.becomes("start", "end", "start", "end")
