"""The truth files: complete, consistent with the examples, and refused where they are not."""

import tomllib

import pytest

from benchlog import resources
from benchlog.errors import BadInput
from benchlog.simbench import truth


@pytest.mark.parametrize(
    ("example", "fault"), [(example, fault) for example in truth.EXAMPLES for fault in truth.faults(example)]
)
def test_every_fault_of_an_example_changes_what_is_true_of_it(example: str, fault: str) -> None:
    found = truth.load(example, fault)
    assert (found == truth.load(example)) == (fault == "healthy")
    if found.silent is not None:
        assert found.silent.job in {instrument.job for instrument in found.instruments}


@pytest.mark.parametrize("example", truth.EXAMPLES)
def test_the_first_faults_are_there_on_every_example_healthy_first(example: str) -> None:
    known = truth.faults(example)
    assert known[0] == "healthy"
    assert set(known) >= {"shorted-output", "missing-rail", "runaway", "silent-meter"}


def test_every_fault_can_be_played_somewhere_and_says_what_it_is() -> None:
    somewhere = {fault for example in truth.EXAMPLES for fault in truth.faults(example)}
    assert somewhere == set(truth.faults())
    assert all(truth._read("faults", f"{fault}.toml")["about"].endswith(".") for fault in somewhere)


def test_a_fault_of_another_bench_is_refused_with_those_of_this_one() -> None:
    with pytest.raises(BadInput, match=r"welded-relay.*on the board.*supply-lies"):
        truth.load("board", "welded-relay")


@pytest.mark.parametrize("example", truth.EXAMPLES)
def test_every_part_of_the_unit_can_be_probed_and_no_other(example: str) -> None:
    unit = tomllib.loads(resources.path("examples", example, "unit.toml").read_text(encoding="utf-8"))
    listed = [part["designator"] for board in unit["board"] for part in board["part"]]
    assert sorted(listed) == sorted(truth.load(example).parts)


@pytest.mark.parametrize("example", truth.EXAMPLES)
def test_every_simulated_address_of_the_bench_is_an_instrument(example: str) -> None:
    text = resources.path("examples", example, "bench.toml").read_text(encoding="utf-8")
    bench = tomllib.loads(text)
    entries = [entry for kind in ("meter", "supply", "off_switch") for entry in bench.get(kind, [])]
    named = [entry["address"].removeprefix("simulated:") for entry in entries if "address" in entry]
    assert sorted(named) == sorted(instrument.job for instrument in truth.load(example).instruments)


def test_unknown_names_are_refused_with_what_there_is() -> None:
    with pytest.raises(BadInput, match="amplifier"):
        truth.load("valve set")
    with pytest.raises(BadInput, match="runaway"):
        truth.load("amplifier", "gremlins")


def test_an_off_switch_fails_in_a_known_way(monkeypatch: pytest.MonkeyPatch) -> None:
    changed = {"about": "", "board": {"off": {"how": "sulks"}}}
    real = truth._read
    monkeypatch.setattr(truth, "_read", lambda *parts: changed if parts[0] == "faults" else real(*parts))
    with pytest.raises(BadInput, match=r"sulks.*refuses"):
        truth.load("board", "supply-lies")


def test_a_key_of_no_meaning_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    changed = {"about": "", "amplifier": {"unit": {"gremlins": 1}}}
    real = truth._read
    monkeypatch.setattr(truth, "_read", lambda *parts: changed if parts[0] == "faults" else real(*parts))
    with pytest.raises(BadInput, match="gremlins"):
        truth.load("amplifier", "runaway")
