"""Writes resources/sounds/alarm.wav: one second of two tones in turn, made to be heard through a wall.

Each tone is a triangle with its third harmonic, so that small loudspeakers and older ears both get
their share. Integers alone, so that every machine writes the same bytes.
"""

import sys
import wave
from array import array
from pathlib import Path

RATE = 16_000
TONES = (1000, 1600)
"""Hz; both divide the rate into whole periods of a slot, so that nothing clicks."""
SLOT = RATE // 8
LOUD = 29_000


def triangle(frequency: int, at: int) -> int:
    """A triangle of `frequency` Hz at sample `at`, from -RATE to RATE."""
    phase = (4 * frequency * at + RATE) % (4 * RATE)
    return phase - RATE if phase < 2 * RATE else 3 * RATE - phase


def sample(at: int) -> int:
    """One sample of the whole second."""
    frequency = TONES[at // SLOT % 2]
    mixed = 3 * triangle(frequency, at) - triangle(3 * frequency, at)
    return LOUD * mixed // (4 * RATE)


def sound() -> bytes:
    """The second as 16-bit little-endian samples."""
    samples = array("h", map(sample, range(RATE)))
    if sys.byteorder == "big":
        samples.byteswap()
    return samples.tobytes()


def write(path: Path) -> None:
    """Write the sound as a WAV file."""
    with wave.open(str(path), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(RATE)
        out.writeframes(sound())


if __name__ == "__main__":
    write(Path(__file__).resolve().parent.parent / "resources" / "sounds" / "alarm.wav")
