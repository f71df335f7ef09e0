"""Whether rails fall on purpose: the unit was put off for practice or for a change, and the run goes on."""

from benchlog.domain.stages import Stages, State

_WAITS_FOR_OFF = (State.DRILL, State.GOING_OFF, State.CHANGING)


def falls_on_purpose(stages: Stages) -> bool:
    """Whether a person was asked to switch the unit off, or it is off for now and may come on again."""
    if stages.state in _WAITS_FOR_OFF:
        return True
    between = stages.live or (stages.state is State.STANDING and stages.asked_on)
    return between and stages.guard.feed.on_since is None
