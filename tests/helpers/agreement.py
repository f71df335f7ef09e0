"""Holds a session's readings against what the witness says its meters sent, reply by reply."""

from collections.abc import Sequence

from helpers.witness import Sight

from benchlog.domain.reading import Outcome
from benchlog.store.records import ReadingRow


def where_they_agree(kept: Sequence[str], sent: Sequence[Sight], armed_ns: int) -> tuple[int, int]:
    """The stretch of `sent` that `kept` is, reply by reply; fails with the first that differs.

    What was sent after arming must be kept from its first reply on. The one reply that was under way in
    the moment of arming may have come in time or not.
    """
    first = next((i for i, sight in enumerate(sent) if sight["t"] >= armed_ns), len(sent))
    texts = [sight["text"] for sight in sent]
    for start in (first, max(first - 1, 0)):
        if texts[start : start + len(kept)] == list(kept):
            return start, start + len(kept)
    stretch = texts[first:]
    differs = next((i for i, pair in enumerate(zip(kept, stretch, strict=False)) if pair[0] != pair[1]), None)
    if differs is None:
        raise AssertionError(f"{len(kept)} were kept, only {len(stretch)} were sent")
    raise AssertionError(f"reply {differs} differs: kept {kept[differs:][:3]}, sent {stretch[differs:][:3]}")


def raw_texts(rows: Sequence[ReadingRow]) -> list[str]:
    """The replies as the session kept them; a reading that stands for no reply has none."""
    return [row.raw for row in rows if row.outcome != Outcome.MISSING]


def numbers_run_on(rows: Sequence[ReadingRow]) -> bool:
    """Whether sequence numbers count up by one from one, and times never go back."""
    numbers = [row.seq for row in rows]
    times = [row.t for row in rows]
    return numbers == list(range(1, len(rows) + 1)) and times == sorted(times)
