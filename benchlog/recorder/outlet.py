"""Where everything a run says goes out: to the client at once, and through the writer to its file."""

import threading
from collections.abc import Callable
from typing import Any

from benchlog.domain.guard import Broken
from benchlog.domain.plan import Plan
from benchlog.domain.reading import Reading
from benchlog.recorder.messages import Batch, Event, Outgoing, Readings, Trip
from benchlog.recorder.writer import Writer
from benchlog.store.records import EventRow, ReadingRow, TraceRow

Row = tuple[int, int, float | None, str]


class Outlet:
    """Numbers the readings of each trace and passes them, and events, to client and writer.

    `send` never blocks. Until a session is open there is no writer, and times count from the recorder's
    start; `begin` starts both anew.
    """

    def __init__(self, send: Callable[[Outgoing], None]) -> None:
        self.send = send
        self.zero = 0
        self.writer: Writer | None = None
        self._numbers: dict[str, int] = {}
        self._seq: dict[str, int] = {}
        self._fresh: dict[str, list[Row]] = {}
        self._lock = threading.Lock()

    def begin(self, plan: Plan, writer: Writer, moment: Callable[[], tuple[int, int]]) -> tuple[int, int]:
        """A session is open from now on: number its readings from one, and count its time from zero.

        `moment` gives plan and wire time, and so does this: of the begin. It is asked under the lock, so that no
        reading that came after it was passed on before.
        """
        with self._lock:
            self._numbers = {row.name: row.id for row in trace_rows(plan)}
            self._seq = {}
            self._fresh = {}
            begun = moment()
            self.zero, _ = begun
            self.writer = writer
        return begun

    def end(self) -> None:
        """The session takes no more rows."""
        with self._lock:
            self.writer = None

    def reading(self, name: str, reading: Reading, t: int) -> None:
        """One reading of a trace, or of a meter that no trace shows, at plan time `t`."""
        with self._lock:
            since = t - self.zero
            if since < 0:
                return
            seq = self._seq.get(name, 0) + 1
            self._seq[name] = seq
            value, outcome = reading.value, reading.outcome.value
            row = (seq, since, value, outcome)
            fresh = self._fresh.get(name)
            if fresh is None:
                self._fresh[name] = [row]
            else:
                fresh.append(row)
            # Under the lock, so that a trace's rows reach the file in the order of their numbers.
            number = self._numbers.get(name)
            if self.writer is not None and number is not None:
                self.writer.add_reading(ReadingRow(number, seq, since, value, outcome, reading.raw))

    def flush(self) -> None:
        """Send what came since the last flush."""
        with self._lock:
            if not self._fresh:
                return
            fresh, self._fresh = self._fresh, {}
        self.send(Readings(batches=[Batch(name, rows) for name, rows in fresh.items()]))

    def trip(self, broken: Broken) -> None:
        """A limit broke, or something as bad happened: tell and keep it."""
        trip = Trip(
            t=max(broken.t - self.zero, 0),
            wire_ns=broken.wire,
            trace=broken.trace,
            limit=broken.limit,
            text=broken.text,
            value=broken.value,
            bound=broken.bound,
        )
        self.send(trip)
        data = {"trace": trip.trace, "limit": trip.limit, "value": trip.value, "bound": trip.bound}
        self.event(broken.t, "trip", trip.text, wire_ns=broken.wire, **data)

    def event(self, t: int, kind: str, text: str, **data: Any) -> None:
        """Something happened at plan time `t`: tell and keep it."""
        since = max(t - self.zero, 0)
        self.send(Event(t=since, kind=kind, text=text, data=data))
        writer = self.writer
        if writer is not None:
            writer.add_event(EventRow(since, kind, text, data))


def trace_rows(plan: Plan) -> list[TraceRow]:
    """The traces of a plan as a session declares them, numbered from one in the plan's order."""
    return [
        TraceRow(
            id=i,
            name=trace.name,
            unit=trace.measures.unit,
            function=trace.measures.value,
            role=trace.role.value,
            side=trace.side,
            meter=trace.job,
            critical=trace.critical,
        )
        for i, trace in enumerate(plan.trace, start=1)
    ]
