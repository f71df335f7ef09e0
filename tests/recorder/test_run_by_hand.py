"""A run in the hands of a person: what they write down, what they take beside it, and a pedal that is held."""

from collections.abc import Callable

import pytest
from helpers.rig import LAMP_HIGH, Rig, off_event
from helpers.stand_ins import Switch
from helpers.watched import DIRECT, PLUS, plan_text

from benchlog.domain.reading import Function
from benchlog.domain.stages import State
from benchlog.errors import BadInput
from benchlog.recorder import messages
from benchlog.store import query

Make = Callable[..., Rig]

LATCHED = BadInput("foot", "is pressed", "let it go")


def test_nothing_goes_up_while_a_pedal_is_latched_and_at_the_last_stage_it_goes_off_all_the_same(
    rig: Rig,
) -> None:
    rig.arm()
    rig.against = LATCHED
    with pytest.raises(BadInput, match="foot: is pressed"):
        rig.run.act("next")
    assert rig.state is State.STANDING
    rig.against = None
    rig.go_up(92.0)
    rig.until_state(State.READY)
    rig.against = LATCHED
    with pytest.raises(BadInput, match="foot: is pressed"):
        rig.run.act("next")
    assert rig.run.stages.index == 0
    rig.against = None
    rig.go_up(230.0)
    rig.until_state(State.READY)
    rig.against = LATCHED
    rig.run.act("next")
    assert off_event(rig).text == "all stages done"


@pytest.mark.parametrize("automatic", [True, False])
def test_a_pedal_latched_since_next_was_asked_keeps_the_unit_off(make: Make, automatic: bool) -> None:
    rig = make(Switch(automatic=automatic))
    rig.arm()
    rig.run.act("next")
    number = rig.prompt("set_dial")
    rig.against = LATCHED
    rig.prompts.answer(number, True)
    assert rig.state is State.STANDING
    assert rig.switches[0].did == ["prove"]
    assert rig.outbox.of(messages.Prompt)[-1].kind == "set_dial"
    assert rig.outbox.events("on")[0].text == "foot: is pressed; let it go."


def test_a_remark_is_kept_with_its_time(rig: Rig) -> None:
    with pytest.raises(BadInput, match="note: no run is open"):
        rig.run.teller.remark("1", "hum")
    path = rig.arm()
    rig.run.teller.remark("0192", "hum on the left")
    rig.close()
    (kept,) = query.remarks(path)
    assert (kept.id, kept.text) == ("0192", "hum on the left")
    assert rig.outbox.events("remark")[0].text == "hum on the left"


def test_a_remark_that_took_its_time_stands_where_it_began(rig: Rig) -> None:
    path = rig.arm()
    rig.run.teller.remark("1", "at once")
    rig.run.teller.remark("2", "written long", ago=3000.0)
    rig.run.teller.remark("3", "nonsense", ago=float("inf"))
    rig.until(lambda: len(query.remarks(path)) == 3, "the remarks")
    at = {remark.text: remark.t for remark in query.remarks(path)}
    assert (at["written long"], at["nonsense"]) == (0, 0)
    assert at["at once"] > 0


def test_no_part_is_taken_with_a_meter_that_watches_nor_in_ohms_beside_a_live_unit(rig: Rig) -> None:
    with pytest.raises(BadInput, match="lamp watches the unit"):
        rig.run.check_take("lamp", Function.VOLTS_AC)
    rig.run.check_take("parts meter", Function.OHMS)
    rig.arm()
    with pytest.raises(BadInput, match="ohms is not measured while a run is open"):
        rig.run.check_take("parts meter", Function.OHMS)
    for function in (Function.VOLTS_DC, Function.VOLTS_AC):
        rig.run.check_take("parts meter", function)


def test_a_direct_plan_needs_no_lamp(make: Make) -> None:
    rig = make(traces=(PLUS,), limits=(), source=DIRECT)
    assert LAMP_HIGH not in plan_text(PLUS, source=DIRECT)
    rig.arm()
    rig.run.act("next")
    rig.answer("set_dial")
    rig.show(mains=0.0, lamp=0.0, rail=17.4)
    # Nobody meters the mains: the person's word ends the move.
    rig.until(lambda: rig.run.stages.state is State.READY, "the end of the dwell")
