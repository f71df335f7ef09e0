"""The command table: each command loads alone, and every failure is a sentence with its exit status."""

import argparse
import ast
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

from benchlog import __main__ as entry
from benchlog.errors import BadInput, Fault


@pytest.fixture
def planted(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """Put a small command of this test's own in the table, under the name `probe`."""
    module = ModuleType("benchlog_probe")
    seen: list[object] = []

    def add_arguments(parser: argparse.ArgumentParser) -> None:
        parser.add_argument("value", nargs="*")
        parser.add_argument("--reading")

    def run(args: object) -> int:
        seen.append(args)
        return 3

    vars(module).update(seen=seen, add_arguments=add_arguments, run=run)
    monkeypatch.setitem(sys.modules, module.__name__, module)
    monkeypatch.setitem(entry.COMMANDS, "probe", entry.Entry(module.__name__, "a probe"))
    return module


def test_a_command_gets_its_arguments_and_gives_its_status(planted: ModuleType) -> None:
    assert entry.main(["probe", "4k7", "--reading", "4.65"]) == 3
    assert (planted.seen[0].value, planted.seen[0].reading, planted.seen[0].library) == (
        ["4k7"],
        "4.65",
        None,
    )


@pytest.mark.parametrize("given", [["--library", "L", "probe"], ["probe", "--library", "L"]])
def test_the_library_may_be_named_before_or_behind_the_command(planted: ModuleType, given: list[str]) -> None:
    entry.main(given)
    assert planted.seen[0].library == Path("L")


@pytest.mark.parametrize("value", ["-38.9", "-38V", "-.61", "-0,6 V", "-38 V 10%"])
def test_a_negative_value_is_a_value_and_no_option(planted: ModuleType, value: str) -> None:
    entry.main(["probe", value, "--reading", value])
    assert (planted.seen[0].value, planted.seen[0].reading) == ([value], value)


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        (["prob"], 'there is no command "prob"; did you mean "probe"?'),
        (["zzz"], 'there is no command "zzz"; there are: demo, '),
        (
            ["probe", "--wrong"],
            "unrecognized arguments: --wrong; `benchlog probe --help` lists what it takes.",
        ),
        (["--wrong"], "unrecognized arguments: --wrong; `benchlog --help` lists what it takes."),
    ],
)
def test_a_slip_gets_one_sentence_and_status_2(
    planted: ModuleType, capsys: pytest.CaptureFixture[str], given: list[str], sentence: str
) -> None:
    assert entry.main(given) == 2
    said = capsys.readouterr()
    assert sentence in said.err
    assert said.err.count("\n") == 1
    assert said.out == ""


def test_every_fault_of_a_file_is_said(planted: ModuleType, capsys: pytest.CaptureFixture[str]) -> None:
    faults = [
        Fault("bench.toml: meter[1].job", "is missing", "add it"),
        Fault("bench.toml: name", "is empty"),
    ]

    def run(args: object) -> int:
        raise BadInput.of(faults)

    vars(planted)["run"] = run
    assert entry.main(["probe"]) == 2
    assert (
        capsys.readouterr().err
        == "bench.toml: meter[1].job: is missing; add it.\nbench.toml: name: is empty.\n"
    )


@pytest.mark.parametrize(("raised", "status"), [(KeyboardInterrupt(), 4), (ZeroDivisionError("oops"), 1)])
def test_the_operator_ends_with_4_and_a_bug_with_1(
    planted: ModuleType, capsys: pytest.CaptureFixture[str], raised: BaseException, status: int
) -> None:
    def run(args: object) -> int:
        raise raised

    vars(planted)["run"] = run
    assert entry.main(["probe"]) == status
    said = capsys.readouterr()
    assert "Traceback" not in said.err
    assert said.err.count("\n") == 1


def test_a_bug_leaves_its_traceback_in_the_log(
    planted: ModuleType, capsys: pytest.CaptureFixture[str], own_folders: Path
) -> None:
    def run(args: object) -> int:
        raise ZeroDivisionError("oops")

    vars(planted)["run"] = run
    entry.main(["probe"])
    log = own_folders / "log" / "benchlog.log"
    assert str(log) in capsys.readouterr().err
    assert "ZeroDivisionError: oops" in log.read_text("utf-8")


@pytest.fixture
def windows(monkeypatch: pytest.MonkeyPatch) -> list[argparse.Namespace]:
    """Put a file that opens no window in the place of the one that does; what it was given."""
    module = ModuleType("benchlog_window_probe")
    seen: list[argparse.Namespace] = []

    def run(args: argparse.Namespace) -> int:
        seen.append(args)
        return 0

    vars(module).update(run=run, add_arguments=lambda _: None)
    monkeypatch.setitem(sys.modules, module.__name__, module)
    monkeypatch.setattr(entry, "WINDOW", entry.Entry(module.__name__, "the window"))
    return seen


def test_without_a_command_the_window_opens_on_the_library(windows: list[argparse.Namespace]) -> None:
    assert entry.main([]) == 0
    assert entry.main(["--library", "L"]) == 0
    assert [args.library for args in windows] == [None, Path("L")]


NO_DISPLAY = ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM")


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere a display is taken for granted")
def test_without_a_display_the_window_is_one_sentence(
    windows: list[argparse.Namespace], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    for name in NO_DISPLAY:
        monkeypatch.delenv(name, raising=False)
    assert entry.main([]) == 2
    assert not windows
    said = capsys.readouterr()
    assert said.err == (
        "there is no display here, so the window cannot open; name a command, `benchlog --help` lists them.\n"
    )


@pytest.mark.skipif(sys.platform != "linux", reason="elsewhere a display is taken for granted")
@pytest.mark.parametrize("name", NO_DISPLAY)
def test_the_file_with_the_window_is_loaded_only_where_one_can_open_and_is_wanted(
    name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    probe = entry.Entry("plain", "a probe", "with window")
    for other in NO_DISPLAY:
        monkeypatch.delenv(other, raising=False)
    assert probe.chosen([]) == "plain"
    monkeypatch.setenv(name, "offscreen")
    assert probe.chosen(["--fault", "runaway"]) == "with window"
    for option in ("--headless", "--json", "--help", "-h"):
        assert probe.chosen(["--fault", "runaway", option]) == "plain"
    assert entry.Entry("plain", "a probe").chosen([]) == "plain"


@pytest.mark.parametrize(
    ("text", "status", "sentence"),
    [
        (
            "libEGL.so.1: cannot open shared object file: No such file or directory",
            2,
            "the window cannot be loaded: libEGL.so.1: cannot open shared object file",
        ),
        ("cannot import name 'x'", 1, "benchlog has a bug: ImportError: cannot import name 'x'"),
    ],
)
def test_a_library_that_qt_lacks_is_a_sentence_and_anything_else_a_bug(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    text: str,
    status: int,
    sentence: str,
) -> None:
    (tmp_path / "benchlog_lacking.py").write_text(f"raise ImportError({text!r})\n", "utf-8")
    monkeypatch.syspath_prepend(tmp_path)
    monkeypatch.setitem(entry.COMMANDS, "probe", entry.Entry("benchlog_lacking", "a probe"))
    assert entry.main(["probe"]) == status
    said = capsys.readouterr().err
    assert said.startswith(sentence)
    assert said.count("\n") == 1


@pytest.mark.parametrize("option", ["--help", "--version"])
def test_help_and_version_end_with_0(capsys: pytest.CaptureFixture[str], option: str) -> None:
    with pytest.raises(SystemExit) as ended:
        entry.main([option])
    assert ended.value.code == 0
    assert "benchlog" in capsys.readouterr().out


def test_every_command_of_the_table_is_there_and_shows_its_help(capsys: pytest.CaptureFixture[str]) -> None:
    for name in entry.COMMANDS:
        with pytest.raises(SystemExit) as ended:
            entry.main([name, "--help"])
        assert ended.value.code == 0
        assert f"benchlog {name}" in capsys.readouterr().out


def _loaded_by(*command: str, status: int = 0) -> set[str]:
    """Run a command in a Python of its own and give the top-level names it had loaded when it was done."""
    code = (
        "import sys; from benchlog.__main__ import main; status = main(sys.argv[1:]);"
        " print('LOADED', *{name.split('.')[0] for name in sys.modules}); sys.exit(status)"
    )
    told = subprocess.run([sys.executable, "-c", code, *command], capture_output=True, text=True, check=False)
    assert told.returncode == status, told.stderr
    return set(told.stdout.split("LOADED", 1)[1].split())


# Not sqlite3: coverage loads it itself.
HEAVY = {"PySide6", "shiboken6", "numpy", "scipy", "sqlite_utils", "serial", "pyvisa"}


@pytest.mark.parametrize(
    "command", [("decode", "4k7"), ("judge", "--expect", "4k7 5%", "--reading", "4.65k")]
)
def test_a_command_that_only_thinks_loads_nothing_heavy(command: tuple[str, ...]) -> None:
    assert not _loaded_by(*command) & HEAVY


def test_a_demo_without_a_window_does_not_load_one() -> None:
    assert not _loaded_by("demo", "--headless", "--fault", "gremlins", status=2) & {"PySide6", "shiboken6"}


def test_a_reader_that_leaves_is_no_bug() -> None:
    code = "import sys; from benchlog.__main__ import main; sys.exit(main(['decode', '4k7']))"
    program = subprocess.Popen(
        [sys.executable, "-u", "-c", code], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    assert program.stdout is not None
    assert program.stderr is not None
    program.stdout.close()
    said = program.stderr.read()
    program.stderr.close()
    assert program.wait() == 4
    assert said == ""


def test_no_command_imports_another() -> None:
    """What several share has a file of its own that is not in the table."""
    modules = {name for one in entry.COMMANDS.values() for name in (one.module, one.with_window) if name}
    folder = Path(entry.__file__).parent / "commands"
    for name in modules:
        tree = ast.parse((folder / f"{name.rpartition('.')[2]}.py").read_text(encoding="utf-8"))
        imported = {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
        assert not imported & (modules - {name}), name
