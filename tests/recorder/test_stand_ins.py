"""The stand-ins of these tests do what they are trusted to do."""

import threading

import pytest
from helpers.stand_ins import UNKNOWN, VERIFIED, Bell, Instrument, Outbox, Switch, says, volts

from benchlog.domain.reading import Outcome
from benchlog.errors import BenchlogError, Gone
from benchlog.recorder import messages


def test_an_instrument_says_what_it_is_told_and_can_be_woken() -> None:
    instrument = Instrument()
    instrument.says.put(volts(12.5))
    assert [reading.value for reading in instrument.step(30.0)] == [12.5]
    assert instrument.step(0.001) == []
    instrument.wake()
    assert instrument.step(30.0) == []
    instrument.says.put(Gone("lamp", "is unplugged"))
    with pytest.raises(Gone):
        instrument.step(30.0)


def test_an_instrument_hangs_until_it_may_go_on() -> None:
    instrument = Instrument()
    instrument.hangs.set()
    thread = threading.Thread(target=instrument.step, args=(0.001,))
    thread.start()
    thread.join(0.05)
    assert thread.is_alive()
    instrument.goes_on.set()
    thread.join()


def test_a_reading_without_a_number_is_beyond_the_range() -> None:
    assert volts(None).outcome is Outcome.OVERLOAD
    assert volts(1.0, at=5).at == 5


def test_a_switch_notes_what_is_done_with_it() -> None:
    switch, told = Switch(), list[str]()
    switch.holds_on = True
    switch.fault = "no"
    switch.switch_on(told.append)
    assert told == []
    switch.on()
    switch.fire()
    switch.close()
    assert (switch.did, told) == (["on", "off", "close"], ["no"])
    assert switch.confirm(says(VERIFIED)) is UNKNOWN
    switch.finds = None
    assert switch.confirm(says(VERIFIED)) is VERIFIED


def test_a_switch_asks_for_its_proof_and_takes_no_for_an_answer() -> None:
    switch = Switch("relay")
    assert switch.prove(lambda *_: False) == "relay works"
    switch.asks = ("relay_clicked",)
    assert switch.prove(lambda *_: True) == "relay works"
    with pytest.raises(BenchlogError, match="relay_clicked was denied"):
        switch.prove(lambda *_: False)
    switch.broken = Gone("relay", "is unplugged")
    with pytest.raises(Gone):
        switch.prove(lambda *_: True)


def test_a_bell_sounds_until_it_is_quieted() -> None:
    bell = Bell()
    assert not bell.sounding
    bell.sound()
    assert bell.sounding
    bell.quiet()
    assert not bell.sounding


def test_an_outbox_sorts_what_it_took() -> None:
    outbox = Outbox()
    outbox.send(messages.Beat(n=1))
    outbox.send(messages.Event(t=0, kind="off", text="off"))
    outbox.send(messages.Event(t=0, kind="trip", text="lamp"))
    assert [beat.n for beat in outbox.of(messages.Beat)] == [1]
    assert [event.text for event in outbox.events("trip")] == ["lamp"]
    assert len(outbox.events()) == 2
