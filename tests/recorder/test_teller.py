"""What a person tells a run is kept with its time: observations, and spot readings with their result."""

from collections.abc import Callable
from typing import Any

import pytest
from helpers.rig import Rig, live
from helpers.watched import LAMP, MAINS, PLUS

from benchlog.domain.stages import State
from benchlog.errors import BadInput
from benchlog.recorder import messages

Make = Callable[..., Rig]

STAGES = (
    "name='40 %', fraction=0.4, dwell=1.0, wait=[{observed='lamp dark'}],"
    " spot=[{name='base of Q5', function='volts_dc', should_read='12..15 mV'}]",
    "name='100 %', fraction=1.0, dwell=1.0",
)


@pytest.fixture
def rig(make: Make) -> Rig:
    rig = make(traces=(MAINS, LAMP, PLUS), stages=STAGES)
    live(rig)
    return rig


def test_a_stage_goes_on_once_all_is_told(rig: Rig) -> None:
    rig.run.teller.observe("lamp dark")
    rig.run.teller.spot("base of Q5", "13")
    rig.until_state(State.READY)
    (seen,), (spot,) = rig.outbox.events("observed"), rig.outbox.events("spot")
    assert seen.text == "observed: lamp dark"
    assert not seen.data["suggests_off"]
    assert spot.text == "base of Q5: 13 mV, within"
    assert (spot.data["value"], spot.data["result"], spot.data["by"]) == (0.013, "within", "typed")


def test_a_skipped_spot_is_kept_as_skipped(rig: Rig) -> None:
    rig.run.teller.observe("lamp dark")
    rig.run.teller.spot("base of Q5", "")
    rig.until_state(State.READY)
    assert rig.outbox.events("spot")[0].text == "base of Q5: skipped"


def test_a_smell_suggests_off_and_never_switches_off(rig: Rig) -> None:
    rig.run.teller.observe("smell")
    assert rig.outbox.events("observed")[0].text == "observed: smell; switch off unless you know why"
    assert not rig.run.ended


def test_a_walking_meter_reads_a_spot_of_the_stage_and_nothing_else(rig: Rig) -> None:
    taken = messages.Taken(
        reading="r1",
        designator="base of Q5",
        part="",
        job="walking",
        function="volts_dc",
        outcome="ok",
        value=0.018,
        unit="V",
        raw="0.018",
        utc="2020-01-01T00:00:00+00:00",
    )
    assert rig.run.teller.spot_taken(taken)
    (spot,) = rig.outbox.events("spot")
    assert (spot.text, spot.data["by"]) == ("base of Q5: 18 mV, high", "walking")
    assert not rig.run.teller.spot_taken(messages.Taken(**{**_body(taken), "designator": "R5"}))
    assert not rig.run.teller.spot_taken(messages.Taken(**{**_body(taken), "part": "p1"}))


def _body(taken: messages.Taken) -> dict[str, Any]:
    return {name: getattr(taken, name) for name in taken.__struct_fields__}


def test_what_nobody_knows_is_refused(rig: Rig) -> None:
    with pytest.raises(BadInput, match="nothing to tell by a key"):
        rig.run.teller.observe("green smoke")
    with pytest.raises(BadInput, match="is no spot of stage"):
        rig.run.teller.spot("R5", "1")
    rig.run.cut("enough")
    with pytest.raises(BadInput, match="write a note"):
        rig.run.teller.observe("hum")
