"""A person's own plan and bench from a terminal: prompts answered by typing, keys obeyed, ends told apart."""

import json
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import pytest
from helpers.at_the_bench import Person, a_player_on_the_path, addresses_of
from helpers.plans import patient_relay, short_plan
from helpers.program import Ended, Running, benchlog
from helpers.witness import Witness

from benchlog import resources
from benchlog.domain.unit import UnitFile
from benchlog.store import edit, query, query_unit
from benchlog.store.library import Library
from benchlog.store.records import Ending
from benchlog.textfile import read

LISTENER = Path(__file__).parents[1] / "helpers" / "listener.py"


@dataclass
class AtHand:
    """A simulated bench that lives as slowly as life, and a plan for it."""

    home: Path
    control: str
    witness: Witness

    def start(self, *arguments: str, **variables: str) -> Running:
        """Start `benchlog powerup` on it."""
        files = (self.home / "plan.toml", "--bench", self.home / "bench.toml")
        return Running("benchlog", "powerup", *files, *arguments, home=self.home, **variables)

    @property
    def session(self) -> Path:
        """The one session of the library."""
        (line,) = query.sessions(self.home / "library")
        return line.file


@contextmanager
def a_bench(example: str, home: Path, *, fault: str = "healthy", stages: int = 1) -> Iterator[AtHand]:
    """A bench and the first stages of its plan."""
    (home / "plan.toml").write_text(short_plan(example, stages), encoding="utf-8")
    files = ("--bench", home / "bench.toml", "--witness", home / "witness.jsonl", "--until-eof")
    with Running("benchlog", "simulate", "--example", example, "--fault", fault, *files, home=home) as bench:
        control = addresses_of(bench)["control"]
        patient_relay(home / "bench.toml")
        yield AtHand(home, control, Witness(home / "witness.jsonl"))


def ended_well(ended: Ended, at_hand: AtHand, *stages: str) -> None:
    """All stages reached, verified off at both ends, kept and listed."""
    assert ended.status == 0, ended.err
    assert f"Stages reached: {', '.join(stages)}." in ended.out
    assert "Run completed: all stages done." in ended.out
    assert ": verified off (" in ended.out
    assert f"Run kept in {at_hand.session}" in ended.out
    assert at_hand.witness.is_off()
    state = query.state(at_hand.session)
    assert (state.outcome, state.head.rate) == (Ending.COMPLETED, 1.0)


def test_a_supply_is_climbed_by_enter_and_held_by_a_key(tmp_path: Path) -> None:
    with Library.open(tmp_path / "library") as library:
        entry = read(resources.path("examples", "board", "unit.toml"), UnitFile)
        unit = edit.create_unit(library, entry)
    with a_bench("board", tmp_path, stages=2) as at_hand, at_hand.start("--unit", entry.name) as powerup:
        powerup.says("from fault to off at worst")
        n = powerup.says("> Ready for the next stage.")
        powerup.types("nonsense")
        powerup.says("> Type Enter, h, r, b, o, q or c.")
        powerup.types("h")
        powerup.says("10 V: held", after=n)
        powerup.types("")
        powerup.says("> next: the run is held; wait until the next stage is offered.")
        powerup.types("r")
        n = powerup.says("10 V: ready", after=powerup.says("10 V: dwelling", after=n))
        powerup.types("")
        n = powerup.says("> Ready for the next stage.", after=n)
        powerup.types("")
        ended = powerup.wait()
        ended_well(ended, at_hand, "10 V", "15 V")
    (visit,) = query_unit.visits(tmp_path / "library", unit.id)
    assert (query.state(at_hand.session).head.unit, query.state(at_hand.session).head.visit) == (
        unit.id,
        visit.id,
    )


def test_a_relay_is_proven_and_the_dial_set_by_the_person(tmp_path: Path) -> None:
    with (
        a_bench("amplifier", tmp_path) as at_hand,
        at_hand.start() as powerup,
        Person(powerup, at_hand.control) as person,
    ):
        powerup.says("> Ready for the next stage.")
        powerup.types("")
        ended_well(powerup.wait(), at_hand, "10 %")
        assert person.did == ["set_dial", "relay_clicked", "set_dial"]


def test_what_is_not_done_is_asked_again_or_given_up(tmp_path: Path) -> None:
    with a_bench("amplifier", tmp_path) as at_hand, at_hand.start() as powerup:
        with Person(powerup, at_hand.control, leaves="Set the variable transformer"):
            n = powerup.says("> The relay should have clicked")
            n = powerup.says("mains relay, on a pumped line: in, out, and out", after=n)
        powerup.says("> Set the variable transformer to 10 %", after=n)
        powerup.types("n")
        n = powerup.says("> Not done: the run stands where it was.", after=n)
        powerup.types("")
        n = powerup.says("> Set the variable transformer to 10 %", after=n)
        powerup.types("n")
        powerup.says("> Not done: the run stands where it was.", after=n)
        powerup.types("q")
        ended = powerup.wait()
        assert ended.status == 4
        assert "closed before it was on" in ended.out
        assert not at_hand.witness.saw("mains", on=True, after=at_hand.witness.saw("hand")[-1]["t"])


def test_a_hand_is_drilled_and_says_in_so_many_words_that_it_is_off(tmp_path: Path) -> None:
    with a_bench("by-hand", tmp_path) as at_hand:
        heard = tmp_path / "heard.txt"
        listener = f"{sys.executable} -I -S {LISTENER} {heard} {at_hand.control}"
        path = a_player_on_the_path(tmp_path / "bin", listener)
        with at_hand.start(PATH=path) as powerup, Person(powerup, at_hand.control) as person:
            n = powerup.says("drill: off seen after")
            powerup.says("> Ready for the next stage.", after=n)
            powerup.types("")
            n = powerup.says("> Switch the unit off now.  [off: done, n: not]")
            ended_well(powerup.wait(), at_hand, "40 %")
            assert person.did[:5] == ["heard_alarm", "set_dial", "switch_on", "switch_off", "switch_on"]
            assert heard.exists()


@pytest.mark.parametrize("how", ["the key", "Ctrl-C"])
def test_the_operator_cuts(how: str, tmp_path: Path) -> None:
    with a_bench("board", tmp_path) as at_hand, at_hand.start("--json") as powerup:
        powerup.says('"is":"stage"', '"state":"dwelling"')
        if how == "the key":
            powerup.types("c")
        else:
            powerup.send(signal.SIGINT)
        ended = powerup.wait()
        assert ended.status == 4, ended.err
        # Standard output is for a program to read: nothing but objects, one a line.
        assert ended.lines[-1]["reason"] == "cut by the operator"
        assert ended.lines[-1]["off"][0]["outcome"] == "verified off"
        assert at_hand.witness.is_off()
        assert query.state(at_hand.session).outcome == Ending.STOPPED


def test_it_trips_by_itself_with_nobody_at_the_keys(tmp_path: Path) -> None:
    with a_bench("board", tmp_path, fault="shorted-output") as at_hand:
        ended = benchlog(
            *("powerup", tmp_path / "plan.toml", "--bench", tmp_path / "bench.toml", "--yes"), home=tmp_path
        )
        assert ended.status == 3, ended.err
        assert "Run tripped: the supply is in current limit (raw + state)." in ended.out
        assert "violating reading to cut on the wire" in ended.out
        assert at_hand.witness.is_off()


def test_up_again_after_a_trip_is_refused_in_one_sentence_where_it_may_not_be(tmp_path: Path) -> None:
    with a_bench("board", tmp_path, fault="shorted-output") as at_hand:
        powerup = ("powerup", tmp_path / "plan.toml", "--bench", tmp_path / "bench.toml", "--yes")
        ended = benchlog(*powerup, "--again", "a probe slipped", home=tmp_path)
        assert ended.status == 2
        assert "--again: the last run of this library did not trip; leave it out." in ended.complaints
        assert benchlog(*powerup, home=tmp_path).status == 3
        ended = benchlog(*powerup, "--again", "a probe slipped", home=tmp_path)
        assert ended.status == 2
        assert any(line.endswith("as with a short; go up with full dwells.") for line in ended.complaints)
        assert query.state(at_hand.session).outcome == Ending.TRIPPED


@pytest.mark.parametrize("where", ["moving", "dwelling", "held"])
def test_it_goes_off_at_once_when_nobody_is_there_any_more(where: str, tmp_path: Path) -> None:
    with a_bench("board", tmp_path, stages=2) as at_hand:
        plan = tmp_path / "plan.toml"
        # Nothing ever holds here but the run itself: it would stand there for good.
        plan.write_text(
            plan.read_text(encoding="utf-8").replace("dwell = 1.0", "dwell = 3600.0"), encoding="utf-8"
        )
        with at_hand.start("--json") as powerup:
            powerup.says('"is":"stage"', '"state":"moving"')
            if where != "moving":
                powerup.says('"is":"stage"', '"state":"dwelling"')
            if where == "held":
                powerup.types("h")
                powerup.says('"is":"stage"', '"state":"held"')
            powerup.hears_no_more()
            ended = powerup.wait()
            assert ended.status == 4, ended.err
            assert ended.lines[-1]["off_proven"] is True
            assert ended.lines[-1]["stages"] == ["10 V"]
            assert at_hand.witness.is_off()


def test_with_nobody_at_standard_input_nothing_is_ever_on(tmp_path: Path) -> None:
    with a_bench("board", tmp_path) as at_hand:
        files = (tmp_path / "plan.toml", "--bench", tmp_path / "bench.toml")
        ended = benchlog("powerup", *files, home=tmp_path)
        assert ended.status in (2, 4)
        assert "standard input: has ended" in ended.err or "closed before it was on" in ended.out
        assert not at_hand.witness.saw("power", on=True)


def test_yes_needs_nobody_to_type_but_what_needs_a_person_is_answered_no(tmp_path: Path) -> None:
    with a_bench("amplifier", tmp_path) as at_hand:
        files = (tmp_path / "plan.toml", "--bench", tmp_path / "bench.toml")
        ended = benchlog("powerup", *files, "--yes", home=tmp_path)
        assert ended.status == 2
        assert "mains relay" in ended.err
        assert not query.sessions(tmp_path / "library")
        assert not at_hand.witness.saw("mains", on=True)


def test_a_key_typed_right_after_another_is_read_at_once(tmp_path: Path) -> None:
    with a_bench("board", tmp_path) as at_hand, at_hand.start("--json") as powerup:
        powerup.says('"is":"stage"', '"state":"dwelling"')
        powerup.types("o\nc")
        ended = powerup.wait()
        assert ended.status == 4, ended.err
        assert at_hand.witness.is_off()


def test_a_persons_own_profile_is_found_in_their_library(tmp_path: Path) -> None:
    with a_bench("board", tmp_path) as at_hand:
        bench = tmp_path / "bench.toml"
        text = bench.read_text(encoding="utf-8").replace('"scpi-multimeter"', '"grey-multimeter"')
        bench.write_text(text, encoding="utf-8")
        files = (tmp_path / "plan.toml", "--bench", bench)
        assert "grey-multimeter" in benchlog("powerup", *files, "--yes", home=tmp_path).err
        profiles = tmp_path / "library" / "profiles"
        profiles.mkdir(parents=True)
        shipped = resources.path("profiles", "scpi-multimeter.toml").read_text(encoding="utf-8")
        (profiles / "grey-multimeter.toml").write_text(shipped, encoding="utf-8")
        ended_well(benchlog("powerup", *files, "--yes", home=tmp_path), at_hand, "10 V")


def test_a_hand_alone_is_refused_where_nothing_can_sound_the_alarm(tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    with a_bench("by-hand", tmp_path) as at_hand:
        files = (tmp_path / "plan.toml", "--bench", tmp_path / "bench.toml")
        ended = benchlog("powerup", *files, home=tmp_path, PATH=str(tmp_path / "empty"))
        assert ended.status == 2
        assert "no player for the alarm was found" in ended.err
        assert "Traceback" not in ended.err
        assert not query.sessions(tmp_path / "library")
        assert not at_hand.witness.saw("mains", on=True)


def test_the_json_stream_of_a_refusal_stays_json(tmp_path: Path) -> None:
    with a_bench("board", tmp_path) as at_hand:
        files = (tmp_path / "plan.toml", "--bench", tmp_path / "bench.toml")
        ended = benchlog("powerup", *files, "--unit", "nobody's", "--json", home=tmp_path)
        assert ended.status == 2
        assert [json.loads(line) for line in ended.out.splitlines()] == []
        assert "nobody's" in ended.err
        assert at_hand.witness.is_off()
