"""The dial of a variable transformer: not up in a proof, not up as the unit comes on, back to zero after off."""

from collections.abc import Callable

import pytest
from helpers.rig import Rig, in_thread, live, off_event
from helpers.stand_ins import Switch
from helpers.watched import BENCH_SUPPLY, STATE, VOLTS

from benchlog.domain.stages import State
from benchlog.errors import BadInput, Fault
from benchlog.recorder import messages
from benchlog.recorder.dial import BACK_TO_ZERO
from benchlog.store import query

Make = Callable[..., Rig]


class Proof:
    """A proof under way in a thread of its own."""

    def __init__(self, rig: Rig) -> None:
        self.faults: tuple[Fault, ...] = ()
        self.said: list[str] = []
        self._rig = rig
        self._thread = in_thread(self._prove)

    def _prove(self) -> None:
        try:
            self.said = self._rig.run.prove()
        except BadInput as error:
            self.faults = tuple(error.faults)

    def end(self) -> "Proof":
        """Wait until it is over."""
        self._rig.until(lambda: not self._thread.is_alive(), "the end of the proof")
        return self


def dials(rig: Rig) -> list[messages.Prompt]:
    """Where the person was asked to turn the dial back."""
    return [prompt for prompt in rig.outbox.of(messages.Prompt) if prompt.text == BACK_TO_ZERO]


class TestInTheProof:
    """A relay that is proven closes the circuit for a moment."""

    def test_a_dial_that_a_meter_shows_up_ends_it_and_nothing_counts_as_proven(self, make: Make) -> None:
        relay = Switch()
        relay.asks = ("relay_clicked",)
        rig = make(relay, Switch("wall switch", "hand", automatic=False))
        proof = Proof(rig)
        clicked = rig.prompt("relay_clicked")
        rig.meters["mains"] = 230.0
        rig.until(lambda: "off" in relay.did, "the relay to be let go")
        rig.prompts.answer(clicked, True)
        (fault,) = proof.end().faults
        assert (fault.place, fault.problem) == (
            "dial",
            "was left up: mains read 230.0 V while the off-switch was proven",
        )
        assert [name for name, _ in rig.run.off.unproven()] == ["mains relay", "wall switch"]

    @pytest.mark.parametrize("volts", [0.0, 40.0, 92.0])
    def test_at_the_lowest_stage_or_below_it_goes_on(self, make: Make, volts: float) -> None:
        relay = Switch()
        relay.asks = ("relay_clicked",)
        rig = make(relay)
        proof = Proof(rig)
        rig.meters["mains"] = volts
        rig.answer("relay_clicked")
        assert proof.end().said == ["mains relay works"]

    def test_what_a_person_said_of_it_is_kept_with_the_run(self, make: Make) -> None:
        relay = Switch()
        relay.asks = ("set_dial",)
        rig = make(relay)
        proof = Proof(rig)
        rig.answer("set_dial")
        proof.end()
        for name in rig.meters:
            rig.read(name)
        path = rig.run.arm(rig.request(), bench="", profiles={}, program="")
        rig.until(lambda: query.events(path, "told"), "the event")
        (told,) = query.events(path, "told")
        assert told.text == "told: the variable transformer was at zero when the off-switch was proven"


class TestComingOn:
    """The word is held against the meter."""

    def test_a_dial_left_up_is_cut_with_that_reason(self, rig: Rig) -> None:
        rig.arm()
        rig.run.act("next")
        rig.answer("set_dial")
        rig.show(mains=230.0, lamp=20.0, rail=40.0)
        rig.until(lambda: rig.outbox.of(messages.Trip), "the trip")
        assert off_event(rig).text == "mains 230.0 V where 92.00 V was set: the dial was left up"
        assert rig.fired()

    def test_next_is_refused_and_told_where_the_source_stands(self, rig: Rig) -> None:
        live(rig)
        rig.show(mains=180.0, lamp=20.0, rail=30.0)
        rig.until(lambda: rig.outbox.of(messages.Stage)[-1].astray, "where it stands")
        rig.until_state(State.DWELLING)
        assert rig.outbox.of(messages.Stage)[-1].astray == "the source stands at 180.0 V, not at 92.00 V"
        with pytest.raises(BadInput, match=r"the source stands at 180\.0 V, not at 92\.00 V"):
            rig.run.act("next")


class TestAfterOff:
    """It is asked back once off was seen, and before the next start where nobody answered."""

    def test_it_is_asked_back_once_off_was_seen_and_what_was_told_is_kept(self, rig: Rig) -> None:
        path = live(rig)
        rig.run.act("off")
        assert dials(rig) == []
        rig.goes_off()
        rig.answer("set_dial")
        assert [prompt.data for prompt in dials(rig)] == [{"fraction": 0.0, "volts": 0.0, "after": True}]
        assert not rig.run._means.left_up.dial
        rig.until(lambda: query.events(path, "told")[1:], "the event")
        assert query.events(path, "told")[-1].text == "told: the variable transformer is back at zero"

    def test_not_answered_it_stays_up_for_the_next_run(self, rig: Rig) -> None:
        live(rig)
        rig.run.act("off")
        rig.goes_off()
        rig.prompt("set_dial")
        rig.close()
        assert rig.run._means.left_up.dial

    def test_a_run_that_was_never_on_leaves_nothing_up(self, rig: Rig) -> None:
        rig.arm()
        rig.run.cut("cut by the operator")
        rig.goes_off()
        rig.until(lambda: rig.run.stages.off_is_known, "off to be seen")
        assert (dials(rig), rig.run._means.left_up.dial) == ([], False)

    def test_a_proof_by_hand_asks_first_for_a_dial_that_was_left_up(self, make: Make) -> None:
        rig = make(Switch("wall switch", "hand", automatic=False))
        rig.run._means.left_up.dial = True
        refused = Proof(rig)
        rig.answer("set_dial", yes=False)
        assert refused.end().faults[0].problem == "was left up by the run before"
        assert rig.switches[0].did == []
        proof = Proof(rig)
        rig.answer("set_dial")
        assert proof.end().said == ["wall switch works"]
        assert not rig.run._means.left_up.dial

    def test_a_supply_has_no_dial(self, make: Make) -> None:
        stages = ("name='10 V', volts=10.0, current_limit=0.2, dwell=1.0",)
        rig = make(traces=(VOLTS, STATE), limits=(), source=BENCH_SUPPLY, stages=stages)
        rig.run._means.left_up.dial = True
        assert rig.run.prove() == ["mains relay works"]
