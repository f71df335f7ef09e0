"""A supply that is read: volts, amps and state of each output in turn, in slices."""

import time
from dataclasses import dataclass

from benchlog.domain.reading import STATES, Function, Outcome, Reading
from benchlog.instruments.decode import Decoder, decoder
from benchlog.instruments.dialogue import Phase
from benchlog.instruments.link import Link
from benchlog.instruments.profile import Profile
from benchlog.instruments.profile_supply import Supply
from benchlog.instruments.supply import SupplyControl, state_of, supply_of
from benchlog.instruments.talk import Clock, Talk

_IDLE = Phase.IDLE
_ASKED = Phase.ASKED


@dataclass(frozen=True, slots=True)
class _Item:
    """One reading of one output: the questions it takes, one or two."""

    output: str
    function: Function
    questions: tuple[bytes, ...]


class SupplyMeter:
    """Reads a supply, labelled by its job; each reading's channel is the output's name.

    A round over all outputs begins every `interval` real seconds, or at once after the last where
    that took longer. The value of a state reading is the index into `STATES`. `control` sets and
    switches over the same wire; it belongs to the same thread and may be used between slices.
    """

    def __init__(
        self,
        job: str,
        link: Link,
        profile: Profile,
        interval: float = 0.1,
        *,
        clock: Clock = time.monotonic_ns,
    ) -> None:
        self.job = job
        self._supply = supply_of(profile, job)
        self._talk = Talk(link, profile, job, clock)
        self.control = SupplyControl(link, profile, job, talk=self._talk)
        self._clock = clock
        self._interval = round(interval * 1e9)
        self._deadline = round(profile.link.deadline * 1e9)
        self._decode = decoder(profile.reply)
        self._items = [item for output in self._supply.outputs for item in self._items_of(output)]
        self._at = 0
        """Which item is being read."""
        self._answers: list[str] = []
        """Answers to the item's questions so far."""
        self._round = 0
        """When the next round begins, monotonic ns."""
        self._ticket = 0
        """Which question is ours and open; 0 for none."""

    @property
    def identity(self) -> str:
        """What it says it is; empty until it said so, or where it never does."""
        return self._talk.dialogue.identity

    def prove(self, patience: float | None = None) -> None:
        """Block until it said what it is, at most `patience` s; Refused, TimedOut or Gone where it does not."""
        self._talk.settle(patience)

    def step(self, wait: float) -> list[Reading]:
        """One slice of at most `wait` real seconds: usually one reading of one output."""
        talk = self._talk
        if self._ticket and talk.asked != self._ticket:
            # The control settled our question away to ask its own.
            self._ticket = 0
            self._answers.clear()
        if talk.dialogue.phase is _IDLE:
            self._ticket = 0
            wait = self._begin(wait)
        reply = talk.poll(wait)
        if reply is not None and self._ticket:
            self._ticket = 0
            return self._answered(reply)
        if talk.dialogue.late or (self._ticket and talk.dialogue.phase is not _ASKED):
            return self._went_wrong()
        return []

    def wake(self) -> None:
        """End the slice under way, or the next one; from any thread."""
        self._talk.wake()

    def close(self) -> None:
        """Close its wire."""
        self._talk.close()

    def _items_of(self, output: str) -> list[_Item]:
        supply, line = self._supply, self._talk.dialogue.line

        def lines(*commands: str) -> tuple[bytes, ...]:
            return tuple(line(supply.for_one(command, output)) for command in commands if command)

        return [
            _Item(output, Function.VOLTS_DC, lines(supply.measure_volts)),
            _Item(output, Function.AMPS_DC, lines(supply.measure_amps)),
            _Item(output, Function.STATE, lines(supply.ask_on, supply.ask_condition)),
        ]

    def _begin(self, wait: float) -> float:
        """Ask what is due; gives how long to wait for what follows."""
        if self._at == 0 and not self._answers:
            now = self._clock()
            rest = self._round - now
            if rest > 0:
                return min(wait, rest * 1e-9)
            following = self._round + self._interval
            self._round = following if following > now else now + self._interval
        question = self._items[self._at].questions[len(self._answers)]
        if self._talk.ask(question, self._deadline):
            self._ticket = self._talk.asked
        return wait

    def _answered(self, reply: str) -> list[Reading]:
        """An answer came; a reading where it was the item's last."""
        item = self._items[self._at]
        self._answers.append(reply)
        if len(self._answers) < len(item.questions):
            return []
        reading = _reading(self._supply, item, self._answers, self._decode, self._talk.at)
        self._next_item()
        if reading.outcome is Outcome.MALFORMED:
            self._talk.doubt()
        return [reading]

    def _went_wrong(self) -> list[Reading]:
        """The open question was missed, or something came that answers none."""
        talk, item = self._talk, self._items[self._at]
        at, channel = talk.at, item.output
        late = [
            Reading(Outcome.LATE, None, item.function, at, text, channel)
            for text in talk.dialogue.collect_late()
        ]
        if not self._ticket or talk.dialogue.phase is _ASKED:
            return late
        self._ticket = 0
        self._next_item()
        raw = talk.dialogue.half_line()
        return [Reading(Outcome.MISSING, None, item.function, at, raw, channel), *late]

    def _next_item(self) -> None:
        self._answers.clear()
        self._at = (self._at + 1) % len(self._items)


def _reading(supply: Supply, item: _Item, answers: list[str], decode: Decoder, at: int) -> Reading:
    """The reading that an item's answers amount to."""
    if item.function is not Function.STATE:
        made = decode(answers[0], item.function, at)
        return made._replace(channel=item.output)
    raw = " ".join(answers)
    state = state_of(supply, answers[0], answers[-1])
    if state is None:
        return Reading(Outcome.MALFORMED, None, Function.STATE, at, raw, item.output)
    return Reading(Outcome.OK, float(STATES.index(state)), Function.STATE, at, raw, item.output)
