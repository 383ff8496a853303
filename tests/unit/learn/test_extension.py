"""The bytes that only extend the sign of a wide integer are the number's, and count nothing."""

from __future__ import annotations

from decimal import Decimal
from typing import Literal

import pytest

from acquire.cli.learned import told
from acquire.driverapi.registry import Registry
from acquire.errors import CoatbenchError
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity
from acquire.wire import CHECKSUMS

REGISTRY = Registry()
FORCE = About(Quantity.FORCE, "newton", least=Decimal(-500), most=Decimal(500))
# As an int32 in thousandths the upper two bytes are 0000, 0001, FFFD and FFFE: two steps by one.
RISING = ("32.990", "79.591", "-155.479", "-113.439")
Order = Literal["big", "little"]


def sent(value: str, order: Order) -> bytes:
    thousandths = int(Decimal(value).scaleb(3))
    body = b"\xaa\x55" + thousandths.to_bytes(4, order, signed=True)
    return body + CHECKSUMS["crc16-modbus"].of(body).to_bytes(2, "little")


def taught(order: Order, *shown: str) -> Finding:
    return learn([Press(sent(v, order), Decimal(v)) for v in shown], FORCE, REGISTRY)


@pytest.mark.parametrize("order", ["big", "little"])
@pytest.mark.parametrize("more", [(), ("10.021",), ("10.021", "-80.002")])
def test_they_are_no_count(order: Order, more: tuple[str, ...]) -> None:
    found = taught(order, *RISING, *more)
    assert found.outcome is Outcome.SURE, found.believed
    assert "count =" not in found.profile
    later = ("-499.000", "-0.001", "0.000", "17.204", "499.000")
    given = readings("frame", found.profile, [sent(v, order) for v in later], REGISTRY)
    assert [[str(one.value) for one in here] for here in given] == [[v] for v in later]


def test_what_a_profile_cannot_do_is_no_fault_of_what_was_typed() -> None:
    words = ("bytes 5-7 as int24", "its driver takes no such profile")
    found = Finding(Outcome.NONE, words, is_unproved=True)
    with pytest.raises(CoatbenchError) as refused:
        told(found, FORCE, None, "", is_line_known=True)
    assert "the number is found" in refused.value.what
    assert "press some more times" in refused.value.next_step
    assert "typed" not in refused.value.next_step
