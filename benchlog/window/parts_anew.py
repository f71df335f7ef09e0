"""What the readings of a part prove once another measure holds for it: each is judged anew, in its own round. No Qt."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from benchlog.domain.asking import question_of
from benchlog.domain.judging import judge
from benchlog.domain.unit import PartReading, Visit
from benchlog.domain.verdict import Judgement
from benchlog.errors import BadInput
from benchlog.store import edit, query_unit
from benchlog.store.library import Library
from benchlog.store.query_unit import Expected, KeptReading, PartLine
from benchlog.window.parts_book import is_turned


@dataclass(frozen=True, slots=True)
class Pair:
    """One measure of a part, and the same one of the part on the other side."""

    line: PartLine
    other: PartLine | None = None


@dataclass(frozen=True, slots=True)
class Anew:
    """A reading, what it proves now, and what it is held against, as written."""

    reading: str
    judgement: Judgement
    expected: str


def should_read(pairs: Sequence[Pair], text: str, origin: str) -> tuple[Pair, ...]:
    """The measures of a part as they are once the first of them should read that; without text, once nobody says so."""
    first = pairs[0].line
    said = tuple(one for one in first.expected if one.measure != first.measure.word)
    if text:
        said = (*said, Expected("", text, origin, first.measure.word))
    return tuple(replace(pair, line=replace(pair.line, expected=said)) for pair in pairs)


def judged_anew(folder: Path, visit: Visit, pairs: Sequence[Pair]) -> tuple[Anew, ...]:
    """What the readings of a visit prove by what its measures should read now, each in its own round.

    Of measures behind the first, whose limits may follow from it, only what comes out otherwise than before.
    """
    found: list[Anew] = []
    read = _of_item(folder, visit, pairs[0].line)
    for at, pair in enumerate(pairs):
        other = _of_item(folder, visit, pair.other) if pair.other is not None else []
        own = [one for one in read if one.reading.measure == pair.line.measure.word]
        for round_ in dict.fromkeys(one.reading.round for one in own):
            here = [one for one in read if one.reading.round == round_]
            there = [one for one in other if one.reading.round == round_]
            found += _of_round(folder, visit, pair.line, here, there, always=at == 0)
    return tuple(found)


def _of_round(
    folder: Path,
    visit: Visit,
    line: PartLine,
    here: Sequence[KeptReading],
    there: Sequence[KeptReading],
    *,
    always: bool,
) -> Iterator[Anew]:
    """One measure in one round; `here` and `there` are both sides with all their measures."""
    word = line.measure.word
    own = [one for one in here if one.reading.measure == word]
    forward = _forward(own)
    if not forward:
        return
    newest = forward[-1]
    turned = own[-1] if is_turned(own[-1]) else None
    mirror = _forward(one for one in there if one.reading.measure == word)
    try:
        question = question_of(
            line.subject,
            newest.reading,
            other=mirror[-1].reading if mirror else None,
            turned=turned.reading if turned is not None else None,
            dead_board=query_unit.boards_state(folder, visit, newest.reading.taken).holds,
            beside=_others(here, word),
            beside_other=_others(there, word),
            earlier=forward[-2].reading if len(forward) > 1 else None,
        )
        judgement = judge(question)
    except BadInput:
        return  # something is still to be said of it before anything can be
    expected = question.expectation.text if question.expectation is not None else ""
    before = newest.judgement
    if not always and before is not None and before.verdict == judgement.verdict:
        return
    for one in (newest, turned):
        if one is not None:
            yield Anew(one.reading.id, judgement, expected)


def _of_item(folder: Path, visit: Visit, line: PartLine) -> list[KeptReading]:
    """The readings of one item in one visit that count, of all its measures."""
    return [
        one
        for one in query_unit.readings_of(folder, line.part.id)
        if one.reading.fitted == line.fitted.id and one.reading.visit == visit.id and not one.withdrawn
    ]


def _forward(kept: Iterable[KeptReading]) -> list[KeptReading]:
    return [one for one in kept if not is_turned(one)]


def _others(here: Sequence[KeptReading], word: str) -> list[PartReading]:
    """The newest reading of each other measure."""
    newest = {one.reading.measure: one.reading for one in _forward(here) if one.reading.measure != word}
    return list(newest.values())


def keep(library: Library, anew: Iterable[Anew]) -> None:
    """Add what was found; older verdicts stay."""
    for one in anew:
        edit.judge_reading(library, one.reading, one.judgement, one.expected)
