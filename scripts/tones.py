"""Writes resources/sounds/tone-*.wav: the short tones that say how a reading came out, with the eyes on the board.

Each differs from the others in shape (how many notes, rising or falling), not only in pitch, and none has the
pitches of the alarm. Integers alone, so that every machine writes the same bytes.
"""

import sys
import wave
from array import array
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from alarm_sound import RATE, triangle

SOUNDS = Path(__file__).resolve().parent.parent / "resources" / "sounds"
LOUD = 22_000
RISE = RATE * 4 // 1000
FALL = RATE * 12 // 1000
"""Samples over which a note swells and dies away: a note cut off clicks."""
WAKING = RATE * 30 // 1000
REST = RATE * 20 // 1000
"""Samples of silence before and after: a loudspeaker that slept loses the first of a tone, some players the last."""


@dataclass(frozen=True, slots=True)
class Note:
    """A note: Hz at its start and end (0 is a pause), milliseconds, per cent of full loudness.

    `buzz` makes it rough, `bell` lets it die away over its whole length.
    """

    first: int
    length: int
    last: int = 0
    loud: int = 100
    buzz: bool = False
    bell: bool = False


def pause(length: int) -> Note:
    """Silence of so many milliseconds."""
    return Note(0, length)


HIGH, MIDDLE = 1976, 659

TONES: dict[str, tuple[Note, ...]] = {
    "within": (Note(HIGH, 70),),
    "near-limit": (Note(HIGH, 70), pause(90), Note(HIGH, 60, loud=25)),
    "as-other-side": (Note(1319, 70), Note(HIGH, 80)),
    "ask": (Note(MIDDLE, 100), pause(60), Note(MIDDLE, 100)),
    "out": (Note(440, 330, last=220),),
    "look": (Note(523, 110), pause(30), Note(523, 240, last=880)),
    "refused": (Note(147, 240, buzz=True),),
    "hand": (Note(698, 170, loud=60, bell=True), Note(523, 340, loud=60, bell=True)),
    "ready": (Note(784, 110), Note(988, 110), Note(1175, 310, bell=True)),
    "warn": (Note(932, 110), Note(740, 110), pause(60), Note(932, 110), Note(740, 110)),
    "elsewhere": (Note(1175, 45), pause(45), Note(1175, 45), pause(45), Note(1175, 45)),
    "taken": (Note(1175, 50, loud=50),),
}
"""Every tone by its file's name."""


def samples(note: Note) -> Iterator[int]:
    """The samples of a note, swelling and dying away."""
    count = RATE * note.length // 1000
    last = note.last or note.first
    turned = 0  # Hz times samples: a glide adds up what each sample turns.
    for at in range(count):
        wave_at = _wave(turned, note.buzz)
        turned += note.first + (last - note.first) * at // count
        yield LOUD * wave_at // RATE * note.loud // 100 * _swell(note, at, count) // 1000


def _wave(turned: int, buzz: bool) -> int:
    """The wave where so much has turned, from -RATE to RATE: a triangle, its third harmonic raised, or a buzz."""
    if buzz:
        return max(-RATE, min(RATE, 5 * triangle(1, turned)))
    return (8 * triangle(1, turned) - triangle(1, 3 * turned)) // 9


def _swell(note: Note, at: int, count: int) -> int:
    """How loud a note of `count` samples is at one of them, in thousandths."""
    if not note.first:
        return 0
    edge = min(1000, 1000 * at // RISE, 1000 * (count - 1 - at) // FALL)
    left = 1000 * (count - at) // count if note.bell else 1000
    return edge * left // 1000 * left // 1000


def sound(name: str) -> bytes:
    """A tone as 16-bit little-endian samples."""
    held = array("h", [0] * WAKING)
    held.extend(one for note in TONES[name] for one in samples(note))
    held.extend([0] * REST)
    if sys.byteorder == "big":
        held.byteswap()
    return held.tobytes()


def write(folder: Path) -> None:
    """Write every tone as a WAV file."""
    for name in TONES:
        with wave.open(str(folder / f"tone-{name}.wav"), "wb") as out:
            out.setnchannels(1)
            out.setsampwidth(2)
            out.setframerate(RATE)
            out.writeframes(sound(name))


if __name__ == "__main__":
    write(SOUNDS)
