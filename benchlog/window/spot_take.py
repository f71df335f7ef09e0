"""Takes the spot reading of a stage with the walking meter, by the key or pedal that takes a part."""

from PySide6.QtCore import QObject

from benchlog.errors import BenchlogError
from benchlog.recorder.client import messages
from benchlog.store.ids import new_id
from benchlog.window.run_view import RunView
from benchlog.window.work import Work


def walking_of(view: RunView) -> str:
    """The meter that the plan leaves free to walk, by its job; empty where there is none."""
    if view.bench is None or view.plan is None:
        return ""
    watching = {trace.job for trace in view.plan.trace}
    free = [one.job for one in view.bench.meter if one.function is None and one.job not in watching]
    return free[0] if free else ""


class SpotTake(QObject):
    """One spot at a time; what is being taken stands in the view until it came, or did not."""

    def __init__(self, work: Work) -> None:
        super().__init__()
        self._runner = work.runner
        self._reading = ""
        self._job = ""
        work.runner.taken.connect(self._taken)
        work.runner.noticed.connect(self._noticed)

    def take(self) -> bool:
        """Take the spot that is asked for; false where no meter can."""
        view = self._runner.view
        job, spot, plan = walking_of(view), view.spot, view.plan
        if not job or not spot or plan is None or view.stage is None:
            return False
        if view.taking:
            return True
        (asked,) = (one for one in plan.stage[view.stage.index].spot if one.name == spot)
        self._reading, self._job, view.taking = new_id(), job, spot
        request = messages.Take(
            id=0, reading=self._reading, job=job, designator=spot, function=asked.function.value
        )
        self._runner.take(request, self._refused)
        return True

    def _taken(self, taken: messages.Taken) -> None:
        """The run keeps it, or has said why not: it is no part's, and nobody else takes it in."""
        if taken.reading == self._reading:
            self._runner.kept(taken.reading)
            self._over()

    def _noticed(self, notice: messages.Notice) -> None:
        if self._reading and notice.place == self._job:
            self._over()

    def _refused(self, error: BenchlogError) -> None:
        self._over()
        self._runner.refused.emit(error)

    def _over(self) -> None:
        self._reading = ""
        self._runner.view.taking = ""
        self._runner.changed.emit()
