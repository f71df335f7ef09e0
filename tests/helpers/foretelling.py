"""Forecasts by the real arithmetic, without the process that makes them."""

from benchlog.electronics.answering import answer
from benchlog.electronics.asked import Question
from benchlog.window.forecaster_link import ForecasterLink, Then


class AtOnce(ForecasterLink):
    """Answers by the real arithmetic, in this process and at once; while `hangs`, never."""

    def __init__(self) -> None:
        super().__init__()
        self.asked: list[Question] = []
        self.hangs = False

    def ask(self, question: Question, then: Then) -> None:
        self.asked.append(question)
        if not self.hangs:
            then(answer(question))
