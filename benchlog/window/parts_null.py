"""Nulling the leads: the tips touch each other, the walking meter reads them, and they are taken off from then on."""

from datetime import UTC, datetime

from PySide6.QtCore import QObject

from benchlog.domain.leads import LeadNull
from benchlog.domain.reading import Function, Outcome
from benchlog.errors import WATCH, BenchlogError
from benchlog.recorder.client import messages
from benchlog.store.ids import new_id
from benchlog.window.parts_in_hand import InHand

NEARLY_NOTHING = -0.05
"""Shorted leads on a good meter may read so many ohms below nothing: then nothing is taken off."""


class Nulling(QObject):
    """Reads shorted leads with the walking meter in use, and has the recorder take them off."""

    def __init__(self, hand: InHand) -> None:
        super().__init__()
        self._hand = hand
        self._runner = hand.work.runner
        self._runner.taken.connect(self._taken)
        self._runner.noticed.connect(self._noticed)

    def begin(self) -> None:
        """Read the leads now; the tips must touch each other."""
        hand = self._hand
        problem = self._cannot()
        if not problem and hand.may_be_on:
            hand.refuse_while_on(f"{hand.on_words}: only volts are read now.")
            return
        if problem:
            hand.say(problem, refused=True)
            return
        request = messages.Take(
            id=0, reading=new_id(), job=hand.job, designator="leads", function=Function.OHMS.value, part=""
        )
        hand.nulling = request.reading
        hand.say("Reading the leads: hold the tips together.")
        self._runner.take(request, lambda error: self._failed(str(error)))

    def _cannot(self) -> str:
        hand = self._hand
        if not hand.job:
            return "No walking meter is on the bench: open a bench (F3)."
        if hand.waiting is not None:
            return f"{hand.waiting.row.designator} is still being read."
        return "The leads are still being read: hold the tips together." if hand.nulling else ""

    def _taken(self, message: messages.Taken) -> None:
        if message.reading != self._hand.nulling:
            return
        self._runner.kept(message.reading)
        if message.outcome != Outcome.OK or message.value is None or not message.settled:
            self._failed("The leads read nothing steady: hold the tips together, and try again.")
            return
        # What was taken off already belongs to the leads as well.
        value = message.value + (message.nulled or 0.0)
        value = 0.0 if NEARLY_NOTHING <= value < 0.0 else value
        job, utc = message.job, message.utc

        def nulled() -> None:
            self._hand.nulling = ""
            time = datetime.fromisoformat(utc).astimezone(UTC)
            self._hand.nulls[job] = LeadNull(value=value, time=time)
            self._hand.say("")

        request = messages.Null(id=0, job=job, value=value, utc=utc)
        self._runner.null(request, nulled, lambda error: self._failed(str(error)))

    def _noticed(self, notice: messages.Notice) -> None:
        """A meter that gave nothing, or a recorder that is gone."""
        if self._hand.nulling and notice.place in (self._hand.job, WATCH):
            self._failed(str(BenchlogError(notice.place, notice.problem, notice.fix)))

    def _failed(self, sentence: str) -> None:
        self._hand.nulling = ""
        self._hand.say(sentence, refused=True)
