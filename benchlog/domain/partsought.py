"""Parts found by typed words: `electrolytics left`, `outside limits`, `pairs`, `R301-R348`, `-film`.

Every word must stand at the beginning of a word of the part's line; one behind a minus must not.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field

from benchlog.domain.designator import fold, leading, number_in
from benchlog.domain.verdict import Verdict
from benchlog.errors import BadInput

OUTSIDE = frozenset({Verdict.HIGH, Verdict.LOW, Verdict.OPEN, Verdict.SHORT, Verdict.DRIFTED})
"""Results that are outside the limits a part is marked with."""
IN_DOUBT = frozenset(
    {Verdict.UNPROVEN, Verdict.UNDECIDED, Verdict.UNSTABLE, Verdict.NOT_YET, Verdict.NO_CONTACT}
)
"""Results that prove nothing yet."""

OUTSIDE_WORDS, DOUBT_WORDS, PAIR_WORDS = "outside limits", "doubtful in doubt", "pairs paired"
TO_DO, DONE = "to-do", "done read"
"""What stands in the line of a part for its result, and for whether it has one."""


@dataclass(frozen=True, slots=True)
class Sought:
    """Typed words as they are looked for."""

    words: tuple[str, ...] = ()
    without: tuple[str, ...] = ()
    names: frozenset[str] = field(default_factory=frozenset)

    @property
    def nothing(self) -> bool:
        """Whether nothing was typed, so that every part fits."""
        return not (self.words or self.without or self.names)

    def fits(self, line: str, name: str) -> bool:
        """Whether a part fits: its line as `line_of` makes it, and its designator."""
        for word in self.words:
            if word not in line:
                return False
        for word in self.without:
            if word in line:
                return False
        return not self.names or fold(name) in self.names


def sought(text: str) -> Sought:
    """What a typed text looks for; runs and lists of designators name their parts."""
    try:
        names, rest = leading(text)
    except BadInput:
        names, rest = (), text
    if not names:
        rest = text
    clean = fold(rest).replace("to do", TO_DO)
    words: list[str] = []
    without: list[str] = []
    for word in clean.split():
        bare = word.removeprefix("-")
        if bare:
            (without if word != bare and bare.isalpha() else words).append(f" {_singular(bare)}")
    return Sought(tuple(words), tuple(without), frozenset(map(fold, names)))


def line_of(designator: str, *texts: str, verdict: Verdict | None = None, read: bool, paired: bool) -> str:
    """All words of a part in one line, small, a blank before each; `texts` are its kind, marking, board and note."""
    words = [designator, number_in(designator), *texts, DONE if read else TO_DO]
    words.append(PAIR_WORDS if paired else "")
    if verdict is not None:
        words += [OUTSIDE_WORDS if verdict in OUTSIDE else "", DOUBT_WORDS if verdict in IN_DOUBT else ""]
    return f" {fold(' '.join(words))}"


def found(lines: Iterable[tuple[str, str]], wanted: Sought) -> list[int]:
    """The places of those lines (`line_of`, designator) that fit, in their order."""
    return [at for at, (line, name) in enumerate(lines) if wanted.fits(line, name)]


def _singular(word: str) -> str:
    """`electrolytics` finds electrolytic, and `glass` finds glass."""
    return word[:-1] if len(word) > 4 and word.endswith("s") and not word.endswith("ss") else word
