"""What every command opens that reads a unit with instruments: the bench, and the visit that it goes to."""

from pathlib import Path

from benchlog.domain.unit import Visit
from benchlog.errors import BadInput, Fault
from benchlog.recorder import messages
from benchlog.recorder.client import Recorder
from benchlog.store import edit, query_unit
from benchlog.store.library import Library


def open_bench(recorder: Recorder, text: str, name: str, profiles: list[Path], rate: float = 1.0) -> None:
    """Attach every instrument of a bench; BadInput names all that do not answer."""
    request = messages.OpenBench(id=0, text=text, place=name, profiles=[str(p) for p in profiles], rate=rate)
    meters = recorder.request(request, timeout=60.0)["meters"]
    faults = [
        Fault(job, said or f"is {state}", "check its address, its power and its cable")
        for job, (state, said) in meters.items()
        if state != "open"
    ]
    if faults:
        raise BadInput.of(faults)


def visit_of(library: Library, unit: str) -> Visit | None:
    """The visit a run belongs to: the unit's open one, or a new one; None where no unit was named."""
    if not unit:
        return None
    found = query_unit.find_unit(library.folder, unit)
    last = query_unit.last_visit(library.folder, found.id)
    return last if last is not None and not last.closed else edit.open_visit(library, found.id)
