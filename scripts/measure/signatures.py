"""The ten fault signatures on the simulated bench: how each run ends, and how long after its fault was true."""

from collections.abc import Iterator

from helpers.signature_came import Came
from helpers.signature_run import play
from helpers.signatures import SIGNATURES, Signature

from measure.table import Line
from measure.terms import Terms

QUICKLY = 6
"""Every so many-th of them is played by a quick run."""


def played(terms: Terms) -> Iterator[Line]:
    """Each signature, one after the other: seconds from its fault true at the far end to the cut or the warning."""
    for signature in SIGNATURES[:: terms.many(1, QUICKLY)]:
        came = play(signature.name, terms.folder / signature.name)
        clock = "real" if came.limit == "lost" else "plan"
        delay = came.delay if came.broke_at else None
        met = came.outcome == signature.outcome and came.stages[-1] in signature.stages
        what = f"{signature.number}. {signature.name}"
        note = (
            f"{came.outcome} at {came.stages[-1]}, {_why(signature, came)}; {clock} seconds, off {came.off}"
        )
        yield Line(what, "fault to cut", delay, "s", goal=signature.outcome, met=met, note=note)


def _why(signature: Signature, came: Came) -> str:
    if came.cut_at:
        return came.reason
    warned = [said for said in came.warned if signature.says and signature.says in said]
    return f"warned: {warned[0]}" if warned else came.reason
