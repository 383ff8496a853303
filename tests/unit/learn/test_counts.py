"""A count in ASCII digits within a frame counts in digits there, too."""

from __future__ import annotations

import struct
import tomllib
from collections.abc import Callable, Sequence
from decimal import Decimal
from functools import reduce
from operator import xor

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.profile.proved import _START, _told
from acquire.model import NoticeKind, Quantity, Reading

SHOWN = ("91.4", "45.2", "12.0", "33.3")
REGISTRY = Registry()
Send = Callable[[int, str], bytes]


def sealed(text: str) -> bytes:
    body = f"{text}\x03".encode()
    return b"\x02" + body + bytes([reduce(xor, body)])


def padded(n: int, v: str) -> bytes:
    return sealed(f"{n:02d} {v:>7} GU")


def filled(n: int, v: str) -> bytes:
    return sealed(f"{v:>7} GU #{n:4d}")


def single(n: int, v: str) -> bytes:
    return sealed(f"{n % 10} {v:>7} GU")


def taught(send: Send, first: int, shown: Sequence[str] = SHOWN) -> Finding:
    made = [Press(send(first + i, v), Decimal(v)) for i, v in enumerate(shown)]
    return learn(made, About(Quantity.GLOSS, channel="60"), REGISTRY)


def heard(found: Finding, presses: Sequence[bytes]) -> tuple[list[Decimal | None], int]:
    """The values that a driver reads, and how often it tells of a restart."""
    driver = REGISTRY.family("frame").driver(tomllib.loads(found.profile), "learned")
    facts = [fact for here in _told(driver, presses, _START)[0] for fact in here]
    restarts = sum(getattr(fact, "kind", None) is NoticeKind.POWER_UP for fact in facts)
    return [fact.value for fact in facts if isinstance(fact, Reading)], restarts


@pytest.mark.parametrize(("send", "first"), [(padded, 3), (padded, 7), (filled, 6), (filled, 97)])
def test_it_goes_on_over_its_decades(send: Send, first: int) -> None:
    found = taught(send, first)
    assert found.outcome is Outcome.SURE, found.believed
    assert 'type = "digits", size = ' in found.profile
    assert "in digits" in " ".join(found.believed)
    presses = [send(n, "50.5") for n in range(first + 3, 99 if send is padded else 205)]
    values, restarts = heard(found, presses)
    assert values == [Decimal("50.5")] * len(presses)
    assert not restarts


@pytest.mark.parametrize("first", [1, 6])
def test_a_single_digit_counts_to_nine(first: int) -> None:
    found = taught(single, first)
    assert found.outcome is Outcome.SURE, found.believed
    assert 'type = "digits", size = 1' in found.profile
    values, _ = heard(found, [single(n, "50.5") for n in range(first, 10)])
    assert values == [Decimal("50.5")] * (10 - first)


def bare(n: int, v: str, high: int = 0) -> bytes:
    return bytes((0xA5, high, n)) + struct.pack(">h", int(Decimal(v) * 10)) + b"\x0d"


def of_bare(counts_to: int | None, first: int = 1, settled: int = 3) -> Finding:
    made = [Press(bare(first + i, v), Decimal(v)) for i, v in enumerate(SHOWN[:3])]
    about = About(Quantity.GLOSS, channel="60", counts_to=counts_to, settled=settled)
    return learn(made, about, REGISTRY)


@pytest.mark.parametrize(("said", "known", "ends"), [(None, 3, 6), (99, 127, 1), (255, 255, 0)])
def test_how_far_a_byte_counts_may_be_said_and_up_to_there_it_ends_no_check(
    said: int | None, known: int, ends: int
) -> None:
    """Of one that counts to 99 the bits of 127 are its own; at 4, 8, 16 and so on else.

    The code of a setting that byte may be as well, until somebody says that it counts.
    """
    assert of_bare(said, settled=0).missing == ("setting" if said is None else "")
    found = of_bare(said)
    assert found.outcome is Outcome.SURE, found.believed
    values, restarts = heard(found, [bare(n, "50.5") for n in range(1, 256)])
    assert values == [Decimal("50.5")] * 255
    assert restarts == ends
    assert any(f"a count above {known}: " in words for words in found.unseen)


def test_a_count_that_is_said_to_go_beyond_its_byte_goes_on_in_the_one_beside_it() -> None:
    far = [bare(n, "50.5", high=7) for n in (1, 2)]
    for said, values in ((255, 0), (9999, 2)):
        found = of_bare(said)
        assert found.outcome is Outcome.SURE, found.believed
        assert len(heard(found, far)[0]) == values


def test_a_meter_that_was_said_to_count_and_does_not_or_has_counted_further_is_not_learned() -> (
    None
):
    found = of_bare(35, first=40)
    assert found.outcome is Outcome.NONE
    assert found.against is not None
    assert (found.against.part, found.against.sent) == ("counts_to", "a count of 42")
    still = [Press(bare(7, v), Decimal(v)) for v in SHOWN]
    lines = [Press(f"{v} GU\r\n".encode(), Decimal(v)) for v in SHOWN]
    for presses in (still, lines):
        found = learn(presses, About(Quantity.GLOSS, channel="60", counts_to=99), REGISTRY)
        assert found.against is not None
        assert found.against.sent == "nothing in its bytes counts presses"


def test_three_presses_leave_it_open_whether_it_counts() -> None:
    found = taught(padded, 23, SHOWN[:3])
    assert found.is_state_open
    assert any("may count presses" in words for words in found.unseen)
    assert not any("may count presses" in w for w in taught(padded, 23).unseen)


def test_a_leap_of_it_ends_the_check_and_a_minus_is_none() -> None:
    found = taught(padded, 3)
    assert heard(found, [padded(10, "50.5"), padded(40, "50.5")])[1] == 1
    assert heard(found, [sealed("-7    50.5 GU")])[0] == []


def test_a_binary_count_that_looks_like_digits_in_a_binary_frame_is_binary() -> None:
    def send(n: int, v: str) -> bytes:
        return b"\xa5" + bytes([n]) + int(Decimal(v) * 10).to_bytes(4, "big") + b"\x81"

    found = taught(send, 0x31)
    assert 'count = { offset = 1, type = "uint16"' in found.profile


def test_that_a_young_count_ends_the_check_at_its_next_bits_is_told() -> None:
    numbers = {5: 90.0, 6: 12.5, 7: 45.25, 8: 101.5}
    made = [
        Press(b"\xaa" + bytes([n]) + struct.pack(">f", shown) + b"\x03", Decimal(str(shown)))
        for n, shown in numbers.items()
    ]
    found = learn(made, About(Quantity.GLOSS, unit="gloss_unit", channel="60"), Registry())
    assert found.outcome is Outcome.SURE, found.believed
    assert any("a count above 15: at 16, twice that" in words for words in found.unseen)


def packed(n: int, v: str) -> bytes:
    low, high = (bytes.fromhex(f"{part:02d}") for part in (n % 100, n // 100 % 100))
    body = low + b"\xaa" + struct.pack(">H", int(Decimal(v) * 10))
    return b"\xa5" + high + body + bytes([reduce(xor, high + body)])


@pytest.mark.parametrize("first", [7, 8, 17, 97])
def test_a_count_in_packed_decimals_goes_on_where_it_was_seen_to_come_to_ten(first: int) -> None:
    found = taught(packed, first, (*SHOWN, "60.1"))
    assert 'type = "bcd", size = 2' in found.profile, (found.believed, found.left)
    assert "in packed decimals" in " ".join(found.believed)
    presses = [packed(n, "50.5") for n in range(first + 4, 1200)]
    values, restarts = heard(found, presses)
    assert values == [Decimal("50.5")] * len(presses)
    assert not restarts


def test_a_leap_of_a_count_in_packed_decimals_ends_the_check() -> None:
    found = taught(packed, 7, (*SHOWN, "60.1"))
    _, restarts = heard(found, [packed(n, "50.5") for n in (12, 13, 33, 34)])
    assert restarts == 1


def test_a_count_that_was_not_seen_to_come_to_ten_is_left_as_it_was() -> None:
    found = taught(packed, 1, (*SHOWN, "60.1"))
    assert 'type = "bcd"' not in found.profile


def test_a_byte_beside_it_that_never_changed_and_is_not_zero_is_no_part_of_it() -> None:
    def beside(n: int, v: str) -> bytes:
        frame = packed(n, v)
        body = b"\x20" + frame[2:-1]
        return b"\xa5" + body + bytes([reduce(xor, body)])

    found = taught(beside, 7, (*SHOWN, "60.1"))
    assert 'type = "bcd", size = 1' in found.profile
    values, _ = heard(found, [beside(12, "50.5")])
    assert values == [Decimal("50.5")]
    failed = bytearray(beside(13, "50.5"))
    failed[1] ^= 0x01
    failed[-1] ^= 0x01
    assert heard(found, [bytes(failed)])[0] == []


def binary(n: int, v: str) -> bytes:
    body = b"\xaa" + bytes([n & 0xFF]) + struct.pack(">H", round(float(v) * 10))
    return body + bytes([sum(body) & 0xFF])


def decimal(n: int, v: str) -> bytes:
    return binary(int(f"{n}", 16), v)


@pytest.mark.parametrize("first", [1, 3, 20, 80])
@pytest.mark.parametrize("send", [binary, decimal])
def test_a_count_that_may_be_either_goes_on_as_either(send: Send, first: int) -> None:
    found = taught(send, first)
    assert found.outcome is Outcome.SURE, found.believed
    assert "whether in packed decimals or binary no press has shown" in " ".join(found.believed)
    presses = [send(n, "50.5") for n in range(first + 4, 100)]
    values, restarts = heard(found, presses)
    assert values == [Decimal("50.5")] * len(presses)
    # A bit that is set for the first time may be a flag, whichever it is.
    sent = [frame[1] for frame in presses]
    news = {count.bit_length() for count in sent} - {decimal(first + 3, "1")[1].bit_length()}
    assert restarts <= len(news)


def test_a_count_that_had_a_letter_in_hexadecimal_is_binary_and_a_flag_no_decimal() -> None:
    found = taught(binary, 9)
    assert "may_be_packed" not in found.profile
    found = taught(binary, 5)
    for leap in (0x18, 0x19, 0x20, 0x11):
        _, restarts = heard(found, [binary(9, "50.5"), binary(leap, "51.5")])
        assert restarts == 1, leap
