"""Players are tried until one works, and where none does the bell rings and it is said."""

import sys
from pathlib import Path

import pytest
from helpers.until import until

from benchlog.alarm.player import HUNG, PACE, Player, players

FINE = ("fine", [sys.executable, "-c", ""])
FAILS = ("fails", [sys.executable, "-c", "raise SystemExit(3)"])
HANGS = ("hangs", [sys.executable, "-c", "import time; time.sleep(60)"])
MISSING = ("missing", ["/no/such/player"])


class Listener:
    """What a player said and rang, and a clock that the test moves."""

    def __init__(self, *commands: tuple[str, list[str]]) -> None:
        self.said: list[str] = []
        self.rung = 0
        self.now = 0.0
        self.player = Player(commands, self.said.append, self.ring)

    def ring(self) -> None:
        self.rung += 1

    def second(self) -> None:
        """Sound for one second: until the player's process ended, then on to the next start."""
        self.player.keep_on(self.now)
        until(self.rests, "the end of the player")
        self.now += PACE

    def rests(self) -> bool:
        self.player.keep_on(self.now)
        return self.player._running is None


@pytest.fixture
def here() -> dict[str, str]:
    return {name: f"/usr/bin/{name}" for name in ("aplay", "paplay", "afplay")}


def test_the_platforms_own_players_are_found(here: dict[str, str]) -> None:
    found = players("a.wav", platform="linux", which=here.get)
    assert [name for name, _ in found] == ["paplay", "aplay"]
    assert found[0][1] == ["/usr/bin/paplay", "--volume=65536", "a.wav"]
    assert players("a.wav", platform="darwin", which=here.get) == [("afplay", ["/usr/bin/afplay", "a.wav"])]
    ((name, argv),) = players("a.wav", platform="win32", which=here.get)
    assert name == "winsound"
    assert argv[0] == sys.executable
    assert argv[-1] == "a.wav"
    assert players("a.wav", platform="linux", which=lambda _: None) == []


def test_a_chosen_command_stands_in_the_place_of_all(here: dict[str, str]) -> None:
    assert players("a.wav", ["/opt/ear", "x"], platform="linux", which=here.get) == [
        ("ear", ["/opt/ear", "x"])
    ]


def test_a_player_that_works_is_named_once_and_played_again_and_again() -> None:
    heard = Listener(FINE)
    for _ in range(3):
        heard.second()
    assert heard.said == ["player fine"]
    assert heard.rung == 0


def test_it_is_played_once_a_second(tmp_path: Path) -> None:
    file = tmp_path / "heard"
    heard = Listener(("ear", [sys.executable, "-c", f"open({str(file)!r}, 'a').write('x')"]))
    heard.second()
    for late in (-0.9, -0.5, -0.1):
        heard.player.keep_on(heard.now + late)
    assert file.read_text() == "x"
    heard.second()
    assert file.read_text() == "xx"


def test_a_player_that_fails_gives_way_to_the_next() -> None:
    heard = Listener(FAILS, MISSING, FINE)
    heard.second()
    assert until(lambda: heard.rests() and heard.said[-1] == "player fine", "the player that works")
    assert heard.said == [
        "player fails",
        "failed fails ended with 3",
        "failed missing No such file or directory",
        "player fine",
    ]
    assert heard.rung == 2


def test_where_none_works_the_bell_rings_every_second_and_they_are_tried_again() -> None:
    heard = Listener(FAILS)
    for second in range(1, 6):
        heard.second()
        assert heard.rung == second
    assert (
        heard.said
        == ["player fails", "failed fails ended with 3", "player none"] + ["failed fails ended with 3"] * 2
    )


def test_where_there_is_none_the_bell_rings() -> None:
    heard = Listener()
    heard.second()
    heard.second()
    assert heard.said == ["player none"]
    assert heard.rung == 2


def test_a_player_that_hangs_is_ended() -> None:
    heard = Listener(HANGS)
    heard.player.keep_on(0.0)
    heard.player.keep_on(HUNG - 0.1)
    assert heard.rung == 0
    heard.player.keep_on(HUNG)
    assert heard.rung == 1
    assert heard.said[1] == "failed hangs did not end within 3 s"
    heard.player.stop()


def test_to_stop_ends_what_plays_and_lets_it_begin_anew_at_once() -> None:
    heard = Listener(HANGS)
    heard.player.keep_on(0.0)
    running = heard.player._running
    assert running is not None
    heard.player.stop()
    assert running.poll() is not None
    heard.player.keep_on(0.1)
    assert heard.player._running is not None
    heard.player.stop()
    heard.player.stop()
