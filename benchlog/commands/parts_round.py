"""A round over the parts of a unit: take each with the walking meter, judge it, keep it.

Parts are taken in pairs, one side after the other, so that each can be held against its mirror image
while it is still in mind; a part whose other side comes later is judged again then.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Any

from benchlog.commands.conduct import Ear
from benchlog.domain.asking import IN_CIRCUIT, LIFTED, REVERSED, question_of
from benchlog.domain.designator import Mirror, fold
from benchlog.domain.judging import judge, turn_leads
from benchlog.domain.partsorder import in_pairs
from benchlog.domain.quantity import show
from benchlog.domain.unit import PartReading, Round, Unit
from benchlog.domain.verdict import Judgement, Question, Verdict
from benchlog.errors import WATCH, Gone
from benchlog.recorder import messages
from benchlog.recorder.client import Recorder
from benchlog.store import edit, query_unit
from benchlog.store.ids import new_id
from benchlog.store.library import Library
from benchlog.store.query_unit import PartLine
from benchlog.store.taken import reading_of


@dataclass(frozen=True, slots=True)
class Result:
    """One part with what it read, the leads turned round as well where that was needed, and what that proves."""

    line: PartLine
    reading: PartReading
    judgement: Judgement
    turned: PartReading | None = None

    @property
    def designator(self) -> str:
        """The part's designator, with what is measured at it where that is not its own value."""
        return self.line.designator

    @property
    def should_read(self) -> str:
        """What was expected, as written."""
        expected = self.line.subject.expectation(self.reading.conditions)
        return expected.text if expected is not None else ""

    @property
    def read(self) -> str:
        """What it read, for a person."""
        if self.reading.value is None:
            return "-OL" if self.reading.negative else "OL"
        return show(self.reading.value, self.reading.unit)


class PartsRound:
    """Takes the parts of a unit one after another; the probes are put on by `probe`."""

    def __init__(
        self,
        library: Library,
        recorder: Recorder,
        ear: Ear,
        *,
        job: str,
        probe: Callable[[str, str], None],
        dead_board: bool | None = None,
    ) -> None:
        """`dead_board` says whether somebody looked and found the boards without charge; None: nobody did."""
        self._library = library
        self._recorder = recorder
        self._ear = ear
        self._job = job
        self._probe = probe
        self._dead_board = dead_board
        self._results: dict[str, Result] = {}

    def take_all(self, unit: Unit, pass_: Round, lines: Iterable[PartLine] | None = None) -> Iterator[Result]:
        """Take and judge every part in pairs, or `lines` as they come; each result, again where another changed it."""
        mirror = Mirror(unit.mirror, unit.pairs)
        wanted = paired(query_unit.parts(self._library.folder, unit.id), mirror) if lines is None else lines
        # A loss wants a bridge and its frequency, a leakage its voltage and its minutes: no two probes take these.
        for line in [one for one in wanted if not one.measure.needs]:
            result = self._take(line, pass_, self._other(mirror, line))
            self._results[fold(result.designator)] = result
            yield result
            first = self._other(mirror, line)
            if first is not None:
                again = self._judge(first.line, first.reading, result.reading, first.turned)
                if again.verdict is not first.judgement.verdict:
                    edit.judge_reading(self._library, first.reading.id, again, first.should_read)
                    changed = replace(first, judgement=again)
                    self._results[fold(first.designator)] = changed
                    yield changed

    def _other(self, mirror: Mirror, line: PartLine) -> Result | None:
        other = other_name(mirror, line)
        return self._results.get(fold(other)) if other else None

    def _take(self, line: PartLine, pass_: Round, other: Result | None) -> Result:
        mirror = other.reading if other else None
        reading = self._read(line, pass_, reverse=False)
        judgement = self._judge(line, reading, mirror)
        turned: PartReading | None = None
        result = Result(line, reading, judgement)
        edit.keep_reading(self._library, reading, judgement, result.should_read)
        self._recorder.post(messages.Kept(id=0, reading=reading.id))
        if turn_leads(self._question(line, reading, mirror), judgement):
            turned = self._read(line, pass_, reverse=True)
            judgement = self._judge(line, reading, mirror, turned)
            edit.keep_reading(self._library, turned, judgement, result.should_read)
            edit.judge_reading(self._library, reading.id, judgement, result.should_read)
            self._recorder.post(messages.Kept(id=0, reading=turned.id))
        return replace(result, judgement=judgement, turned=turned)

    def _read(self, line: PartLine, pass_: Round, *, reverse: bool) -> PartReading:
        part = line.part
        self._probe(line.designator, "reverse" if reverse else "")
        self._recorder.post(messages.StayAwake(id=0))
        request = messages.Take(
            id=0,
            reading=new_id(),
            job=self._job,
            designator=line.designator,
            function=line.measure.function.value,
            part=line.fitted.id,
            measure=line.measure.word,
        )
        self._recorder.request(request)
        body = self._wait_for(request.reading)
        conditions = {
            "circuit": IN_CIRCUIT if part.in_circuit else LIFTED,
            "leads": REVERSED if reverse else "",
        }
        return reading_of({**body, "round": pass_.id, "visit": pass_.visit, "conditions": conditions})

    def _wait_for(self, reading: str) -> dict[str, Any]:
        while True:
            message = self._ear.wait()
            if isinstance(message, messages.Taken) and message.reading == reading:
                return {name: getattr(message, name) for name in message.__struct_fields__}
            if isinstance(message, messages.Notice) and message.place in (self._job, WATCH):
                raise Gone(message.place, message.problem, message.fix)

    def _judge(
        self,
        line: PartLine,
        reading: PartReading,
        other: PartReading | None,
        turned: PartReading | None = None,
    ) -> Judgement:
        return judge(self._question(line, reading, other, turned))

    def _question(
        self,
        line: PartLine,
        reading: PartReading,
        other: PartReading | None,
        turned: PartReading | None = None,
    ) -> Question:
        part = line.part.id
        return question_of(
            line.subject,
            reading,
            other=other,
            turned=turned,
            dead_board=self._dead_board,
            beside=[
                one.reading
                for one in self._results.values()
                if one.line.part.id == part and one.line.measure.word != line.measure.word
            ],
        )


def paired(lines: Iterable[PartLine], mirror: Mirror) -> list[PartLine]:
    """The measures with each followed by the same one of the other side."""
    return in_pairs(lines, lambda line: line.designator, lambda line: other_name(mirror, line))


def other_name(mirror: Mirror, line: PartLine) -> str | None:
    """What the same measure of the part on the other side is called."""
    other = mirror.other(line.part.designator)
    return replace(line.part, designator=other).called(line.measure.word) if other else None


def counted(results: list[Result]) -> dict[str, int]:
    """How many parts got each verdict, the last one of each part."""
    last = {result.designator: result.judgement.verdict for result in results}
    return {verdict.value: n for verdict in Verdict if (n := list(last.values()).count(verdict))}
