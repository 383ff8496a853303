"""Every implementation of a link keeps the same promises: memory, pseudo-terminal, TCP, loop."""

from __future__ import annotations

import os
import socket
import sys
import time
import tty
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from typing import NamedTuple

import pytest

from acquire.driverapi import LinkNeeds
from acquire.errors import LinkLost
from acquire.link import Link, SerialOpener, memory_pair
from acquire.model import LinkAddress
from acquire.supervise import Scope
from tests.patience import PATIENCE_S


class Ends(NamedTuple):
    """A link and its far side: send to the link, hear what it wrote, and go away."""

    link: Link
    send: Callable[[bytes], object]
    hear: Callable[[int], bytes]
    leave: Callable[[], object]


def memory(stack: ExitStack) -> Ends:
    bench, device = memory_pair()
    stack.callback(device.close)
    return Ends(bench, device.write, lambda _: device.read(PATIENCE_S), device.close)


def terminal(stack: ExitStack) -> Ends:
    master, slave = os.openpty()
    tty.setraw(master)
    tty.setraw(slave)
    name = os.ttyname(slave)
    link = SerialOpener(LinkAddress(port=name), LinkNeeds(), list).open()
    is_open = [master, slave]

    def leave() -> None:
        while is_open:
            os.close(is_open.pop())

    stack.callback(leave)
    return Ends(
        link, lambda data: os.write(master, data), lambda size: os.read(master, size), leave
    )


def tcp(stack: ExitStack) -> Ends:
    server = stack.enter_context(socket.create_server(("127.0.0.1", 0)))
    url = f"socket://127.0.0.1:{server.getsockname()[1]}"
    link = SerialOpener(LinkAddress(url=url), LinkNeeds(), list).open()
    far = stack.enter_context(server.accept()[0])
    far.settimeout(PATIENCE_S)
    return Ends(link, far.sendall, far.recv, far.close)


KINDS = [
    pytest.param(memory, id="memory"),
    pytest.param(
        terminal,
        id="terminal",
        marks=pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals"),
    ),
    pytest.param(tcp, id="tcp"),
]


@pytest.fixture(params=KINDS)
def ends(request: pytest.FixtureRequest) -> Iterator[Ends]:
    with ExitStack() as stack:
        ends = request.param(stack)
        stack.callback(ends.link.close)
        yield ends


def all_of(link: Link, size: int) -> bytes:
    """Read until `size` bytes have come."""
    data = b""
    while len(data) < size:
        more = link.read(PATIENCE_S)
        assert more, f"only {data!r} came"
        data += more
    return data


def test_bytes_come_as_they_were_sent(ends: Ends) -> None:
    every = bytes(range(256))
    ends.send(every)
    assert all_of(ends.link, 256) == every


def test_bytes_go_as_they_were_written(ends: Ends) -> None:
    every = bytes(range(256))
    ends.link.write(every)
    heard = b""
    while len(heard) < 256:
        heard += ends.hear(256)
    assert heard == every


def test_a_read_without_bytes_comes_back_empty_when_its_time_is_up(ends: Ends) -> None:
    assert ends.link.read(0.0) == b""
    assert ends.link.read(0.01) == b""


def test_a_waiting_read_is_woken_by_cancel(ends: Ends) -> None:
    came = []
    crashes: list[tuple[str, BaseException]] = []
    with Scope(lambda name, error: crashes.append((name, error))) as scope:
        scope.start("reader", lambda: came.append(ends.link.read(PATIENCE_S * 3)))
        ends.link.cancel()
    assert (came, crashes) == ([b""], [])


def test_a_cancel_before_the_read_is_not_forgotten(ends: Ends) -> None:
    ends.link.cancel()
    assert ends.link.read(PATIENCE_S * 3) == b""


def test_a_waiting_read_is_woken_by_bytes(ends: Ends) -> None:
    came = []
    with Scope(lambda *_: None) as scope:
        scope.start("reader", lambda: came.append(ends.link.read(PATIENCE_S * 3)))
        ends.send(b"!")
    assert came == [b"!"]


def test_a_link_whose_far_side_left_is_lost_and_says_what_to_do(ends: Ends) -> None:
    ends.leave()
    with pytest.raises(LinkLost, match="found by itself") as caught:
        ends.link.read(PATIENCE_S)
    assert ends.link.where in caught.value.what


def test_a_closed_link_says_that_it_is_closed_and_not_broken(ends: Ends) -> None:
    ends.send(b"unread")
    ends.link.close()
    ends.link.close()
    ends.link.cancel()
    with pytest.raises(LinkLost, match="is closed"):
        ends.link.read(0.0)
    with pytest.raises(LinkLost, match="is closed"):
        ends.link.write(b"x")


def test_a_loop_link_gives_back_what_it_was_given_and_is_woken() -> None:
    link = SerialOpener(LinkAddress(url="loop://"), LinkNeeds(), list).open()
    try:
        link.write(b"hello")
        assert all_of(link, 5) == b"hello"
        assert link.read(0.01) == b""
        link.cancel()
        assert link.read(PATIENCE_S) == b""
    finally:
        link.close()
    with pytest.raises(LinkLost, match="is closed"):
        link.read(0.0)


def test_many_cancels_are_one(ends: Ends) -> None:
    for _ in range(100_000):
        ends.link.cancel()
    assert ends.link.read(PATIENCE_S * 3) == b""
    begun = time.monotonic()
    assert ends.link.read(0.05) == b""
    assert time.monotonic() - begun > 0.04
    ends.send(b"!")
    assert all_of(ends.link, 1) == b"!"
