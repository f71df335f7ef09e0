"""A run behind a supply that the program sets: its volts, its limits, and what comes of one that cannot be set."""

from collections.abc import Callable

import pytest
from helpers.rig import Rig
from helpers.stand_ins import Switch
from helpers.watched import BENCH_SUPPLY, VOLTS

from benchlog.domain.stages import State

Make = Callable[..., Rig]


@pytest.fixture
def board(make: Make) -> Rig:
    return make(
        Switch("bench supply", "supply"),
        traces=(VOLTS,),
        limits=(),
        source=BENCH_SUPPLY,
        stages=(
            "name='10 V', volts=10.0, current_limit=0.2, dwell=1.0",
            "name='20 V', volts=20.0, current_limit=0.3, dwell=1.0",
        ),
    )


def test_a_supply_is_set_with_limit_and_protection_before_it_is_on(board: Rig) -> None:
    board.arm()
    board.run.act("next")
    assert board.settings == [(10.0, 0.2, 11.0)]
    assert "on" not in board.switches[0].did
    board.setting.pop()("")
    assert board.switches[0].did == ["prove", "on"]
    assert [event.text for event in board.outbox.events("set", "on")] == [
        "the supply took its settings",
        "switched on",
    ]
    board.meters["volts"] = 10.0
    board.until_state(State.READY)
    board.run.act("next")
    assert board.settings[1] == (20.0, 0.3, 22.0)
    board.setting.pop()("bench supply: holds 18 V.")
    # Some outputs may have followed and others not.
    assert board.state is State.TAIL
    assert board.outbox.events("off")[0].text == "the supply could not be set: bench supply: holds 18 V."
    assert board.fired()


def test_a_supply_that_cannot_be_set_is_not_switched_on(board: Rig) -> None:
    board.arm()
    board.run.act("next")
    board.setting.pop()("bench supply: output 1 was told 10 V and holds 0 V.")
    assert board.state is State.STANDING
    assert "on" not in board.switches[0].did
