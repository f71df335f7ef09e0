"""Shipped files are found from a checkout and from a wheel installed elsewhere, and nothing else is."""

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from benchlog import resources
from benchlog.errors import BadInput

ROOT = Path(__file__).resolve().parents[2]


def test_a_checkout_gives_the_folder_beside_the_package() -> None:
    assert resources.path() == ROOT / "resources"


def test_a_wheel_gives_the_folder_inside_the_package(tmp_path: Path) -> None:
    package = tmp_path / "benchlog"
    (package / "_resources" / "profiles").mkdir(parents=True)
    assert resources.path("profiles", package=package) == package / "_resources" / "profiles"


def test_another_packages_resources_are_not_ours(tmp_path: Path) -> None:
    (tmp_path / "benchlog").mkdir()
    (tmp_path / "resources").mkdir()
    with pytest.raises(BadInput, match="the shipped files are missing; install benchlog again"):
        resources.path("profiles", package=tmp_path / "benchlog")


def test_a_missing_file_is_named_with_what_there_is(tmp_path: Path) -> None:
    folder = tmp_path / "benchlog" / "_resources" / "profiles"
    folder.mkdir(parents=True)
    (folder / "meter.toml").touch()
    with pytest.raises(BadInput) as refused:
        resources.path("profiles", "metre.toml", package=tmp_path / "benchlog")
    assert str(refused.value) == "profiles/metre.toml: is not among the shipped files; there are: meter."
    with pytest.raises(BadInput, match="install benchlog again"):
        resources.path("nowhere", "metre.toml", package=tmp_path / "benchlog")


@pytest.mark.parametrize("way", ["../pyproject.toml", "/etc/passwd", "profiles/../../pyproject.toml"])
def test_no_name_leads_out(way: str) -> None:
    with pytest.raises(BadInput, match="leads out of the shipped files"):
        resources.path(way)


@pytest.fixture(scope="session")
def unpacked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Build the wheel of this checkout and unpack it elsewhere, as an installer does."""
    folder = tmp_path_factory.mktemp("wheel")
    build = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(folder / "dist")]
    subprocess.run(build, cwd=ROOT, check=True, capture_output=True)
    (wheel,) = (folder / "dist").glob("*.whl")
    with zipfile.ZipFile(wheel) as file:
        file.extractall(folder / "site")
    return folder / "site"


def test_the_wheel_carries_every_shipped_file(unpacked: Path) -> None:
    shipped = {
        file.relative_to(ROOT / "resources") for file in (ROOT / "resources").rglob("*") if file.is_file()
    }
    carried = unpacked / "benchlog" / "_resources"
    assert {file.relative_to(carried) for file in carried.rglob("*") if file.is_file()} == shipped


def test_the_wheel_runs_from_another_folder(unpacked: Path, tmp_path: Path) -> None:
    code = "import benchlog.resources as r; print(r.path())"
    told = subprocess.run(
        [sys.executable, "-c", code],
        cwd=tmp_path,
        env=dict(os.environ, PYTHONPATH=str(unpacked)),
        check=True,
        capture_output=True,
        text=True,
    )
    assert Path(told.stdout.strip()) == unpacked / "benchlog" / "_resources"


def test_the_wheel_names_its_program_and_its_pythons(unpacked: Path) -> None:
    (info,) = unpacked.glob("*.dist-info")
    assert "benchlog = benchlog.__main__:main" in (info / "entry_points.txt").read_text("utf-8")
    metadata = (info / "METADATA").read_text("utf-8")
    assert "Requires-Python: <3.14,>=3.11" in metadata
    assert "Requires-Dist: pyside6<6.12,>=6.10.1" in metadata
