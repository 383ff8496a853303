"""A line that breaks: what came before is given, and what is told leads to the right place."""

from __future__ import annotations

import errno
from collections.abc import Iterator

import pytest
import serial

from acquire.errors import LinkLost
from acquire.link.serial import SerialLink

SERVER = "socket://192.0.2.7:4001"
GONE = serial.SerialException("socket disconnected")
UNREACHABLE = serial.SerialException("read failed: [Errno 110] Connection timed out")


class TornPort:
    """A port that nothing can wait for: some bytes, one a read, and then it breaks."""

    def __init__(self, coming: bytes, error: Exception) -> None:
        self._coming: Iterator[int] = iter(coming)
        self._error = error
        self.timeout = 0.0

    def fileno(self) -> int:
        raise OSError(errno.ENOTTY, "no descriptor")

    def read(self, _size: int) -> bytes:
        for byte in self._coming:
            return bytes([byte])
        raise self._error

    @property
    def in_waiting(self) -> int:
        raise self._error

    def close(self) -> None:
        pass


def link(coming: bytes, error: Exception, where: str = SERVER) -> SerialLink:
    return SerialLink(TornPort(coming, error), where, "")  # type: ignore[arg-type]


def test_the_byte_with_which_a_line_breaks_is_given_before_the_break_is_told() -> None:
    torn = link(b"R", GONE)
    assert torn.read(1.0) == b"R"
    with pytest.raises(LinkLost, match=f"the line {SERVER} broke"):
        torn.read(1.0)


def test_a_server_that_hangs_up_before_a_byte_came_may_have_another_client() -> None:
    with pytest.raises(LinkLost, match=f"{SERVER} hung up before a byte had come") as lost:
        link(b"", GONE).read(1.0)
    assert "another program or computer" in str(lost.value)


@pytest.mark.parametrize("where", [SERVER, "/dev/ttyUSB0"])
def test_a_line_that_broke_otherwise_is_not_said_to_have_another_client(where: str) -> None:
    with pytest.raises(LinkLost, match=f"the line {where} broke") as lost:
        link(b"", UNREACHABLE, where).read(1.0)
    assert "another program" not in str(lost.value)
    assert "timed out" in str(lost.value)
