"""The link of an instrument without a port keeps the promises of every link that it can keep."""

from __future__ import annotations

import pytest

from acquire.driverapi import LinkNeeds, TypedNeeds
from acquire.driverapi.fit import misfit_needs
from acquire.errors import LinkLost, Misuse, Refused
from acquire.link import opener_for
from acquire.link.typed import LONGEST_ENTRY, Typed, TypedLink, TypedOpener, line_of
from acquire.model import LinkAddress
from acquire.supervise import Scope
from tests.patience import PATIENCE_S

TYPED = LinkAddress(typed=True)


def test_an_entry_comes_as_one_line_and_one_chunk() -> None:
    link = TypedLink()
    assert link.type_in(" 91.4 ") == Typed(0, 5)
    assert link.type_in("60 52.6") == Typed(5, 13)
    assert [link.read(0), link.read(0), link.read(0)] == [b"91.4\n", b"60 52.6\n", b""]


@pytest.mark.parametrize(
    ("text", "got"),
    [
        ("", "nothing"),
        ("   ", "nothing but spaces"),
        ("９１", "with the character '\\uff19'"),
        ("9½", "with the character '\\xbd'"),
        ("91.4\n52.6", "with the character '\\n'"),
        ("9\x1b[2J", "with the character '\\x1b'"),
        ("9" * (LONGEST_ENTRY + 1), f"{LONGEST_ENTRY + 1} characters"),
    ],
)
def test_what_can_be_no_entry_is_refused_and_nothing_of_it_arrives(text: str, got: str) -> None:
    link = TypedLink()
    with pytest.raises(Refused) as caught:
        link.type_in(text)
    assert got in caught.value.got
    assert caught.value.got.isascii()
    assert caught.value.wanted
    assert caught.value.next_step
    assert link.read(0) == b""
    assert link.type_in("1") == Typed(0, 2), "the offsets do not count what was refused"


def test_the_longest_entry_is_one() -> None:
    assert len(line_of("9" * LONGEST_ENTRY)) == LONGEST_ENTRY + 1


def test_a_waiting_read_is_woken_by_cancel_and_by_an_entry() -> None:
    link = TypedLink()
    came: list[bytes] = []
    crashes: list[object] = []
    for wake in (link.cancel, lambda: link.type_in("1")):
        with Scope(lambda name, error: crashes.append((name, error))) as scope:
            scope.start("reader", lambda: came.append(link.read(PATIENCE_S * 3)))
            wake()
    assert (came, crashes) == ([b"", b"1\n"], [])


def test_nothing_can_be_sent() -> None:
    link = TypedLink()
    link.write(b"")
    with pytest.raises(LinkLost, match="nothing can be sent to an instrument without a port"):
        link.write(b"?")


def test_a_closed_link_gives_no_entry_and_takes_none() -> None:
    link = TypedLink()
    link.type_in("1")
    link.close()
    link.close()
    with pytest.raises(LinkLost, match="closed"):
        link.read(0)
    with pytest.raises(LinkLost):
        link.type_in("2")


def test_an_opener_opens_again_and_again() -> None:
    opener = opener_for(TYPED, TypedNeeds())
    assert isinstance(opener, TypedOpener)
    assert opener.address == "typed by hand"
    one, other = opener.open(), opener.open()
    one.type_in("1")
    assert other.read(0) == b""


def test_a_driver_and_a_link_that_do_not_go_together_are_told() -> None:
    with pytest.raises(Misuse, match=r"got a driver that needs a port, with link = \{ typed"):
        opener_for(TYPED, LinkNeeds())
    with pytest.raises(Misuse, match="got a driver for what is typed by hand, with a link to COM3"):
        opener_for(LinkAddress(port="COM3"), TypedNeeds())


def test_typed_needs_are_needs() -> None:
    assert misfit_needs(TypedNeeds()) == ""
