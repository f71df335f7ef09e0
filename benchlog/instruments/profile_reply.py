"""How an instrument writes its readings: the grammar of a profile's `[reply]` tables."""

from collections.abc import Iterator
from dataclasses import dataclass

from benchlog.domain.reading import BESIDE, Function
from benchlog.instruments import template
from benchlog.instruments.profile_frame import Frame
from benchlog.textfile import did_you_mean, key

FORMS = ("scpi", "list", "decorated", "frame")
"""How a reply may be written; `decode` has one reader for each."""

FLAGS = ("hold", "rel", "min", "max", "low_battery", "auto")
"""Code words of annunciators, as they stand in `Reading.flags`."""

LONGEST_LIST = 1000

_Found = Iterator[tuple[str, str, str]]


@dataclass(frozen=True, slots=True)
class UnitWord:
    """What the words behind a number mean: `mV DC` is volts_dc times 0.001."""

    function: Function | None = key("the function they name; left out: the one asked for", default=None)
    scale: float = key("factor to the SI unit", default=1.0)

    def faults(self) -> _Found:
        """A scale of zero would hide every reading."""
        if self.scale == 0.0:
            yield "scale", "0 would make every reading zero", "write the factor to the SI unit"


@dataclass(frozen=True, slots=True)
class Status:
    """The entry of a list that says whether the others count."""

    item: int = key("which entry, from 1", low=1, high=LONGEST_LIST)
    good: tuple[str, ...] = key("what it says where the reading counts", default=("0", "+0"))
    overload: tuple[str, ...] = key("what it says beyond the range", default=())

    def faults(self) -> _Found:
        """No reading would ever count."""
        if not self.good:
            yield "good", "is empty", 'as in ["0", "+0"]'


@dataclass(frozen=True, slots=True)
class Reply:
    """How a reading is written. Affixes and words are literal text, compared letter by letter."""

    form: str = key("scpi, list, decorated or frame", default="scpi", choices=FORMS)
    prefix: str = key("text before every reading", default="")
    suffix: str = key("text behind every reading", default="")
    item: int = key("which entry of a list is the reading, from 1", default=1, low=1, high=LONGEST_LIST)
    beside: dict[str, int] = key(
        "what else the list holds, by its word, and in which entry",
        default_factory=dict,
        low=1,
        high=LONGEST_LIST,
    )
    status: Status | None = key("the entry of the list that says whether it counts", default=None)
    overload: tuple[str, ...] = key("words that mean overload", default=())
    not_a_number: tuple[str, ...] = key("words that mean no number could be had", default=())
    units: dict[str, UnitWord] = key("words behind a number, and what they mean", default_factory=dict)
    flags: dict[str, str] = key(
        "words of annunciators, and their code words", default_factory=dict, choices=FLAGS
    )
    frame: Frame | None = key("the layout of a frame of segments", default=None)

    def faults(self) -> _Found:
        """Words are words, and what one form needs has no place in another."""
        for name, text in (("prefix", self.prefix), ("suffix", self.suffix)):
            yield from template.faults(name, text)
        words = (("overload", self.overload), ("not_a_number", self.not_a_number), ("flags", self.flags))
        for name, given in words:
            for word in given:
                if not word or not word.isascii() or any(c.isspace() for c in word):
                    yield name, f'"{word}" is not one ASCII word', "list each word by itself"
                elif self.form == "frame" and word.startswith("<"):
                    yield name, f'"{word}" begins as an unreadable frame does', "leave it out"
        if self.form in ("decorated", "frame") and not self.units:
            yield "units", "is missing", 'list them, as in "V DC" = { function = "volts_dc" }'
        yield from self._list_faults()
        if self.form == "frame" and self.frame is None:
            yield "frame", "is missing", "add a table [reply.frame]"
        if self.form == "frame" and (self.prefix or self.suffix):
            yield "prefix", "and suffix have no place around a frame", "leave them out"
        if self.form != "frame" and self.frame is not None:
            yield "frame", f'has no place where the form is "{self.form}"', 'write form = "frame"'

    @property
    def names_functions(self) -> bool:
        """Whether a reading says itself what was measured."""
        return any(word.function for word in self.units.values())

    def _list_faults(self) -> _Found:
        for word in self.beside:
            if word not in BESIDE or word == "frequency":
                known = did_you_mean(word, BESIDE) or f"one of: {', '.join(BESIDE[:-1])}"
                yield f"beside.{word}", f'"{word}" is nothing that comes beside a reading', known
        if self.form != "list" and (self.beside or self.status):
            yield "beside", "and status are entries of a list", 'write form = "list"'
        entries = [self.item, *self.beside.values(), *([self.status.item] if self.status else [])]
        if len(set(entries)) < len(entries):
            yield "item", "names an entry that something else is read from too", "give each its own entry"
