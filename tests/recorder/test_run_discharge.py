"""A discharge as a run of its own: nothing is switched on, and the reservoirs are followed to the end."""

from collections.abc import Callable

from helpers.rig import Rig
from helpers.stand_ins import Switch
from helpers.watched import PLUS

from benchlog.domain.stages import State
from benchlog.recorder import messages
from benchlog.store import query
from benchlog.store.records import Ending

Make = Callable[..., Rig]
HEAD = 'kind = "discharge"'
STAGE = ("name='discharge', fraction=0.0, dwell=0.0",)


def falling(make: Make) -> tuple[Rig, Switch]:
    """A run whose one reservoir stands at 44 V."""
    switch = Switch("mains relay")
    rig = make(switch, traces=(PLUS,), limits=(), stages=STAGE, head=HEAD)
    rig.to_discharge = True
    rig.meters["+B"] = 44.0
    return rig, switch


def test_it_is_armed_without_a_proof_and_nothing_is_switched_on(make: Make) -> None:
    rig, switch = falling(make)
    path = rig.arm()
    assert rig.run.off.unproven()  # nothing was pulled in
    assert "on" not in switch.did
    rig.run.act("next")
    rig.until_state(State.TAIL)
    assert "on" not in switch.did
    assert not query.events(path, "on")


def test_it_stays_open_until_each_reservoir_was_seen_low_and_read_again(make: Make) -> None:
    rig, _ = falling(make)
    path = rig.arm()
    rig.run.act("next")
    rig.until_state(State.TAIL)
    volts = [44.0]

    def decay() -> bool:
        volts[0] *= 0.93
        rig.meters["+B"] = volts[0]
        return volts[0] < 0.05

    rig.until(decay, "the end of the curve")
    rig.answer("rebound")
    rig.until(rig.run.closed.is_set, "the close")
    closed = rig.close()
    assert closed is not None
    assert closed.outcome == Ending.COMPLETED
    (last,) = query.events(path, "closed")
    assert last.data["reservoirs"]["+B"]["charge"] == "stayed low"


def test_where_a_hand_is_the_off_switch_nobody_is_called_to_it(make: Make) -> None:
    hand = Switch("wall switch", "hand", automatic=False)
    rig = make(hand, traces=(PLUS,), limits=(), stages=STAGE, head=HEAD)
    rig.meters["+B"] = 44.0
    rig.arm()
    rig.run.act("next")
    rig.until_state(State.TAIL)
    assert "off" not in hand.did
    assert not rig.outbox.of(messages.Prompt)
