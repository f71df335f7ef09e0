"""The far end's account against the near end's file: nothing missing, nothing invented, the tail there."""

import pytest
from helpers.agreement import numbers_run_on, raw_texts, where_they_agree
from helpers.demo_run import DemoRun
from helpers.witness import Sight

from benchlog.store.records import TraceRow

pytestmark = pytest.mark.timeout(600)

HANDHELDS = {"amplifier": "mains", "by-hand": "+B", "lamp-ladder": "mains"}
SUPPLY = "bench supply"
TAIL = {"amplifier": 10.0, "by-hand": 15.0, "lamp-ladder": 15.0, "board": 10.0}
"""Plan seconds of logging after the off, as the plans have it."""
SECOND = 1_000_000_000


def sent_by(demo: DemoRun, job: str) -> list[Sight]:
    """What the meter of that job sent as readings, by the witness."""
    if HANDHELDS.get(demo.case.example) == job:
        return demo.witness.lines_of(job)
    return demo.witness.replies_of(job)


def metered(demo: DemoRun) -> list[TraceRow]:
    """The traces that one meter alone gives."""
    return [trace for trace in demo.traces if trace.meter != SUPPLY]


def test_every_reply_of_every_meter_is_in_the_session_as_it_was_sent(demo: DemoRun) -> None:
    stored: dict[str, int] = {}
    for line in demo.of("stored"):
        stored |= line["traces"]
    for trace in metered(demo):
        rows, sent = demo.rows(trace), sent_by(demo, trace.meter)
        start, end = where_they_agree(raw_texts(rows), sent, demo.armed_ns)
        assert end - start > 10
        assert numbers_run_on(rows)
        # Up to the last `stored` nothing may be missing; what was told to be stored is there.
        assert len(rows) >= stored[trace.name] > 0


def test_what_a_supply_said_is_in_the_session_and_nothing_else(demo: DemoRun) -> None:
    """Two connections speak to it at once, so that its replies pair up with no question for sure."""
    supplied = [trace for trace in demo.traces if trace.meter == SUPPLY]
    assert bool(supplied) == (demo.case.example == "board")
    sent = [sight["text"] for sight in demo.witness.saw("reply", job=SUPPLY, after=demo.armed_ns - SECOND)]
    for trace in supplied:
        rows = demo.rows(trace)
        assert numbers_run_on(rows)
        if trace.role != "supply_state":
            replies = iter(sent)
            assert all(any(text == reply for reply in replies) for text in raw_texts(rows)), trace.name
    # Setting it and switching it on each throw one question away that was under way on the same wire; besides,
    # at either end one answer may fall outside.
    acts = len([event for event in demo.events if event.kind in ("set", "on")])
    for trace in supplied:
        if trace.role == "supply_amps":
            asked = len(_currents_asked_for(demo, trace))
            assert asked - 1 - acts <= len(demo.rows(trace)) <= asked + 1, trace.name


def _currents_asked_for(demo: DemoRun, trace: TraceRow) -> list[Sight]:
    output = "1" if "+" in trace.name else "2"
    asked = demo.witness.saw("command", job=SUPPLY, text=f"MEAS:CURR? (@{output})", after=demo.armed_ns)
    return [sight for sight in asked if sight["t"] < demo.closed_ns]


def test_the_tail_after_the_off_is_there_to_its_end(demo: DemoRun) -> None:
    off, closed = demo.event("off"), demo.event("closed")
    assert closed.t - off.t >= TAIL[demo.case.example] * SECOND
    for trace in metered(demo):
        rows, sent = demo.rows(trace), sent_by(demo, trace.meter)
        silent = demo.witness.saw("silent", job=trace.meter)
        assert silent or rows[-1].t > off.t, trace.name
        if trace.meter != HANDHELDS.get(demo.case.example):
            # A meter that is asked has one answer under way at most.
            _, end = where_they_agree(raw_texts(rows), sent, demo.armed_ns)
            assert len([sight for sight in sent[end:] if sight["t"] < demo.closed_ns]) <= 1, trace.name


def test_both_ends_tell_one_time(demo: DemoRun) -> None:
    """By a clock that both ends share, a reading came after the reply before it had been sent."""
    rate = demo.state.head.rate
    for trace in metered(demo):
        rows = [row for row in demo.rows(trace) if row.raw]
        start, end = where_they_agree(raw_texts(rows), sent_by(demo, trace.meter), demo.armed_ns)
        sent = sent_by(demo, trace.meter)[start:end]
        for row, before in zip(rows[1:], sent, strict=False):
            assert demo.armed_ns + row.t / rate > before["t"], trace.name
