"""Addresses as people write them, told apart by the link that reaches them."""

import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchlog.errors import BadInput
from benchlog.instruments.address import (
    SerialAddress,
    TcpAddress,
    UsbSerialAddress,
    VisaAddress,
    parse_address,
)


@pytest.mark.parametrize(
    ("text", "host", "port"),
    [
        ("TCPIP::127.0.0.1::5025::SOCKET", "127.0.0.1", 5025),
        ("TCPIP0::meter.local::5025::SOCKET", "meter.local", 5025),
        ("tcpip::h::9221::socket", "h", 9221),
        ("tcp://192.168.1.20:5025", "192.168.1.20", 5025),
        ("tcp://[::1]:5025", "::1", 5025),
        ("TCPIP::[fe80::1]::5025::SOCKET", "fe80::1", 5025),
        ("  tcp://h:1  ", "h", 1),
    ],
)
def test_plain_sockets(text: str, host: str, port: int) -> None:
    assert parse_address(text) == TcpAddress(text.strip(), host, port)


@pytest.mark.parametrize(
    ("text", "device"),
    [
        ("COM3", "COM3"),
        ("com12", "com12"),
        ("/dev/ttyUSB0", "/dev/ttyUSB0"),
        ("ASRL/dev/ttyUSB0::INSTR", "/dev/ttyUSB0"),
        ("ASRLCOM3", "COM3"),
        ("socket://127.0.0.1:4000", "socket://127.0.0.1:4000"),
        ("rfc2217://pi.local:4000", "rfc2217://pi.local:4000"),
    ],
)
def test_serial_ports(text: str, device: str) -> None:
    assert parse_address(text) == SerialAddress(text, device)


def test_a_numbered_port_is_what_the_platform_calls_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "platform", "linux")
    assert parse_address("ASRL2::INSTR") == SerialAddress("ASRL2::INSTR", "/dev/ttyS1")
    monkeypatch.setattr(sys, "platform", "win32")
    assert parse_address("ASRL2::INSTR") == SerialAddress("ASRL2::INSTR", "COM2")


def test_an_adapter_by_what_it_is() -> None:
    assert parse_address("usb:0403:6001:A9X") == UsbSerialAddress("usb:0403:6001:A9X", 0x403, 0x6001, "A9X")


@pytest.mark.parametrize(
    "text",
    ["TCPIP::h::INSTR", "USB0::0x1234::0x5678::SN::INSTR", "GPIB0::7::INSTR", "TCPIP::h::hislip0::INSTR"],
)
def test_everything_else_of_visas_form(text: str) -> None:
    assert parse_address(text) == VisaAddress(text)


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("", "is not an address"),
        ("meter", "is not an address"),
        ("5025", "is not an address"),
        ("http://h:80", "is not an address"),
        ("tcp://h", "lacks a host or a port"),
        ("tcp://:5025", "lacks a host or a port"),
        ("tcp://h:0", "there is no port 0"),
        ("TCPIP::h::65536::SOCKET", "there is no port 65536"),
        ("socket://h", "lacks a host or a port"),
        ("socket://h:4000?logging=debug", "carries options"),
        ("rfc2217://h:99999", "there is no port 99999"),
        ("simulated:lamp", "is a place on the simulated bench"),
        ("usb:zz:1:2", "is not an address"),
        ("tcp://a\nb:1", "is not one line of plain text"),
        ("x" * 201, "is not one line of plain text"),
    ],
)
def test_what_is_no_address_is_said_in_one_sentence(text: str, word: str) -> None:
    with pytest.raises(BadInput) as caught:
        parse_address(text, "bench.toml: meter[1].address")
    assert caught.value.place == "bench.toml: meter[1].address"
    assert word in caught.value.problem
    assert "\n" not in str(caught.value)


@given(st.text(max_size=60))
def test_anything_typed_is_an_address_or_bad_input(text: str) -> None:
    try:
        parse_address(text)
    except BadInput as error:
        assert error.fix
