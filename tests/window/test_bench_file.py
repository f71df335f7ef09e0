"""A bench file comes back as it was written, is judged whole, and is never lost by being saved."""

from dataclasses import fields, replace
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlog import resources, textfile
from benchlog.domain.leads import LeadNull
from benchlog.domain.reading import Function
from benchlog.errors import BadInput, BenchlogError, Fault
from benchlog.instruments import bench as benches
from benchlog.instruments.bench import (
    CONTACTS,
    FEEDS,
    HOLDS,
    ISOLATED,
    LEVELS,
    PEDAL_ACTS,
    PEDAL_LINES,
    SWITCHES,
    Bench,
    MeterEntry,
    OffSwitchEntry,
    PedalEntry,
    SupplyEntry,
)
from benchlog.window import bench_file
from benchlog.window.bench_file import Draft, Spot, Table

TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=20)


def seconds(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high)


METERS = st.builds(
    MeterEntry,
    job=TEXT,
    profile=TEXT,
    address=TEXT,
    function=st.none() | st.sampled_from(Function),
    interval=st.none() | seconds(0.0, 3600.0),
    clipped_to=TEXT,
    link_isolated=st.sampled_from(ISOLATED),
    rating=TEXT,
    error=TEXT,
)
SUPPLIES = st.builds(
    SupplyEntry, job=TEXT, profile=TEXT, address=TEXT, cut_address=TEXT, interval=seconds(0.0, 60.0)
)
SWITCH_ENTRIES = st.builds(
    OffSwitchEntry,
    kind=st.sampled_from(SWITCHES),
    job=TEXT,
    address=TEXT,
    supply=TEXT,
    line=st.sampled_from(HOLDS),
    level=st.sampled_from(LEVELS),
    beat=seconds(0.002, 1.0),
    drop_out=seconds(0.0, 10.0),
).filter(lambda entry: not list(entry.faults()))
PEDALS = st.builds(
    PedalEntry,
    job=TEXT,
    address=TEXT,
    line=st.sampled_from(PEDAL_LINES),
    does=st.sampled_from(PEDAL_ACTS),
    pressed=st.sampled_from(CONTACTS),
    feed=st.sampled_from(FEEDS),
)
BENCHES = st.builds(
    Bench,
    name=TEXT,
    meter=st.lists(METERS, max_size=3).map(tuple),
    supply=st.lists(SUPPLIES, max_size=2).map(tuple),
    off_switch=st.lists(SWITCH_ENTRIES, max_size=2).map(tuple),
    pedal=st.lists(PEDALS, max_size=2).map(tuple),
)

LAMP = MeterEntry(
    job="lamp", profile="scpi-multimeter", address="tcp://192.0.2.7:5025", function=Function.VOLTS_AC
)
SUPPLY = SupplyEntry(job="bench supply", profile="scpi-supply", address="tcp://192.0.2.8:5025")
HAND = OffSwitchEntry(kind="hand", job="wall switch")


@given(BENCHES)
def test_what_is_written_is_read_back(bench: Bench) -> None:
    assert textfile.parse(textfile.write(bench), "bench.toml", Bench) == bench


@pytest.mark.parametrize("example", ["amplifier", "by-hand", "board"])
def test_an_example_that_was_written_anew_is_the_same_bench(example: str) -> None:
    bench = textfile.read(resources.path("examples", example, "bench.toml"), Bench)
    assert textfile.parse(textfile.write(bench), "bench.toml", Bench) == bench


def test_a_bench_that_serves_is_read_as_the_recorder_reads_it() -> None:
    text = textfile.write(Bench(name="one lamp", meter=(LAMP,), off_switch=(HAND,)))
    draft = bench_file.read(text, "one.toml", [])
    assert draft.bench == benches.parse(text, "one.toml")
    assert (draft.faults, draft.text, draft.saved) == ((), text, True)


class TestFaults:
    def test_an_example_can_be_opened_with_its_addresses_to_be_mended(self) -> None:
        text = resources.path("examples", "by-hand", "bench.toml").read_text(encoding="utf-8")
        draft = bench_file.read(text, "bench.toml", [])
        assert [entry.job for entry in draft.bench.meter] == ["lamp", "+B", "parts meter"]
        assert len(draft.faults) == 3
        (fault,) = draft.faults_of(Spot(Table.METER, 1))
        assert bench_file.key_of(fault) == "address"

    def test_one_that_cannot_be_read_is_refused_with_every_fault(self) -> None:
        with pytest.raises(BadInput) as caught:
            bench_file.read('file = "benchlog bench 1"\nname = 1\n[[meter]]\njob = "a"\n', "bad.toml", [])
        places = [fault.place for fault in caught.value.faults]
        assert places == ["bad.toml: name", "bad.toml: meter[1].profile", "bad.toml: meter[1].address"]

    def test_a_fault_of_the_file_is_about_no_entry(self) -> None:
        assert bench_file.spot_of(Fault("bench.toml", "names no instrument")) is None
        assert bench_file.key_of(Fault("own.toml: kind", "is missing")) == ""


class TestChanging:
    def test_entries_are_added_changed_and_taken_away(self) -> None:
        bench, first = bench_file.put(Bench(name="b"), LAMP)
        bench, _ = bench_file.put(bench, HAND)
        other = replace(LAMP, job="+B")
        bench, second = bench_file.put(bench, other)
        assert (first, second) == (Spot(Table.METER, 0), Spot(Table.METER, 1))
        bench, spot = bench_file.put(bench, replace(LAMP, rating="CAT II 300 V"), first)
        assert (spot, bench.meter[0].rating) == (first, "CAT II 300 V")
        bench = bench_file.without(bench, first)
        assert bench == Bench(name="b", meter=(other,), off_switch=(HAND,))

    def test_a_meter_may_become_a_supply(self) -> None:
        bench = Bench(name="b", meter=(LAMP,))
        bench, spot = bench_file.put(bench, SUPPLY, Spot(Table.METER, 0))
        assert (bench.meter, bench.supply, spot) == ((), (SUPPLY,), Spot(Table.SUPPLY, 0))

    def test_the_off_switch_follows_a_supply_that_is_renamed(self) -> None:
        switch = OffSwitchEntry(kind="supply", job="bench supply", supply="bench supply")
        bench = Bench(name="b", supply=(SUPPLY,), off_switch=(switch, HAND))
        bench, _ = bench_file.put(bench, replace(SUPPLY, job="left"), Spot(Table.SUPPLY, 0))
        assert bench.off_switch == (replace(switch, job="left", supply="left"), HAND)

    def test_a_changed_bench_is_judged_again(self) -> None:
        draft = bench_file.read(textfile.write(Bench(name="b", meter=(LAMP,))), "b.toml", [])
        bench, spot = bench_file.put(draft.bench, replace(LAMP, job="+B", function=Function.INDUCTANCE))
        changed = bench_file.anew(draft, bench, [])
        assert not changed.saved
        assert [bench_file.key_of(fault) for fault in changed.faults_of(spot)] == ["function"]

    def test_an_empty_bench_is_no_fault(self) -> None:
        draft = bench_file.read(textfile.write(Bench(name="b", meter=(LAMP,))), "b.toml", [])
        emptied = bench_file.anew(draft, Bench(name="b"), [])
        assert (emptied.faults, emptied.empty) == ((), True)


class TestSaving:
    def draft(self, name: str = "Hall bench: two meters") -> Draft:
        return Draft(Bench(name=name, meter=(LAMP,)), textfile.write(Bench(name=name, meter=(LAMP,))))

    def test_the_file_is_called_as_the_bench(self, tmp_path: Path) -> None:
        saved = bench_file.save(self.draft(), tmp_path)
        assert saved.path == tmp_path / "hall-bench-two-meters.toml"
        assert saved.path.read_text(encoding="utf-8") == saved.text
        assert saved.saved
        assert sorted(path.name for path in tmp_path.iterdir()) == ["hall-bench-two-meters.toml"]

    def test_the_file_before_stays_beside_it(self, tmp_path: Path) -> None:
        first = bench_file.save(self.draft(), tmp_path)
        changed = replace(first, text=f"# with a comment\n{first.text}")
        bench_file.save(changed, tmp_path)
        before = tmp_path / "hall-bench-two-meters.before"
        assert before.read_text(encoding="utf-8") == first.text
        again = bench_file.read_path(tmp_path / "hall-bench-two-meters.toml", [], tmp_path)
        assert (again.text, again.path) == (changed.text, first.path)

    def test_another_bench_is_never_written_over(self, tmp_path: Path) -> None:
        bench_file.save(self.draft(), tmp_path)
        with pytest.raises(BadInput, match="holds another bench already"):
            bench_file.save(self.draft("Hall bench (two meters)"), tmp_path)

    def test_under_another_name_it_is_another_bench(self, tmp_path: Path) -> None:
        saved = bench_file.save(self.draft(), tmp_path)
        moved = bench_file.save(replace(saved, bench=replace(saved.bench, name="Small bench")), tmp_path)
        assert moved.name == "small-bench.toml"
        assert [path.name for path in sorted(tmp_path.glob("*.toml"))] == [
            "hall-bench-two-meters.toml",
            "small-bench.toml",
        ]

    @pytest.mark.parametrize(
        ("name", "file"),
        [
            ("", "bench.toml"),
            ("../..", "bench.toml"),
            ("a/b\\c:d", "a-b-c-d.toml"),
            ("Prüfplatz 2", "prüfplatz-2.toml"),
            ("NUL", "bench-nul.toml"),
            ("x" * 100, f"{'x' * 60}.toml"),
        ],
    )
    def test_no_name_leads_out_of_the_folder(self, name: str, file: str) -> None:
        assert bench_file.file_name(name) == file

    def test_a_folder_nobody_can_write_to_is_told(self, tmp_path: Path) -> None:
        (tmp_path / "benches").write_text("a file stands where the folder should")
        with pytest.raises(BenchlogError, match="cannot be written"):
            bench_file.save(self.draft(), tmp_path / "benches")

    def test_own_benches_stand_before_the_examples(self, tmp_path: Path) -> None:
        bench_file.save(self.draft(), tmp_path / "benches")
        (tmp_path / "benches" / "bad.toml").write_text("name")
        found = bench_file.find_benches(tmp_path)
        assert [(one.title, one.example) for one in found[:2]] == [
            ("bad.toml", False),
            ("Hall bench: two meters", False),
        ]
        assert [one.about for one in found[:2]] == ["1 thing to mend in it", "lamp"]
        assert len(found) == 6
        assert all(one.example for one in found[2:])


class TestKinds:
    def test_the_shipped_kinds_say_what_they_measure(self) -> None:
        kinds = {kind.name: kind for kind in bench_file.known_kinds([])}
        assert kinds["scpi-supply"].kind == "supply"
        assert Function.VOLTS_AC in kinds["scpi-multimeter"].functions
        assert kinds["ascii-handheld"].kind == "stream"
        assert not any(kind.own or kind.trouble for kind in kinds.values())

    def test_a_persons_own_come_first_and_one_that_does_not_serve_says_why(self, tmp_path: Path) -> None:
        shipped = resources.path("profiles", "scpi-multimeter.toml").read_text(encoding="utf-8")
        (tmp_path / "my-meter.toml").write_text(shipped, encoding="utf-8")
        (tmp_path / "broken.toml").write_text('file = "benchlog profile 1"\n', encoding="utf-8")
        broken, mine, *_ = bench_file.known_kinds([tmp_path, tmp_path / "nowhere"])
        assert (mine.name, mine.own, mine.trouble) == ("my-meter", True, "")
        assert "is missing" in broken.trouble


def test_every_field_of_an_entry_is_written() -> None:
    """A field added to the grammar is not forgotten here."""
    full = MeterEntry(
        job="a",
        profile="p",
        address="x",
        function=Function.OHMS,
        interval=1.5,
        clipped_to="c",
        link_isolated="no",
        rating="r",
        error="1%",
        errors={"ohms": "0.2%+2"},
        range=1e3,
        test_frequency=120.0,
        calibrated=date(2026, 3, 1),
        calibrate_every=24.0,
        null=LeadNull(value=0.12, time=datetime(2026, 5, 3, 10, 15, tzinfo=UTC)),
    )
    text = textfile.write(Bench(name="b", meter=(full,)))
    assert textfile.parse(text, "b.toml", Bench).meter == (full,)
    assert all(f"\n{field.name} = " in text for field in fields(full))
