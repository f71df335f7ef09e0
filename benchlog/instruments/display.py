"""A frame of segments to the text its display shows: `-012.34 m V DC HOLD`.

Only what the profile's layout accounts for in full is text: every byte in its place, every digit one
of the known shapes, every lit cell one that means something. Anything else is no reading.
"""

from benchlog.instruments.profile_frame import SEGMENTS, Frame, cell_at

UNREADABLE = "<"
"""Begins the text of a frame that shows nothing readable; no form of reply begins so."""


class Display:
    """Reads frames of one layout."""

    def __init__(self, frame: Frame) -> None:
        self._length = frame.length
        self._shift, self._index = (0, 4) if frame.index == "high" else (4, 0)
        self._digits = [(_bit(digit.point), [_bit(cell) for cell in digit.segments]) for digit in frame.digit]
        self._minus = _bit(frame.minus)
        self._marks = [(_bit(cell), word) for cell, word in frame.marks.items()]
        self._shapes = {
            sum(1 << SEGMENTS.index(segment) for segment in set(way)): shape
            for shape, ways in frame.shapes.items()
            for way in ways
        }
        named = [bit for _, bits in self._digits for bit in bits] + [bit for bit, _ in self._marks]
        named += [_bit(cell) for cell in frame.idle] + [point for point, _ in self._digits] + [self._minus]
        self._known = 0
        for bit in named:
            self._known |= bit

    def text(self, data: bytes) -> str:
        """What a frame shows; the bytes in hexadecimal between < and > where that cannot be told."""
        lit = self._lit(data)
        if lit is None or lit & ~self._known:
            return f"{UNREADABLE}{data.hex()}>"
        shown = self._shown(lit)
        if shown is None:
            return f"{UNREADABLE}{data.hex()}>"
        words = [word for bit, word in self._marks if lit & bit]
        return " ".join([("-" if lit & self._minus else "") + shown, *words])

    def _lit(self, data: bytes) -> int | None:
        """All cells as bits, four to a byte; None where a byte is not in its place."""
        if len(data) != self._length:
            return None
        cells = 0
        for n, byte in enumerate(data):
            if byte >> self._index & 15 != n + 1:
                return None
            cells |= (byte >> self._shift & 15) << 4 * n
        return cells

    def _shown(self, lit: int) -> str | None:
        """The digits with their point; None where one is no character, or a number has gaps or two points."""
        text = ""
        for point, bits in self._digits:
            shape = self._shapes.get(sum(1 << n for n, bit in enumerate(bits) if lit & bit))
            if shape is None:
                return None
            text += "." + shape if lit & point else shape
        bare = text.strip()
        if not bare or text.count(".") > 1:
            return None
        # Blanks stand in front of a number and around a word; anywhere else a digit is missing.
        gap = " " in bare or (bare[-1].isdigit() and text[-1] == " ")
        return None if gap else bare


def _bit(cell: str) -> int:
    """A cell as one bit among all of a frame's; 0 for none."""
    byte, bit = cell_at(cell)
    return 1 << 4 * byte + bit if byte >= 0 else 0
