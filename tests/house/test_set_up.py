"""The set-up that a person runs first: what it says, and that it starts over only where it must.

The real set-up, with its downloads, is what every run of these tests has just been through; here a
recording stands in for pip, so that each way into and out of it is seen.
"""

import ast
import os
import shutil
import subprocess
import sys
from importlib.metadata import requires
from pathlib import Path

import debian
import demo
import environment
import pytest
from packaging.requirements import Requirement

SCRIPTS = Path(environment.__file__).parent


class Recorded(environment.Environment):
    """An environment that writes its commands down and makes the least that the next step needs."""

    def __init__(self, root: Path, ends_at: str = "") -> None:
        super().__init__(root)
        self.ran: list[str] = []
        self.ends_at = ends_at

    def run(self, command: list[str]) -> None:
        line = " ".join(command)
        self.ran.append(line)
        if self.ends_at and self.ends_at in line:
            raise SystemExit(environment.FAILED)
        if "-m venv" in line:
            python = Path(self.python)
            python.parent.mkdir(parents=True, exist_ok=True)
            python.unlink(missing_ok=True)
            python.symlink_to(sys.executable)


@pytest.fixture
def checkout(tmp_path: Path) -> Path:
    """Lay out the two files that the set-up reads."""
    (tmp_path / "scripts").mkdir()
    (tmp_path / "scripts" / "requirements.lock").write_text("one==1\n")
    (tmp_path / "pyproject.toml").write_text("[project]\n")
    return tmp_path


def test_the_first_time_makes_everything_and_the_second_runs_nothing(
    checkout: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    first = Recorded(checkout)
    first.ready()
    assert [line.split(" -m ")[1].split()[0] for line in first.ran] == ["venv", "pip", "pip"]
    assert "--require-hashes" in first.ran[1]
    assert "--no-deps" in first.ran[2]
    assert "2/4 .venv: making it" in capsys.readouterr().out
    second = Recorded(checkout)
    second.ready()
    assert second.ran == []
    assert capsys.readouterr().out.splitlines() == [
        "2/4 .venv: as it was",
        "3/4 packages: as they were",
        "4/4 benchlog: as it was",
    ]


@pytest.mark.parametrize("step", ["-m venv", "--require-hashes", "--editable"])
def test_an_interrupted_set_up_is_made_anew(checkout: Path, step: str) -> None:
    with pytest.raises(SystemExit):
        Recorded(checkout, ends_at=step).ready()
    again = Recorded(checkout)
    again.ready()
    assert "-m venv --clear" in again.ran[0]


def test_an_interrupted_renewal_is_made_anew(checkout: Path) -> None:
    Recorded(checkout).ready()
    (checkout / "scripts" / "requirements.lock").write_text("one==2\n")
    with pytest.raises(SystemExit):
        Recorded(checkout, ends_at="--require-hashes").ready()
    (checkout / "scripts" / "requirements.lock").write_text("one==1\n")
    again = Recorded(checkout)
    again.ready()
    assert len(again.ran) == 3


def test_new_packages_make_everything_anew_and_a_new_project_file_only_the_link(checkout: Path) -> None:
    Recorded(checkout).ready()
    (checkout / "pyproject.toml").write_text("[project]\nname = 'x'\n")
    linked = Recorded(checkout)
    linked.ready()
    assert len(linked.ran) == 1
    assert "--editable" in linked.ran[0]
    (checkout / "scripts" / "requirements.lock").write_text("one==2\n")
    renewed = Recorded(checkout)
    renewed.ready()
    assert len(renewed.ran) == 3


def test_an_environment_whose_python_is_gone_is_made_anew(checkout: Path) -> None:
    first = Recorded(checkout)
    first.ready()
    Path(first.python).unlink()
    again = Recorded(checkout)
    again.ready()
    assert len(again.ran) == 3


def test_a_step_that_fails_ends_with_a_sentence(checkout: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        environment.Environment(checkout).run([sys.executable, "-c", "import sys; sys.exit(7)"])
    assert ended.value.code == 2
    assert "The set-up failed at: " in capsys.readouterr().out


def test_settings_for_other_projects_do_not_reach_in(
    checkout: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("PYTHONPATH", "/somewhere/else")
    environment.Environment(checkout).run(
        [sys.executable, "-c", "import os; print(os.environ.get('PYTHONPATH'))"]
    )
    assert "None" in capfd.readouterr().out


@pytest.mark.parametrize(
    ("version", "fits"), [((3, 10), False), ((3, 11), True), ((3, 13), True), ((3, 14), False)]
)
def test_which_pythons_fit(version: tuple[int, int], fits: bool) -> None:
    assert environment.fits(version) is fits
    assert not environment.fits(())


def test_what_does_not_run_has_no_version() -> None:
    assert environment.version_of("/nowhere/python") == ()
    assert environment.version_of("/bin/false") == ()
    assert environment.version_of(sys.executable) == sys.version_info[:2]


def test_an_old_python_hands_over_to_one_that_fits(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    became: list[list[str]] = []
    monkeypatch.setattr(sys, "version_info", (3, 8, 18))
    monkeypatch.setattr(environment, "fitting_on_path", lambda: "/usr/bin/python3.12")
    monkeypatch.setattr(environment, "become", lambda command, _environment: became.append(command))
    monkeypatch.setattr(sys, "argv", ["scripts/demo.py", "--fault", "runaway"])
    environment.use_fitting_python()
    assert became == [["/usr/bin/python3.12", "scripts/demo.py", "--fault", "runaway"]]
    assert capsys.readouterr().out == "This is Python 3.8; going on with /usr/bin/python3.12.\n"


def test_an_old_python_alone_says_which_is_needed(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "version_info", (3, 8, 18))
    monkeypatch.setattr(environment, "fitting_on_path", lambda: None)
    with pytest.raises(SystemExit) as ended:
        environment.use_fitting_python()
    assert ended.value.code == 2
    assert capsys.readouterr().out.startswith("benchlog needs Python 3.11, 3.12 or 3.13; this is Python 3.8")


def test_a_launcher_on_the_path_that_has_no_such_python_is_passed_over(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    for minor, answer in ((13, "exit 1"), (12, "echo 3 12")):
        launcher = tmp_path / f"python3.{minor}"
        launcher.write_text(f"#!/bin/sh\n{answer}\n")
        launcher.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}:/bin")
    assert environment.fitting_on_path() == str(tmp_path / "python3.12")


@pytest.mark.parametrize("name", ["demo", "test", "check", "benchmark", "environment", "debian"])
def test_what_a_person_starts_parses_on_an_old_python(name: str) -> None:
    text = (SCRIPTS / f"{name}.py").read_text("utf-8")
    tree = ast.parse(text, feature_version=(3, 8))
    own = {"environment", "debian", "demo"}
    for node in ast.walk(tree):
        names = [node.module] if isinstance(node, ast.ImportFrom) else []
        names += [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
        for module in names:
            assert module is not None
            assert module.split(".")[0] in own | sys.stdlib_module_names


def test_a_bare_debian_lacks_the_venv_module_and_qts_libraries() -> None:
    bare = debian.lacking(screen=False, venv=lambda: False, load=lambda _: False)
    assert bare[0].endswith("-venv")
    assert "libegl1" in bare
    assert not [name for name in bare if "xcb" in name]
    assert "libxcb-cursor0" in debian.lacking(screen=True, venv=lambda: True, load=lambda _: False)
    assert debian.lacking(screen=True, venv=lambda: True, load=lambda _: True) == []


def test_a_library_is_looked_for_by_loading_it() -> None:
    assert debian.can_load("libc.so.6")
    assert not debian.can_load("libnosuchthing.so.99")
    assert debian.has_venv()


def test_without_the_right_to_install_the_exact_command_is_shown(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(os, "geteuid", lambda: 1000)
    monkeypatch.setattr(shutil, "which", lambda name: f"/usr/bin/{name}")
    with pytest.raises(SystemExit) as ended:
        environment.supply(["python3-venv", "libegl1"])
    assert ended.value.code == 2
    assert (
        "sudo apt-get update && sudo apt-get install --yes --no-install-recommends python3-venv libegl1"
        in capsys.readouterr().out
    )


def test_elsewhere_the_packages_are_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shutil, "which", lambda _: None)
    assert not debian.may_install()
    assert debian.by_hand(["libegl1"]) == "Install by your system's own means what Debian calls: libegl1."


def test_root_installs_by_itself_even_if_one_list_is_stale(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    apt = tmp_path / "apt-get"
    apt.write_text(f'#!/bin/sh\necho "$@" >> {tmp_path}/ran\ntest "$1" = install\n')
    apt.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}:/bin:/usr/bin")
    assert debian.install(["libegl1"])
    assert (tmp_path / "ran").read_text().splitlines() == [
        "update",
        "install --yes --no-install-recommends libegl1",
    ]


@pytest.mark.parametrize(
    ("may", "comes", "said"),
    [
        (True, True, "1/4 system packages: installing libpulse0"),
        (True, False, "Those for tones and speech did not come; benchlog does without."),
        (False, False, "1/4 system packages: all there; for tones and speech besides: libpulse0"),
    ],
)
def test_nothing_waits_for_tones_and_speech(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], may: bool, comes: bool, said: str
) -> None:
    asked: list[list[str]] = []

    def install(packages: list[str]) -> bool:
        asked.append(packages)
        return comes

    monkeypatch.setattr(debian, "may_install", lambda: may)
    monkeypatch.setattr(debian, "install", install)
    environment.supply([], ["libpulse0"])
    assert capsys.readouterr().out.splitlines()[-1] == said
    assert asked == ([["libpulse0"]] if may else [])


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere apt is not asked")
def test_what_tones_and_speech_come_through_is_known() -> None:
    assert "libpulse0" in debian.wished(load=lambda _: False)
    assert debian.wished(load=lambda _: True) == []


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere a display is taken for granted")
def test_the_demo_says_why_it_is_headless(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("DISPLAY", raising=False)
    monkeypatch.delenv("WAYLAND_DISPLAY", raising=False)
    assert demo.why_headless().startswith("There is no display here")
    monkeypatch.setenv("DISPLAY", ":0")
    assert demo.why_headless() == ""


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere a display is taken for granted")
@pytest.mark.parametrize(
    ("screen", "given", "asked", "lines"),
    [
        ("", ["--fault", "runaway"], ["--headless", "--fault", "runaway"], 1),
        ("", ["--headless"], ["--headless"], 0),
        (":0", ["--fault", "runaway"], ["--fault", "runaway"], 0),
        (":0", ["--headless"], ["--headless"], 0),
    ],
)
def test_the_demo_opens_its_window_where_there_is_a_display(
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    screen: str,
    given: list[str],
    asked: list[str],
    lines: int,
) -> None:
    became: list[list[str]] = []
    monkeypatch.setenv("DISPLAY", screen)
    monkeypatch.delenv("WAYLAND_DISPLAY", raising=False)
    monkeypatch.setattr(environment, "prepare", lambda: "python")
    monkeypatch.setattr(environment, "become", became.append)
    monkeypatch.setattr(sys, "argv", ["scripts/demo.py", *given])
    demo.main()
    assert became == [["python", "-m", "benchlog", "demo", *asked]]
    assert len(capsys.readouterr().out.splitlines()) == lines


def test_the_program_takes_over_the_process_with_its_status(tmp_path: Path) -> None:
    code = f"import sys; sys.path.insert(0, {str(SCRIPTS)!r}); import environment;"
    code += " environment.become([sys.executable, '-c', 'import os, sys; print(os.getpid()); sys.exit(3)'])"
    program = subprocess.Popen(
        [sys.executable, "-c", code], stdout=subprocess.PIPE, text=True, env=dict(os.environ)
    )
    told, _ = program.communicate()
    assert program.returncode == 3
    if os.name == "posix":
        assert int(told) == program.pid


def test_what_is_asked_for_with_extras_is_locked_with_them() -> None:
    """Else pip refuses `coverage[toml]` beside a locked `coverage` on the day that a newer one is out."""
    lines = (SCRIPTS / "requirements.lock").read_text("utf-8").splitlines()
    locked = [Requirement(line.partition(" \\")[0]) for line in lines if line[:1].isalnum()]
    extras = {(one.name, extra) for one in locked for extra in one.extras}
    wanted = set()
    for one in locked:
        if one.marker is not None and not one.marker.evaluate():
            continue
        for text in requires(one.name) or ():
            needs = Requirement(text)
            if needs.extras and (needs.marker is None or needs.marker.evaluate({"extra": ""})):
                wanted |= {(needs.name, extra) for extra in needs.extras}
    assert ("coverage", "toml") in wanted
    assert wanted <= extras
