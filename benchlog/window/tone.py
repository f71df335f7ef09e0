"""Tones: how a reading came out, heard with the eyes on the board; each is a file in resources/sounds."""

from enum import StrEnum

from benchlog.domain.verdict import Judgement, Verdict


class Tone(StrEnum):
    """A tone; its value is the name of its file, which scripts/tones.py writes."""

    WITHIN = "within"
    """A short high pip."""
    NEAR_LIMIT = "near-limit"
    """The same with a second, quiet pip: the limit is nearer than the meter's error."""
    AS_OTHER_SIDE = "as-other-side"
    """Two notes up: passed, by the other side."""
    ASK = "ask"
    """Two mid notes: something is to be done before it can be told."""
    OUT = "out"
    """A low falling note."""
    LOOK = "look"
    """A rising question: held until it is confirmed."""
    REFUSED = "refused"
    """A buzz: not taken."""
    HAND = "hand"
    """A soft bell of two notes, as at a door: somebody is to do something."""
    READY = "ready"
    """A chime: the next stage is offered."""
    WARN = "warn"
    """Two notes down, twice."""
    ELSEWHERE = "elsewhere"
    """Three quick pips: the keys go to another program."""
    TAKEN = "taken"
    """A soft pip: kept, and nothing to say of it."""


OF_VERDICT = {
    Verdict.WITHIN: Tone.WITHIN,
    Verdict.AS_OTHER_SIDE: Tone.AS_OTHER_SIDE,
    Verdict.DRIFTED: Tone.TAKEN,
    Verdict.HIGH: Tone.OUT,
    Verdict.LOW: Tone.OUT,
    Verdict.OPEN: Tone.OUT,
    Verdict.SHORT: Tone.OUT,
    Verdict.UNPROVEN: Tone.ASK,
    Verdict.UNDECIDED: Tone.ASK,
    Verdict.UNSTABLE: Tone.ASK,
    Verdict.NO_CONTACT: Tone.ASK,
    Verdict.NOT_YET: Tone.ASK,
    Verdict.WRONG_FUNCTION: Tone.REFUSED,
}
"""The tone of each result."""


def tone_of(judgement: Judgement) -> Tone:
    """The tone of what a reading proved."""
    if judgement.verdict is Verdict.WITHIN and judgement.near_limit:
        return Tone.NEAR_LIMIT
    return OF_VERDICT[judgement.verdict]
