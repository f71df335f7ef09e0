"""The lines of a serial port: set before it opens, told when they change, one port for relay and pedals."""

import sys
import termios
from collections.abc import Iterator

import pytest
from helpers.far_lines import FarLines, far_lines
from helpers.far_port import far_port
from helpers.until import until

from benchlog.errors import Gone, LinkError
from benchlog.instruments.address import SerialAddress
from benchlog.instruments.line_port import LinePort
from benchlog.instruments.link_serial import SerialLink
from benchlog.instruments.opening import open_lines

pytestmark = [
    pytest.mark.skipif(sys.platform == "win32", reason="Windows has no pty"),
    pytest.mark.filterwarnings("ignore:set(Daemon|Name):DeprecationWarning"),  # pyserial's own
]

BOTH_DOWN = frozenset[str]()


@pytest.fixture
def far() -> Iterator[FarLines]:
    with far_lines() as made:
        yield made


def opened(device: str, high: frozenset[str] = BOTH_DOWN) -> SerialLink:
    return open_lines(SerialAddress(device, device), "port", high)


def port_at(far: FarLines, fed: frozenset[str] = BOTH_DOWN, *, pedals: bool = False) -> LinePort:
    return LinePort(lambda high: opened(far.address, high), fed, pedals=pedals)


def test_no_line_is_up_that_was_not_asked_for(far: FarLines) -> None:
    link = opened(far.address)
    link.close()
    assert far.moves == []
    link = opened(far.address, frozenset({"dtr"}))
    until(lambda: far.moves == [("dtr", True)], "DTR alone")
    link.close()
    until(lambda: far.moves[-1] == ("dtr", False), "its fall")


def test_a_line_is_set_and_another_is_read(far: FarLines) -> None:
    link = opened(far.address, frozenset({"dtr"}))
    link.set_line("rts", True)
    assert far.levels == {"rts": True, "dtr": True}
    far.close_contact("dsr", "rts")
    until(lambda: link.lines() == {"dsr"}, "DSR")
    far.open_contact("dsr")
    until(lambda: link.lines() == BOTH_DOWN, "no line")
    link.close()


def test_a_port_whose_far_end_is_gone_has_no_lines(far: FarLines) -> None:
    link = opened(far.address)
    until(lambda: link.lines() is not None, "the first word on its lines")
    far.unplug()

    def dead() -> bool:
        try:
            link.lines()
        except Gone:
            return True
        return False

    until(dead, "that it is gone")
    link.close()


def test_a_closed_port_has_no_lines(far: FarLines) -> None:
    link = opened(far.address)
    link.close()
    with pytest.raises(Gone):
        link.lines()
    with pytest.raises(Gone):
        link.set_line("rts", True)


def test_a_port_without_lines_says_so() -> None:
    with far_port() as near:
        link = opened(near.device)
        with pytest.raises(Gone, match="broke"):
            link.lines()
        link.close()


@pytest.mark.parametrize("fall", [True, False])
def test_the_system_is_told_what_a_port_that_closes_does(fall: bool) -> None:
    with far_port() as near:
        link = opened(near.device)
        link.fall_on_close(fall=not fall)
        link.fall_on_close(fall=fall)
        assert bool(termios.tcgetattr(near._slave)[2] & termios.HUPCL) is fall
        link.close()
        with pytest.raises(Gone):
            link.fall_on_close(fall=fall)


# --- shared ---------------------------------------------------------------------------------------


def test_relay_and_pedals_have_the_port_open_once(far: FarLines) -> None:
    port = port_at(far, frozenset({"dtr"}), pedals=True)
    until(lambda: port.lines() == BOTH_DOWN, "the pedal's first look")
    assert far.opened == 1
    held = port.afresh()
    assert far.opened == 2
    held.set_line("rts", True)
    far.close_contact("cts")
    until(lambda: port.lines() == {"cts"}, "the pedal")
    held.set_line("rts", False)
    held.close()
    assert port.lines() == {"cts"}
    assert far.opened == 2
    port.close()
    until(lambda: not far.levels["dtr"], "the end")


def test_what_a_relay_shuts_no_look_opens(far: FarLines) -> None:
    port = port_at(far, pedals=True)
    held = port.afresh()
    held.shut()
    assert port.shut
    assert port.lines() is None
    assert far.opened == 1
    with pytest.raises(LinkError):
        held.check()
    held.close()
    until(lambda: port.lines() == BOTH_DOWN, "a look after it was left")
    assert far.opened == 2
    port.close()


def test_without_pedals_a_port_that_is_left_is_closed(far: FarLines) -> None:
    port = port_at(far)
    held = port.afresh(frozenset({"rts"}))
    until(lambda: far.levels["rts"], "its rest")
    held.close()
    until(lambda: not far.levels["rts"], "its close")


def test_an_old_hold_does_nothing_to_a_port_opened_anew(far: FarLines) -> None:
    port = port_at(far)
    old, held = port.afresh(), port.afresh()
    old.close()
    old.shut()
    held.set_line("rts", True)
    held.check()
    port.close()


def test_a_port_that_was_lost_is_opened_by_the_next_look(far: FarLines) -> None:
    port = port_at(far, pedals=True)
    until(lambda: port.lines() is not None, "the first look")
    far.unplug()

    def lost() -> bool:
        try:
            port.lines()
        except LinkError:
            return True
        return False

    until(lost, "its loss")
    far.plug_in()
    until(lambda: not lost() and port.lines() is not None, "its return")
    assert far.opened == 2
    port.close()
