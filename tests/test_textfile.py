"""Reading people's TOML files: every fault at once, each with its place, and nothing but BadInput."""

import dataclasses
from collections.abc import Iterator
from datetime import UTC, date, datetime
from enum import StrEnum
from pathlib import Path
from typing import ClassVar

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlog import textfile
from benchlog.errors import BadInput
from benchlog.textfile import Faults, key, parse, read


class Colour(StrEnum):
    RED = "red"
    DARK_BLUE = "dark_blue"


@dataclasses.dataclass(frozen=True, slots=True)
class Step:
    name: str = key("what the step is called")
    dwell: float = key("how long it is held", unit="s", low=0.0, high=3600.0)
    from_: str = key("where it comes from", default="sheet", choices=("sheet", "mirror"))
    colour: Colour = key("the lamp's colour", default=Colour.RED)
    count: int = key("how often", default=1, low=1)
    level: float | None = key("how far", default=None, high=1.0)

    def faults(self) -> Iterator[tuple[str, str, str]]:
        if self.name == "twice" and self.count != 2:
            yield "count", "does not fit the name", "write 2"
        if self.name == "nothing":
            yield "", "is a step without a name", "give it one"


@dataclasses.dataclass(frozen=True, slots=True)
class Sheet:
    FILE: ClassVar[str] = "benchlog sheet"
    VERSION: ClassVar[int] = 2

    name: str = key("the sheet's name")
    on: bool = key("whether it counts", default=True)
    sizes: tuple[float, ...] = key("sizes", default=(), low=0.0)
    table: dict[str, int] = key("numbers by name", default_factory=dict)
    step: tuple[Step, ...] = key("the steps", default=())
    best: Step | None = key("the best step", default=None)


@dataclasses.dataclass(frozen=True, slots=True)
class Plain:
    size: float
    name: str = "plain"


HEAD = 'file = "benchlog sheet 2"\nname = "x"\n'


def places(text: str, shape: type = Sheet) -> list[str]:
    with pytest.raises(BadInput) as caught:
        parse(text, "s.toml", shape)
    return [fault.place for fault in caught.value.faults]


def fault(text: str, shape: type = Sheet) -> str:
    with pytest.raises(BadInput) as caught:
        parse(text, "s.toml", shape)
    assert len(caught.value.faults) == 1
    return str(caught.value)


def test_a_whole_file_is_read() -> None:
    made = parse(
        HEAD
        + """
        on = false
        sizes = [1, 2.5]
        table = { a = 1, "b c" = 2 }
        best = { name = "b", dwell = 1 }
        [[step]]
        name = "first"
        dwell = 10
        from = "mirror"
        colour = "dark_blue"
        [[step]]
        name = "second"
        dwell = 0.5
        level = 1
        """,
        "s.toml",
        Sheet,
    )
    assert made == Sheet(
        name="x",
        on=False,
        sizes=(1.0, 2.5),
        table={"a": 1, "b c": 2},
        best=Step(name="b", dwell=1.0),
        step=(
            Step(name="first", dwell=10.0, from_="mirror", colour=Colour.DARK_BLUE),
            Step(name="second", dwell=0.5, level=1.0),
        ),
    )
    assert isinstance(made.step[0].dwell, float)


def test_a_shape_without_kind_or_key_is_read() -> None:
    assert parse("size = 2", "p.toml", Plain) == Plain(2.0)
    assert fault('size = 2\nfile = "x"', Plain).startswith("s.toml: file: is not a known key")
    assert fault("", Plain) == "s.toml: size: is missing."


def test_all_faults_come_at_once_with_their_places() -> None:
    text = """
        file = "benchlog sheet 1"
        on = 1
        sizes = [1, "2", -1.0]
        table = { a = 1.5 }
        best = 3
        nmae = "x"
        [[step]]
        dwell = 1
        [[step]]
        name = 3
        dwell = 4000
        from = "mirro"
        colour = "darkblue"
        count = 0
        level = 1.5
        """
    assert places(text) == [
        "s.toml: on",
        "s.toml: sizes[2]",
        "s.toml: sizes[3]",
        "s.toml: table.a",
        "s.toml: best",
        "s.toml: nmae",
        "s.toml: step[1].name",
        "s.toml: step[2].name",
        "s.toml: step[2].dwell",
        "s.toml: step[2].from",
        "s.toml: step[2].colour",
        "s.toml: step[2].count",
        "s.toml: step[2].level",
        "s.toml: name",
    ]


@pytest.mark.parametrize(
    ("line", "sentence"),
    [
        ("sizs = []", 's.toml: sizs: is not a known key; did you mean "sizes"?'),
        ("on = 'yes'", 's.toml: on: "yes" is neither true nor false; write true or false without quotes.'),
        ("sizes = 3", "s.toml: sizes: 3 is not a list; put it in [brackets]."),
        ("sizes = [nan]", "s.toml: sizes[1]: nan is not a finite number; write an ordinary number."),
        ("sizes = [1e999]", "s.toml: sizes[1]: inf is not a finite number; write an ordinary number."),
        (
            "sizes = [true]",
            "s.toml: sizes[1]: true is not a number; write it without quotes and without a unit.",
        ),
        ("sizes = [-1]", "s.toml: sizes[1]: -1 is out of bounds; at least 0."),
        ("table = []", "s.toml: table: a list is not a table; write it as [table] with its keys below."),
        ("table = {a = {}}", "s.toml: table.a: a table is not a whole number; "),
        ("table = {a = 99999999999999999999}", "s.toml: table.a: is a whole number too large to keep; "),
        ("sizes = [9" + "9" * 400 + "]", "s.toml: sizes[1]: is a whole number too large to keep; "),
        ("on = 99999999999999999999", "s.toml: on: a very large number is neither true nor false; "),
        ("table = {'a\\n' = true}", 's.toml: table."a\\\\n": true is not a whole number; '),
        ("best = {name = 'b', dwell = 'long'}", 's.toml: best.dwell: "long" is not a number; '),
        ("best = {name = 'b', dwell = -1}", "s.toml: best.dwell: -1 is out of bounds; between 0 and 3600 s."),
        ("best = {name = 'b', dwell = 1, level = 2}", "s.toml: best.level: 2 is out of bounds; at most 1."),
        ("best = {name = 'b'}", "s.toml: best.dwell: is missing; add it: how long it is held, in s."),
        (
            "best = {name = 'b', dwell = 1, colour = 2}",
            "s.toml: best.colour: 2 is not a choice here; one of: red,",
        ),
        (
            "best = {name = 'b', dwell = 1, colour = 'redd'}",
            '"redd" is not a choice here; did you mean "red"?',
        ),
        ("best = {name = 'twice', dwell = 1}", "s.toml: best.count: does not fit the name; write 2."),
        ("best = {name = 'nothing', dwell = 1}", "s.toml: best: is a step without a name; give it one."),
        (f"{'z' * 90} = 1", "is not a known key; known here: name, on, sizes, table, step, best."),
        (f"on = '{'z' * 90}'", f'"{"z" * 60}..." is neither true nor false'),
        ('on = "\\u001B[31m\\u202E"', '"\\u001b[31m\\u202e" is neither'),
        ("on = 2001-01-01", "s.toml: on: 2001-01-01 is neither true nor false"),
    ],
)
def test_each_fault_says_place_value_and_fix(line: str, sentence: str) -> None:
    said = fault(HEAD + line)
    assert sentence in said
    assert "\x1b" not in said


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("a = yes", 's.toml: line 1, column 5: invalid value; put text in "quotes", or write a number.'),
        (
            "a = 1\nb",
            "s.toml: line 2: expected '=' after a key in a key/value pair; write key = value, with text in \"quotes\".",
        ),
        (
            "a = 1\na = 2\n",
            "s.toml: line 2, column 6: cannot overwrite a value; the key is written twice: leave one of them out.",
        ),
        (
            'a = "x\n',
            "s.toml: line 1, column 7: illegal character '\\n'; close the \"quotes\" on the same line.",
        ),
        ("a = " + "9" * 5000, "s.toml: holds a number with too many digits."),
        ("a = " + "[" * 100_000, "s.toml: is nested too deeply; write fewer brackets inside brackets."),
    ],
)
def test_a_syntax_error_has_line_and_column(text: str, sentence: str) -> None:
    assert fault(text) == sentence


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", 's.toml: file: is missing; the first line must be file = "benchlog sheet 2".'),
        (
            "file = 2",
            's.toml: file: 2 is not a benchlog sheet file; the first line must be file = "benchlog sheet 2".',
        ),
        ('file = "benchlog plan 1"', 's.toml: file: "benchlog plan 1" is not a benchlog sheet file;'),
        ('file = "benchlog sheet x"', 's.toml: file: "benchlog sheet x" is not a benchlog sheet file;'),
        ('file = "benchlog sheet ²"', "is not a benchlog sheet file;"),
        (
            'file = "benchlog sheet 3"\nnew = 1',
            "s.toml: file: was written for a newer benchlog (benchlog sheet 3; this one reads up to 2);"
            " update benchlog.",
        ),
    ],
)
def test_kind_and_version_are_checked_before_anything_else(text: str, sentence: str) -> None:
    assert sentence in fault(text)


def test_a_file_is_read_with_or_without_a_byte_order_mark(tmp_path: Path) -> None:
    path = tmp_path / "s.toml"
    path.write_bytes(b"\xef\xbb\xbf" + HEAD.encode())
    assert read(path, Sheet) == Sheet(name="x")


def test_a_file_that_cannot_be_had_is_bad_input(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with pytest.raises(BadInput, match="there is no such file; check the name"):
        read(tmp_path / "none.toml", Sheet)
    with pytest.raises(BadInput, match="cannot be read"):
        read(tmp_path, Sheet)
    with pytest.raises(BadInput, match="cannot be read"):
        read(Path("a\0b"), Sheet)
    latin = tmp_path / "latin.toml"
    latin.write_bytes(b'a = 1\nb = "\xb5"\n')
    with pytest.raises(BadInput, match=r"^latin.toml: line 2: is not UTF-8 text; save the file as UTF-8\.$"):
        read(latin, Sheet)
    monkeypatch.setattr(textfile, "LARGEST_FILE", 10)
    long = tmp_path / "long.toml"
    long.write_bytes(b"#" * 11)
    with pytest.raises(BadInput, match="is longer than"):
        read(long, Sheet)


def test_faults_without_a_key_path_stand_at_the_file() -> None:
    faults = Faults("s.toml")
    faults.raise_any()
    faults.add("", "is empty")
    with pytest.raises(BadInput, match=r"^s\.toml: is empty\.$"):
        faults.raise_any()


def test_a_key_keeps_what_was_said_about_it() -> None:
    rule = Step.__dataclass_fields__["dwell"].metadata["rule"]
    assert (rule.about, rule.unit, rule.low, rule.high) == ("how long it is held", "s", 0.0, 3600.0)


@given(st.text())
def test_any_text_gives_a_shape_or_bad_input(text: str) -> None:
    for shape in (Sheet, Plain):
        try:
            parse(text, "s.toml", shape)
        except BadInput as error:
            assert all(one.place.startswith("s.toml") for one in error.faults)


_KEYS = st.sampled_from(["name", "dwell", "from", "colour", "count", "level", "zzz", "size"])
_VALUES = st.sampled_from(
    ["1", "-1.5", "nan", "true", '"red"', "[]", "[1, 2]", "{}", "1979-05-27", '"\\u0007"', "x"]
)


@given(st.lists(st.tuples(_KEYS, _VALUES), max_size=6))
def test_any_keys_and_values_give_a_shape_or_bad_input(pairs: list[tuple[str, str]]) -> None:
    lines = "\n".join(f"{name} = {value}" for name, value in pairs)
    try:
        parse(f"{HEAD}[[step]]\n{lines}\n", "s.toml", Sheet)
    except BadInput as error:
        assert error.faults


@given(
    st.text(max_size=30).filter(lambda text: all(c.isprintable() and c not in '"\\' for c in text)),
    st.floats(0, 3600),
    st.integers(1, 1 << 40),
    st.sampled_from(Colour),
)
def test_what_is_written_is_read_back(name: str, dwell: float, count: int, colour: Colour) -> None:
    text = f'name = "{name}"\ndwell = {dwell!r}\ncount = {count}\ncolour = "{colour}"'
    if name in ("twice", "nothing"):
        return
    assert parse(text, "s.toml", Step) == Step(name=name, dwell=dwell, count=count, colour=colour)


@dataclasses.dataclass(frozen=True, slots=True)
class Dated:
    day: date | None = key("a day", default=None)
    moment: datetime | None = key("a moment", default=None)


def test_days_and_moments_are_read_and_moments_come_as_utc() -> None:
    made = parse("day = 2026-05-03\nmoment = 2026-05-03T01:15:00+02:00", "d.toml", Dated)
    assert made == Dated(day=date(2026, 5, 3), moment=datetime(2026, 5, 2, 23, 15, tzinfo=UTC))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ('day = "2026-05-03"', 's.toml: day: "2026-05-03" is not a date; write it without quotes'),
        ("day = 2026-05-03T01:00:00Z", "s.toml: day: 2026-05-03 01:00:00+00:00 is not a date"),
        ("day = 01:00:00", "s.toml: day: 01:00:00 is not a date"),
        ("moment = 2026-05-03T01:00:00", "is not a moment; write date, time and Z for UTC"),
        ("moment = 2026-05-03", "s.toml: moment: 2026-05-03 is not a moment"),
        ("moment = 0001-01-01T00:00:00+02:00", "is not a moment"),
    ],
)
def test_what_is_no_day_or_moment_is_said(text: str, said: str) -> None:
    assert said in fault(text, Dated)
