"""Readings are numbered once and go out twice: to the client in batches, to the file in the same order."""

import threading
from pathlib import Path

import pytest
from helpers.kept import head
from helpers.stand_ins import Outbox, volts
from helpers.watched import DIRECT, MINUS, PLUS, plan_of

from benchlog.domain.reading import Outcome
from benchlog.recorder.messages import Batch, Event, Readings
from benchlog.recorder.outlet import Outlet, trace_rows
from benchlog.recorder.writer import Writer
from benchlog.store import query
from benchlog.store.append import SessionWriter
from benchlog.store.records import EventRow

PLAN = plan_of(PLUS, MINUS, source=DIRECT)


@pytest.fixture
def outbox() -> Outbox:
    return Outbox()


@pytest.fixture
def outlet(outbox: Outbox) -> Outlet:
    return Outlet(outbox.send)


def begin(outlet: Outlet, folder: Path, zero: int = 0) -> Writer:
    """Open a session for the plan."""
    session = SessionWriter.create(folder, head())
    session.declare(trace_rows(PLAN))
    writer = Writer(session, {1: "+B", 2: "-B"}, lambda _: None, lambda _: None)
    assert outlet.begin(PLAN, writer, lambda: (zero, 7)) == (zero, 7)
    return writer


def batches(outbox: Outbox) -> list[Batch]:
    return [batch for message in outbox.of(Readings) for batch in message.batches]


def test_the_traces_of_a_plan_are_declared_in_its_order() -> None:
    plus, minus = trace_rows(PLAN)
    assert (plus.id, plus.name, plus.unit, plus.function, plus.role, plus.meter, plus.critical) == (
        1,
        "+B",
        "V",
        "volts_dc",
        "rail",
        "+B",
        True,
    )
    assert (minus.id, minus.name) == (2, "-B")


def test_before_a_run_readings_go_to_the_client_alone(outlet: Outlet, outbox: Outbox) -> None:
    outlet.reading("lamp", volts(1.5), 100)
    outlet.reading("lamp", volts(None), 200)
    assert outbox.sent == []
    outlet.flush()
    assert batches(outbox) == [Batch("lamp", [(1, 100, 1.5, "ok"), (2, 200, None, Outcome.OVERLOAD.value)])]


def test_a_flush_without_readings_sends_nothing(outlet: Outlet, outbox: Outbox) -> None:
    outlet.flush()
    outlet.reading("lamp", volts(1.5), 100)
    outlet.flush()
    outlet.flush()
    assert len(outbox.sent) == 1


def test_a_run_numbers_its_readings_from_one_and_times_them_from_its_begin(
    outlet: Outlet, outbox: Outbox, tmp_path: Path
) -> None:
    outlet.reading("+B", volts(1.0), 100)
    writer = begin(outlet, tmp_path, zero=1000)
    outlet.reading("+B", volts(2.0), 999)  # Begun before the run: none of its own.
    outlet.reading("+B", volts(3.0), 1000)
    outlet.reading("parts meter", volts(4.0), 1001)
    outlet.reading("+B", volts(5.0, raw="+5.0E0"), 1002)
    outlet.flush()
    assert batches(outbox) == [
        Batch("+B", [(1, 0, 3.0, "ok"), (2, 2, 5.0, "ok")]),
        Batch("parts meter", [(1, 1, 4.0, "ok")]),
    ]
    writer.close("completed", "", 5)
    path = next(tmp_path.glob("*.db"))
    assert [(row.seq, row.t, row.value, row.raw) for row in query.rows(path, 1)] == [
        (1, 0, 3.0, "3.0"),
        (2, 2, 5.0, "+5.0E0"),
    ]
    assert query.rows(path, 2) == []


def test_an_event_is_told_and_kept(outlet: Outlet, outbox: Outbox, tmp_path: Path) -> None:
    outlet.event(50, "proof", "relay works", switch="relay")
    writer = begin(outlet, tmp_path, zero=1000)
    outlet.event(1200, "off", "by the operator", was_on=True)
    outlet.event(900, "meter", "lamp: gone")
    outlet.end()
    outlet.event(1300, "late", "after its end")
    assert outbox.sent == [
        Event(t=50, kind="proof", text="relay works", data={"switch": "relay"}),
        Event(t=200, kind="off", text="by the operator", data={"was_on": True}),
        Event(t=0, kind="meter", text="lamp: gone"),
        Event(t=300, kind="late", text="after its end"),
    ]
    writer.close("completed", "", 5)
    assert query.events(next(tmp_path.glob("*.db"))) == (
        EventRow(200, "off", "by the operator", {"was_on": True}),
        EventRow(0, "meter", "lamp: gone", {}),
    )


def test_a_run_may_end_while_its_meters_go_on(outlet: Outlet, outbox: Outbox, tmp_path: Path) -> None:
    stop = threading.Event()

    def measure(name: str) -> None:
        while not stop.is_set():
            outlet.reading(name, volts(1.0), 1)
            outlet.event(1, "note", name)

    threads = [threading.Thread(target=measure, args=(name,)) for name in ("+B", "-B")]
    for thread in threads:
        thread.start()
    counts = []
    for number in range(10):
        folder = tmp_path / str(number)
        writer = begin(outlet, folder)
        outlet.end()
        writer.close("completed", "", 5)
        counts.append([row.seq for row in query.rows(next(folder.glob("*.db")), 1)])
    stop.set()
    for thread in threads:
        thread.join()
    assert all(seqs == list(range(1, len(seqs) + 1)) for seqs in counts)
