"""Which trace of a plan a reading belongs to: by its meter's job, its channel and its function."""

from collections import Counter

from benchlog.domain.plan import Plan
from benchlog.domain.reading import Reading


class Places:
    """Where the readings of a plan's meters go."""

    def __init__(self, plan: Plan) -> None:
        self.jobs = frozenset(trace.job for trace in plan.trace)
        """The meters that watch the unit; no other work is theirs while the plan is loaded."""
        self.guarded = frozenset(trace.job for trace in plan.trace if trace.critical)
        self._names = {(trace.job, trace.channel, trace.measures): trace.name for trace in plan.trace}
        wanted = Counter((trace.job, trace.channel) for trace in plan.trace)
        self._only = {
            (trace.job, trace.channel): trace.name
            for trace in plan.trace
            if wanted[trace.job, trace.channel] == 1
        }

    def name(self, job: str, reading: Reading) -> str | None:
        """The trace it belongs to; None where none wants it."""
        return self._names.get((job, reading.channel, reading.function))

    def left_on_another(self, job: str, reading: Reading) -> str | None:
        """The trace that wants another function of this meter; None where there is none, or more than one.

        An output of a supply has no dial: its volts, amps and state come in turn, whatever the plan wants of them.
        """
        return None if reading.channel else self._only.get((job, ""))
