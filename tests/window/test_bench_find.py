"""Looking for instruments at the bench page: nothing is asked that is not ticked, nothing hangs."""

import json
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.bench_rig import Person
from helpers.fake_link import FakeLink
from helpers.far_end import far_end, multimeter
from PySide6.QtCore import Qt
from pytestqt.qtbot import QtBot

from benchlog.window import finder as finders
from benchlog.window.finder import Finder
from benchlog.window.keys import Keys
from benchlog.window.look import Look
from benchlog.window.runner import Runner
from benchlog.window.shelf import Shelf
from benchlog.window.work import Work

pytestmark = pytest.mark.qt_log_ignore("propagateSizeHints")

PORT = {"address": "usb:0403:6001:A", "device": "COM4", "about": "Adapter"}
VISA = {"address": "", "wrong": "VISA did not end its search within 12 s"}


def program(text: str) -> list[str]:
    return [sys.executable, "-c", text]


def printing(*lines: object) -> list[str]:
    return program(f"print({chr(10).join(json.dumps(line) for line in lines)!r})")


@pytest.fixture
def person(qtbot: QtBot, look: Look, tmp_path: Path) -> Iterator[Person]:
    link = FakeLink()
    shelf = Shelf(tmp_path / "library")
    with qtbot.waitSignal(shelf.opened, timeout=60_000):
        shelf.open()
    made = Person(qtbot, Work(look, Keys(), Runner(link), shelf))
    yield made
    made.page.search.finder.close()
    link.close()
    shelf.close()


def look_for(person: Person, command: list[str]) -> None:
    person.page.search.finder._command = command
    person.press("Look for instruments")
    person.until(lambda: not person.page.search.finder.at_work)


def test_what_is_found_is_listed_and_taken_into_the_form(person: Person) -> None:
    look_for(person, printing({"step": "serial ports"}, {"found": PORT}, {"found": VISA}))
    find = person.page.search
    assert [(shown.head, shown.below, shown.right) for shown in find.list.rows] == [
        ("usb:0403:6001:A", "COM4, Adapter", "")
    ]
    assert find.says.text() == "VISA did not end its search within 12 s."
    assert find.ticked == []
    assert not person.button("Ask those that are ticked").isEnabled()
    person.press("Attach this one")
    assert person.page.views.shown is person.page.form
    assert person.page.form.address.text() == "usb:0403:6001:A"
    assert person.page.form.kind.currentData() == "", "nobody knows yet what it is"
    person.press("Put it on the bench")
    assert [fault.place for fault in person.page.form.faults.faults] == ["Kind of instrument"]


def test_only_what_is_ticked_is_asked_and_its_profile_fills_the_form(person: Person) -> None:
    look_for(person, printing({"found": PORT}))
    find = person.page.search
    asked = {"address": PORT["address"], "identity": "M,S,0,1", "profiles": ["scpi-supply"], "wrong": ""}
    find.finder._command = program(
        f"import sys; assert sys.argv[-1] == {PORT['address']!r}; print({json.dumps({'found': asked})!r})"
    )
    person.bot.keyClick(find.list, Qt.Key.Key_Space)
    person.bot.keyClick(find.list, Qt.Key.Key_Return)
    assert find.ticked == []
    person.bot.keyClick(find.list, Qt.Key.Key_Return)
    assert find.ticked == [PORT["address"]]
    assert find.list.rows[0].right == "ticked"
    person.press("Ask those that are ticked")
    person.until(lambda: "fits scpi-supply" in find.list.rows[0].below)
    person.until(lambda: not find.finder.at_work)
    person.press("Attach this one")
    assert person.page.form.kind.currentData() == "scpi-supply"


def test_an_address_that_cannot_be_found_is_written_and_asked(person: Person) -> None:
    look_for(person, program(""))
    find = person.page.search
    assert "cannot be found" in find.says.text()
    with far_end(multimeter()) as far:
        person.type(find.address, "nowhere", Qt.Key.Key_Return)
        assert '"nowhere" is not an address' in find.says.text()
        find.address.clear()
        person.type(find.address, far.address, Qt.Key.Key_Return)
        assert find.ticked == [far.address]
        find.finder._command = Finder()._command
        person.press("Ask those that are ticked")
        person.until(lambda: not find.finder.at_work)
        assert 'says "FAR END,METER,0,1"' in find.list.rows[0].below
        assert set(far.heard) == {"*IDN?"}


def test_a_search_that_hangs_is_ended_and_said(person: Person, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(finders, "LIST_SECONDS", 0.1)
    look_for(person, program("import time; time.sleep(1000)"))
    assert person.page.search.says.text() == "The search did not end within 0.1 s, at its start."


def test_a_search_that_cannot_start_is_said(person: Person) -> None:
    look_for(person, ["/nowhere/python"])
    assert person.page.search.says.text() == "The search could not be started."


def test_escape_ends_the_search_and_goes_back(person: Person) -> None:
    person.page.search.finder._command = program("import time; time.sleep(1000)")
    person.press("Look for instruments")
    person.bot.keyClick(person.page.search.list, Qt.Key.Key_Escape)
    assert person.page.views.shown is person.page.view
    person.until(lambda: not person.page.search.finder.at_work)
