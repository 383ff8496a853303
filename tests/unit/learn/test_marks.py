"""Checksums over what lies between a start mark and the mark before them, and digits of none."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from decimal import Decimal
from functools import reduce
from operator import xor

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity
from tests.learning.checks import checksum

SHOWN = ("91.4", "45.2", "12.0", "77.9", "3.6", "105.8", "60.3", "28.1")
REGISTRY = Registry()


def body(n: int, v: str) -> str:
    return f"{n:05d};GL60={Decimal(v):+06.1f} GU;OK"


def xored(text: str) -> str:
    return f"{reduce(xor, text.encode()):02X}"


def added(text: str) -> str:
    return f"{sum(text.encode()) & 0xFF:02X}"


def taught(send: Callable[[int, str], str], presses: int, settled: int = 0) -> Finding:
    made = [
        Press(f"{send(417 + i, v)}\r\n".encode(), Decimal(v)) for i, v in enumerate(SHOWN[:presses])
    ]
    return learn(made, About(Quantity.GLOSS, channel="60", settled=settled), REGISTRY)


@pytest.mark.parametrize("presses", [3, 5, 8])
@pytest.mark.parametrize(("mark", "sum_of"), [("#", xored), ("$", added), ("\x02", xored)])
def test_a_sum_behind_a_start_mark_is_found_and_checked(
    mark: str, sum_of: Callable[[str], str], presses: int
) -> None:
    def send(n: int, v: str) -> str:
        return f"{mark}{body(n, v)}*{sum_of(body(n, v))}"

    found = taught(send, presses)
    assert found.outcome is Outcome.SURE, found.believed
    assert "\nfirst = 1\n" in found.profile
    right = [f"{send(n, '99.9')}\r\n".encode() for n in range(430, 450)]
    given = readings("line", found.profile, right, REGISTRY)
    assert [[r.value for r in here] for here in given] == [[Decimal("99.9")]] * len(right)
    wrong = [line.replace(b"99.9", b"98.9") for line in right]
    assert not any(readings("line", found.profile, wrong, REGISTRY))


@pytest.mark.parametrize("cover", ["#{}*", "\x02{}\x03"])
def test_a_sum_may_cover_the_mark_before_it(cover: str) -> None:
    def send(n: int, v: str) -> str:
        text = cover.format(body(n, v))
        return text + xored(text[cover.startswith("\x02") :])

    found = taught(send, 5)
    assert found.outcome is Outcome.SURE
    assert "\nwith_after = true\n" in found.profile
    right = [f"{send(n, '99.9')}\r\n".encode() for n in range(430, 450)]
    given = readings("line", found.profile, right, REGISTRY)
    assert [[r.value for r in here] for here in given] == [[Decimal("99.9")]] * len(right)
    wrong = [line.replace(b"99.9", b"98.9") for line in right]
    assert not any(readings("line", found.profile, wrong, REGISTRY))


@pytest.mark.parametrize("presses", [3, 5, 8])
def test_digits_of_a_sum_that_is_not_found_are_never_held_to_those_that_were_seen(
    presses: int,
) -> None:
    sums: Sequence[str] = ("3D", "3C", "31", "3D", "3A", "3D", "31", "3C")

    found = taught(lambda n, v: f"{body(n, v)}*{sums[n - 417]}", presses)
    assert found.outcome is Outcome.MORE, found.profile
    assert "may be a checksum" in found.believed[0]


def test_digits_of_a_sum_that_is_not_found_and_that_may_be_any_are_told() -> None:
    sums = ("3D", "A7", "0C")
    found = taught(lambda n, v: f"{body(n, v)}*{sums[n - 417]}", 3)
    assert found.outcome is Outcome.SURE
    assert any("not checked" in words for words in found.believed)


def test_words_of_two_letters_on_the_press_are_no_sum() -> None:
    words = ("A0", "B1", "A0", "A0", "B1")
    found = taught(lambda n, v: f"{v};{words[n - 417]}", 5, settled=5)
    assert found.outcome is Outcome.SURE


def sealed(n: int, v: str, sum_of: Callable[[str], str] = xored) -> bytes:
    body = f"{n % 100:02d} {v:>7} GU\x03"
    return f"\x02{body}{sum_of(body)}".encode()


def sealed_presses(presses: int, sum_of: Callable[[str], str] = xored) -> Finding:
    made = [Press(sealed(7 + i, v, sum_of), Decimal(v)) for i, v in enumerate(SHOWN[:presses])]
    found = learn(made, About(Quantity.GLOSS, channel="60"), REGISTRY)
    assert found.outcome is Outcome.SURE, found.believed
    return found


@pytest.mark.parametrize("presses", [3, 5, 8])
@pytest.mark.parametrize(
    "sum_of", [xored, added, lambda text: xored(text).lower(), lambda text: f"{crc(text):04X}"]
)
def test_a_sum_in_digits_behind_a_frame_is_found_and_checked(
    sum_of: Callable[[str], str], presses: int
) -> None:
    found = sealed_presses(presses, sum_of)
    assert any(" digits; of " in w for w in found.believed)
    fresh = [sealed(n, "99.9", sum_of) for n in range(16, 60)]
    assert all(readings("frame", found.profile, fresh, REGISTRY))
    flipped = [frame.replace(b"99.9", b"98.9") for frame in fresh]
    assert not any(readings("frame", found.profile, flipped, REGISTRY))


def crc(text: str) -> int:
    return checksum("crc16-xmodem", text.encode())


def test_digits_of_a_sum_that_had_no_letter_may_have_letters_of_either_kind() -> None:
    found = sealed_presses(3)
    assert 'form = "hex"\n' in found.profile
    with_letters = [f for f in (sealed(n, "99.9") for n in range(16, 60)) if f[-1:].isalpha()]
    assert all(readings("frame", found.profile, with_letters, REGISTRY))
    assert 'form = "hex-upper"\n' in sealed_presses(8).profile


@pytest.mark.parametrize("presses", [3, 5, 8])
def test_digits_behind_a_frame_that_nothing_explains_are_never_held(presses: int) -> None:
    sums = iter(("3D", "3C", "31", "3D", "3A", "3D", "31", "3C"))
    made = [
        Press(sealed(7 + i, v, lambda _: next(sums)), Decimal(v))
        for i, v in enumerate(SHOWN[:presses])
    ]
    found = learn(made, About(Quantity.GLOSS, channel="60"), REGISTRY)
    assert found.outcome is Outcome.MORE, found.profile
    assert "may be a checksum" in found.believed[0]


@pytest.mark.parametrize("field", ["23.4C 21.7C 25.0C", " T=23 T=81 T=45", " 23 24 22"])
def test_a_field_at_the_end_of_a_frame_is_no_sum(field: str) -> None:
    ends = field.split(" ")[-3:]
    made = [
        Press(f"\x02{v:>7} GU {end}".encode(), Decimal(v))
        for v, end in zip(SHOWN, ends, strict=False)
    ]
    found = learn(made, About(Quantity.GLOSS, channel="60"), REGISTRY)
    assert not any("may be a checksum" in words for words in found.believed)
