"""How things die in the middle of a live power-up, and the seconds until the far end was off.

Each act needs a scene that is live; it gives the moment of the death. `seconds_to_off` is the whole of it,
for whoever wants the number: `seconds_to_off("board", recorder_killed, folder)`.
"""

from collections.abc import Callable
from pathlib import Path

from helpers.scene import Scene, scene, seconds

Death = Callable[[Scene], int]
"""Something dies; the moment in monotonic nanoseconds."""


def recorder_killed(live: Scene) -> int:
    """SIGKILL of the recorder."""
    return live.kill(live.recorder)


def recorder_frozen(live: Scene) -> int:
    """SIGSTOP of the recorder: it is there and does nothing."""
    return live.stop(live.recorder)


def recorder_told_to_end(live: Scene) -> int:
    """SIGTERM of the recorder."""
    return live.terminate(live.recorder)


def parent_killed(live: Scene) -> int:
    """SIGKILL of the program that started the recorder."""
    return live.kill(live.driver.pid)


def parent_frozen(live: Scene) -> int:
    """SIGSTOP of the program that started the recorder: after five seconds it counts as dead."""
    return live.stop(live.driver.pid)


DEATHS: dict[str, Death] = {
    death.__name__: death
    for death in (recorder_killed, recorder_frozen, recorder_told_to_end, parent_killed, parent_frozen)
}


def seconds_to_off(example: str, death: Death, home: Path) -> float:
    """Real seconds from a death to the unit seen off at the far end, in a fresh live run."""
    with scene(example, home) as made:
        died = death(made.is_live())
        return seconds(died, made.witness.goes_off(after=died)["t"])
