"""The handheld that sends its display's segments: 15 bytes, the lower half of each its place, four cells above.

Digit n takes the bytes 2n-1 (a b c d, a lowest) and 2n (e f g and its point); the first digit's point is
the minus sign. Bytes 11 to 15 light the annunciators.
"""

GLYPHS = {
    "0": 0b0111111, "1": 0b0000110, "2": 0b1011011, "3": 0b1001111, "4": 0b1100110, "5": 0b1101101,
    "6": 0b1111101, "7": 0b0000111, "8": 0b1111111, "9": 0b1101111, " ": 0, "-": 0b1000000, "L": 0b0111000,
}  # fmt: skip
"""Bit 0 is segment a, bit 6 is g."""
LAMPS = (
    ("DC", "AC", "HOLD", "REL"),
    ("n", "u", "m", "k"),
    ("M", "V", "A", "ohm"),
    ("F", "Hz", "degC", "DIODE"),
    ("MIN", "MAX", "BATT", "AUTO"),
)
"""What bytes 11 to 15 light, lowest cell first."""
DIGITS = 5
POINT = 8


def frame(number: str, lamps: tuple[str, ...]) -> bytes:
    """The bytes that show a number such as `-012.34`, or `0.L`, with these annunciators lit."""
    cells = [0] * (2 * DIGITS)
    if number.startswith("-"):
        cells[1] |= POINT
    shown = number.lstrip("+-")
    glyphs = shown.replace(".", "").rjust(DIGITS)
    for place, glyph in enumerate(glyphs):
        cells[2 * place] |= GLYPHS[glyph] & 15
        cells[2 * place + 1] |= GLYPHS[glyph] >> 4
    if "." in shown:
        behind = len(shown) - shown.index(".") - 1
        cells[2 * (DIGITS - behind) + 1] |= POINT
    cells += [sum(1 << bit for bit, lamp in enumerate(row) if lamp in lamps) for row in LAMPS]
    return bytes(cell << 4 | place for place, cell in enumerate(cells, 1))


def number_of(value: float) -> str:
    """What five digits show of a value: three ranges, then OL; a display never shows -0."""
    size = abs(value)
    if size >= 1000.0:
        return "-0.L" if value < 0 else "0.L"
    decimals = 4 if size < 10.0 else 3 if size < 100.0 else 2
    return f"{round(value, decimals) or 0.0:.{decimals}f}"
