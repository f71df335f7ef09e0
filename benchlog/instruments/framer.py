"""Bytes to lines or frames, however the wire cut them."""

OVERLONG = b"(a longer line than the instrument ever sends)"
"""Stands for a line that ran past the limit; no form of reply can read it as a number."""


class LineFramer:
    """Cuts a byte stream into lines; the buffer never grows past `limit` and one chunk.

    Attributes:
        rest: bytes of a line whose end has not come yet.
        end: what ends a line.
    """

    __slots__ = ("_limit", "_skipping", "end", "rest")

    def __init__(self, end: bytes, limit: int) -> None:
        self.end = end
        self._limit = limit
        self._skipping = False
        self.rest = b""

    def feed(self, data: bytes) -> list[bytes]:
        """The lines that `data` completes, without their ends; one too long comes as `OVERLONG`."""
        *lines, self.rest = (self.rest + data).split(self.end)
        if self._skipping and lines:
            lines[0] = OVERLONG
            self._skipping = False
        if len(self.rest) >= self._limit + len(self.end):
            self._skipping = True
        if self._skipping:
            # Keep just enough to recognise a line end that the wire cut in two.
            self.rest = self.rest[len(self.rest) - len(self.end) + 1 :]
        limit = self._limit
        return [line if len(line) <= limit else OVERLONG for line in lines]

    def takes_whole(self, data: bytes) -> bool:
        """Whether `data` is one whole line with its end and nothing else waits: the usual chunk."""
        length = data.find(self.end)
        return 0 <= length <= self._limit and length + len(self.end) == len(data) and self.empty

    @property
    def empty(self) -> bool:
        """Whether nothing is waiting for its line end."""
        return not self.rest and not self._skipping

    def clear(self) -> bytes:
        """Forget a line that has begun; give what there was of it."""
        rest, self.rest, self._skipping = self.rest, b"", False
        return rest


class FrameFramer:
    """Cuts a byte stream into frames of `length` bytes, each of which carries its place in half of it.

    `index` says which half. Bytes are thrown away until one says that it is the first; a frame that
    breaks off comes as far as it got, since something was said and lost.

    Attributes:
        rest: bytes of a frame whose last has not come yet.
    """

    __slots__ = ("_length", "_shift", "rest")

    def __init__(self, length: int, index: str) -> None:
        self._length = length
        self._shift = 4 if index == "high" else 0
        self.rest = b""

    def feed(self, data: bytes) -> list[bytes]:
        """The frames that `data` completes or breaks off."""
        found = []
        for n, byte in enumerate(data):
            place = byte >> self._shift & 15
            if place != len(self.rest) + 1 and self.rest:
                found.append(self.clear())
            if place == len(self.rest) + 1:
                self.rest += data[n : n + 1]
            if len(self.rest) == self._length:
                found.append(self.clear())
        return found

    @property
    def empty(self) -> bool:
        """Whether nothing is waiting for its last byte."""
        return not self.rest

    def clear(self) -> bytes:
        """Forget a frame that has begun; give what there was of it."""
        rest, self.rest = self.rest, b""
        return rest
