"""The checks of CI find what they are there for. scripts/breaches.py shows the same of every wall."""

import tomllib
from pathlib import Path

import breaches
import floors
import pytest
import sizes
import walls

ROOT = Path(__file__).resolve().parents[2]


def test_every_wall_has_a_planted_breach() -> None:
    with (ROOT / "pyproject.toml").open("rb") as file:
        contracts = {one["id"] for one in tomllib.load(file)["tool"]["importlinter"]["contracts"]}
    assert {breach.wall for breach in breaches.BREACHES} == contracts | {breaches.LISTS}


@pytest.mark.parametrize(
    ("place", "name", "fine"),
    [
        ("alarm/__main__.py", "json", True),
        ("alarm/__main__.py", "benchlog.alarm.player", True),
        ("alarm/__main__.py", "benchlog.errors.Gone", False),
        ("alarm/__main__.py", "numpy", False),
        ("simbench/model.py", "numpy.random", True),
        ("simbench/model.py", "benchlog.resources", True),
        ("simbench/model.py", "benchlog.domain.reading", False),
        ("instruments/link_serial.py", "serial.tools", True),
        ("instruments/framer.py", "serial", False),
        ("recorder/poll.py", "benchlog.store.append", True),
        ("recorder/poll.py", "importlib", False),
        ("__main__.py", "importlib", True),
        ("a_new_room/file.py", "numpy", False),
    ],
)
def test_a_name_from_outside_needs_its_place_in_the_list(place: str, name: str, fine: bool) -> None:
    assert (walls.complaint(place, name) is None) is fine


def test_an_import_is_seen_wherever_it_hides(tmp_path: Path) -> None:
    room = tmp_path / "benchlog" / "domain"
    room.mkdir(parents=True)
    (room / "late.py").write_text(
        "def late():\n    if 1:\n        from scipy import optimize\n__import__('x')\n"
    )
    assert walls.check(tmp_path) == [
        "benchlog/domain/late.py:3: scipy.optimize: scipy is not for this room",
        "benchlog/domain/late.py:4: importlib.import_module: loads by text, past every wall",
    ]


def test_long_files_and_functions_are_found(tmp_path: Path) -> None:
    (tmp_path / "benchlog").mkdir()
    long_function = "def slow():\n" + "    x = 1\n" * sizes.FUNCTION_LINES
    (tmp_path / "benchlog" / "long.py").write_text(long_function + "y = 1\n" * sizes.FILE_LINES)
    assert sizes.check(tmp_path, {}) == [
        f"benchlog/long.py: {sizes.FILE_LINES + sizes.FUNCTION_LINES + 1} lines",
        f"benchlog/long.py::slow: {sizes.FUNCTION_LINES + 1} lines",
    ]
    listed = {"benchlog/long.py": "why", "benchlog/long.py::slow": "why", "benchlog/gone.py": "why"}
    assert sizes.check(tmp_path, listed) == ["benchlog/gone.py: needs its exception no more"]


def test_a_rooms_share_counts_lines_and_branches_of_its_files() -> None:
    def file(lines: int, of_lines: int, branches: int, of_branches: int) -> dict[str, dict[str, int]]:
        keys = ("covered_lines", "num_statements", "covered_branches", "num_branches")
        return {"summary": dict(zip(keys, (lines, of_lines, branches, of_branches), strict=True))}

    report = {
        "files": {
            "benchlog/store/append.py": file(10, 10, 8, 10),
            "benchlog/store/edit.py": file(0, 10, 0, 10),
            "benchlog/__main__.py": file(1, 2, 0, 0),
        }
    }
    assert floors.shares(report) == {"store": 45.0, "": 50.0}


def test_the_top_level_holds_what_it_should() -> None:
    shown = {entry.name for entry in ROOT.iterdir() if not entry.name.startswith(".")}
    built = {"build", "dist"}
    assert shown - built == {
        "README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "benchlog", "tests", "resources", "scripts",
    }  # fmt: skip


def test_no_two_test_files_share_a_name_and_none_is_a_package() -> None:
    files = [path for path in (ROOT / "tests").rglob("*.py") if path.name != "conftest.py"]
    names = [path.name for path in files]
    assert sorted(set(names)) == sorted(names)
    assert "__init__.py" not in names


def test_the_lock_names_every_package_with_hashes_and_no_address() -> None:
    text = (ROOT / "scripts" / "requirements.lock").read_text("utf-8")
    assert "://" not in text
    for block in text.split("\n\n")[-1].split("\n    # via")[0:1]:
        assert "--hash=sha256:" in block
    pinned = [line for line in text.splitlines() if line and not line.startswith((" ", "#"))]
    assert all("==" in line and line.endswith("\\") for line in pinned)
