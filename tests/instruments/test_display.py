"""A display on a wire: every cell accounted for, or no reading; and the same readings however the wire cut it."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlog.domain.reading import Outcome, Reading
from benchlog.errors import BadInput
from benchlog.instruments.display import Display
from benchlog.instruments.framer import FrameFramer
from benchlog.instruments.profile import find_profile, parse_profile
from benchlog.instruments.profile_frame import Digit, Frame
from benchlog.instruments.stream import CUT_OFF, Stream
from benchlog.simbench import segments

PROFILE = find_profile("segment-handheld")
FRAME = segments.frame("-012.34", ("m", "V", "DC"))
SECOND = 1_000_000_000
SHAPES: dict[str, tuple[str, ...]] = {
    "0": ("abcdef",),
    "1": ("bc",),
    "2": ("abdeg",),
    "3": ("abcdg",),
    "4": ("bcfg",),
    "5": ("acdfg",),
}
SHAPES |= {"6": ("acdefg",), "7": ("abc",), "8": ("abcdefg",), "9": ("abcdfg",), " ": ("",)}
SMALL = Frame(
    length=3,
    index="high",
    digit=(Digit(segments=("1.0", "1.1", "1.2", "1.3", "2.0", "2.1", "2.2")),),
    minus="2.3",
    shapes=SHAPES,
    marks={"3.0": "V"},
    idle=("3.1",),
)
"""Another layout, to show that nothing of the shipped one is in the code."""


def stream() -> Stream:
    return Stream(PROFILE, None, 0)


def feed(data: bytes) -> list[Reading]:
    return stream().feed(data, 1)


def small(*cells: int) -> str:
    return Display(SMALL).text(bytes(place << 4 | cell for place, cell in enumerate(cells, 1)))


@pytest.mark.parametrize(
    ("cells", "text"),
    [
        ((6, 0, 1), "1 V"),
        ((6, 8, 1), "-1 V"),
        ((6, 8, 3), "-1 V"),
        ((6, 0, 0), "1"),
        ((6, 0, 5), "<162035>"),
        ((7, 7, 1), "<172731>"),
        ((0, 0, 1), "<102031>"),
    ],
    ids=["digit", "minus", "idle cell", "no unit", "unknown cell", "no character", "blank"],
)
def test_another_layout_is_other_data(cells: tuple[int, ...], text: str) -> None:
    assert small(*cells) == text


def test_frames_are_found_wherever_we_join_in() -> None:
    readings = feed(FRAME[7:] + FRAME + FRAME)
    assert [reading.value for reading in readings] == [-0.01234, -0.01234]


def test_a_frame_that_breaks_off_is_said_and_the_next_one_read() -> None:
    readings = feed(FRAME[:6] + b"\xff\x00" + FRAME)
    assert [reading.outcome for reading in readings] == [Outcome.MALFORMED, Outcome.OK]
    assert readings[0].raw == f"<{FRAME[:6].hex()}>"


def test_a_frame_cut_off_is_not_completed_by_the_next_one() -> None:
    made = stream()
    assert made.feed(FRAME[:8], 0) == []
    assert made.feed(FRAME[8:], CUT_OFF + 1) == []
    assert [reading.value for reading in made.feed(FRAME, CUT_OFF + 2)] == [-0.01234]


def test_silence_tells_what_there_was_of_a_frame() -> None:
    made = stream()
    made.feed(FRAME[:3], 1)
    missing = made.expire(3 * SECOND)
    assert (missing.outcome, missing.raw) == (Outcome.MISSING, FRAME[:3].hex())


@pytest.mark.parametrize("number", ["1.2.3", "1 2", "12 ", "8-8", ""])
def test_a_number_with_gaps_or_two_points_is_none(number: str) -> None:
    digits = number.replace(".", "")
    cells = bytearray(segments.frame(digits or "     ", ("V", "DC")))
    if number.count(".") == 2:
        cells[7] |= 0x80
        cells[9] |= 0x80
    if number == "12 ":
        cells = bytearray(segments.frame("  12 ", ("V", "DC")))
    (reading,) = feed(bytes(cells))
    assert (reading.outcome, reading.value) == (Outcome.MALFORMED, None)


@given(
    st.lists(
        st.sampled_from([FRAME, FRAME[:5], b"\x00\xff", segments.frame("0.L", ("ohm",)), b"V\r\n"]),
        max_size=8,
    ),
    st.lists(st.integers(0, 999), max_size=8),
)
def test_split_anywhere_the_readings_are_the_same(pieces: list[bytes], cuts: list[int]) -> None:
    data = b"".join(pieces)
    places = sorted({0, len(data), *(cut % (len(data) + 1) for cut in cuts)})
    expected = [reading._replace(at=0) for reading in feed(data)]
    cut = stream()
    found = [one for n, (a, b) in enumerate(itertools.pairwise(places)) for one in cut.feed(data[a:b], n)]
    assert [reading._replace(at=0) for reading in found] == expected


@given(st.lists(st.binary(max_size=40), max_size=10))
def test_noise_never_raises(chunks: list[bytes]) -> None:
    made = stream()
    for n, chunk in enumerate(chunks):
        for reading in made.feed(chunk, n):
            assert (reading.value is not None) == (reading.outcome is Outcome.OK)


OTHER_WAYS = {
    segments.GLYPHS["6"]: 0b1111100,
    segments.GLYPHS["7"]: 0b0100111,
    segments.GLYPHS["9"]: 0b1100111,
}
"""Displays differ in how they write 6, 7 and 9; the far end knows one way of each."""
GLYPHS = [*segments.GLYPHS.values(), *OTHER_WAYS.values()]
LAMPS = [
    [byte >> 4 for byte in segments.frame("0", lamps)[10:]] for lamps in (("V", "DC"), ("k", "ohm", "HOLD"))
]
USUAL_CELLS = st.lists(st.sampled_from([0, 1, 2, 6, 7, 8, 11, 12, 13, 14, 15]), min_size=15, max_size=15)
DRAWN = st.tuples(
    st.lists(st.sampled_from(GLYPHS), min_size=5, max_size=5),
    st.integers(0, 31),
    st.one_of(st.sampled_from(LAMPS), st.lists(st.integers(0, 15), min_size=5, max_size=5)),
).map(
    lambda drawn: (
        [
            cell
            for n, glyph in enumerate(drawn[0])
            for cell in (glyph & 15, glyph >> 4 | (drawn[1] >> n & 1) << 3)
        ]
        + drawn[2]
    )
)


@given(st.one_of(USUAL_CELLS, DRAWN))
def test_a_value_comes_only_from_a_frame_that_the_far_end_would_draw_so(cells: list[int]) -> None:
    data = bytes(cell << 4 | place for place, cell in enumerate(cells, 1))
    (reading,) = feed(data)
    if reading.good:
        number, *lamps = reading.raw.split()
        drawn = segments.frame(number, tuple(lamps))
        for one, other in zip(_glyphs(data), _glyphs(drawn), strict=True):
            assert one in (other, OTHER_WAYS.get(other))
        assert data[10:] == drawn[10:]
        assert [byte >> 7 for byte in data[1:10:2]] == [byte >> 7 for byte in drawn[1:10:2]]


def _glyphs(data: bytes) -> list[int]:
    return [data[2 * n] >> 4 | (data[2 * n + 1] >> 4 & 7) << 4 for n in range(5)]


def test_a_framer_keeps_no_more_than_a_frame() -> None:
    framer = FrameFramer(15, "low")
    for byte in FRAME[:14] * 100:
        framer.feed(bytes([byte]))
        assert len(framer.rest) <= 15


# --- the layout's own faults ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("old", "new", "place", "word"),
    [
        ('minus = "2.3"', 'minus = "16.0"', "reply.frame.minus", "is no cell of this frame"),
        ('minus = "2.3"', 'minus = "2.2"', "reply.frame", 'uses the cell "2.2" 2 times'),
        ('minus = "2.3"', 'minus = "x"', "reply.frame.minus", "is no cell of this frame"),
        ('"1" = ["bc"]', '"1" = ["bx"]', 'reply.frame.shapes."1"', "is not made of segments"),
        ('"1" = ["bc"]', '"1" = ["abc"]', 'reply.frame.shapes."7"', 'looks like "1"'),
        ('"1" = ["bc"]', "", "reply.frame.shapes", "does not say how 1 is written"),
        ('"L" = ["def"]', '"LL" = ["def"]', 'reply.frame.shapes."LL"', "is not one character"),
        ('"12.0" = "n"', '"12.0" = "n o"', 'reply.frame.marks."12.0"', "is not one ASCII word"),
        (', "2.2"]', "]", "reply.frame.digit[1].segments", "names 6 cells"),
        ("length = 15", "length = 16", "reply.frame.length", "out of bounds"),
        ('kind = "stream"', 'kind = "meter"', "reply.form", "frames come unasked"),
        ('form = "frame"', 'form = "decorated"', "reply.frame", "has no place"),
        ('form = "frame"', 'form = "frame"\nprefix = "x"', "reply.prefix", "have no place around a frame"),
        ('overload = ["0L"', 'overload = ["<"', "reply.overload", "begins as an unreadable frame does"),
    ],
)
def test_each_fault_of_a_layout_names_its_key(old: str, new: str, place: str, word: str) -> None:
    assert old in PROFILE.text
    with pytest.raises(BadInput) as caught:
        parse_profile(PROFILE.text.replace(old, new, 1), "p.toml")
    found = {fault.place.removeprefix("p.toml: "): fault.problem for fault in caught.value.faults}
    assert place in found, found
    assert word in found[place]
