"""Devices are found by what they are, whatever their port is called today."""

from __future__ import annotations

from typing import NamedTuple

import pytest

from acquire.errors import LinkUnavailable
from acquire.link.find import adapter_of, find, ports_in_words
from acquire.model import LinkAddress


class Port(NamedTuple):
    device: str
    serial_number: str | None = None
    vid: int | None = None
    pid: int | None = None


SHORE = Port("/dev/ttyUSB0", "SHORE1", 0x1A2B, 0x0001)
DECK = Port("/dev/ttyUSB1", "DECK2", 0x1A2B, 0x0001)
BARE = Port("/dev/ttyS0")
PORTS = [BARE, DECK, SHORE]


def by(**identity: str) -> LinkAddress:
    return LinkAddress(identity=identity)


def test_a_serial_number_finds_its_port_in_any_order() -> None:
    for ports in (PORTS, PORTS[::-1]):
        assert find(by(serial_number="SHORE1"), lambda ports=ports: ports) == "/dev/ttyUSB0"


def test_ids_find_a_port_and_case_does_not_matter() -> None:
    assert find(by(vid="1A2B", pid="0001", serial_number="DECK2"), lambda: PORTS) == "/dev/ttyUSB1"


def test_a_serial_number_is_taken_exactly() -> None:
    for near in ("shore1", "SHORE", "SHORE1 ", ""):
        with pytest.raises(LinkUnavailable):
            find(by(serial_number=near), lambda: PORTS)


def test_two_ports_that_fit_are_both_named_and_neither_is_taken() -> None:
    with pytest.raises(LinkUnavailable, match="add serial_number") as caught:
        find(by(vid="1a2b", pid="0001"), lambda: PORTS)
    assert "DECK2" in caught.value.got
    assert "SHORE1" in caught.value.got


def test_an_absent_device_is_told_with_what_is_there() -> None:
    with pytest.raises(LinkUnavailable, match="plug the device in") as caught:
        find(by(serial_number="GONE"), lambda: PORTS)
    assert caught.value.got.startswith("other ports that are there: ")
    assert "/dev/ttyS0 (no USB identity)" in caught.value.got
    with pytest.raises(LinkUnavailable, match="no serial port at all"):
        find(by(serial_number="GONE"), list)


def test_an_identity_that_says_nothing_finds_nothing() -> None:
    with pytest.raises(LinkUnavailable):
        find(by(), lambda: [SHORE])


def test_ports_and_urls_are_taken_as_written() -> None:
    assert find(LinkAddress(port="/dev/x"), list) == "/dev/x"
    assert find(LinkAddress(url="socket://h:1"), list) == "socket://h:1"


def test_the_adapter_of_a_port_is_known_by_its_own_number() -> None:
    assert adapter_of("/dev/ttyUSB1", lambda: PORTS) == "DECK2"
    assert adapter_of("/dev/ttyS0", lambda: PORTS) == ""
    assert adapter_of("/dev/other", lambda: PORTS) == ""


def test_ports_are_told_in_words() -> None:
    assert "serial_number SHORE1, vid 1a2b, pid 0001" in ports_in_words([SHORE])
