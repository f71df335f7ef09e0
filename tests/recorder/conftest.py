"""Runs without instruments for the tests of this room; each is closed with its test."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from helpers.rig import Rig
from helpers.stand_ins import Switch

from benchlog.recorder import off_relay

MakeRig = Callable[..., Rig]


@pytest.fixture
def make(tmp_path: Path) -> Iterator[MakeRig]:
    """Makes a run over these off-switches, with what else a rig takes."""
    made: list[Rig] = []

    def rig(*switches: Switch, **more: object) -> Rig:
        made.append(Rig(tmp_path / "sessions", *switches, **more))  # type: ignore[arg-type]
        return made[-1]

    yield rig
    for one in made:
        one.close()


@pytest.fixture
def rig(make: MakeRig) -> Rig:
    """A run over one relay."""
    return make()


@pytest.fixture
def patient_relay(monkeypatch: pytest.MonkeyPatch) -> None:
    """Relays that go on after a beat that is late: a busy machine may be at something else for a while."""
    monkeypatch.setattr(off_relay, "LONGEST_GAP", 60.0)
