"""What stands beside the number and changes: sums in digits, times in one number, widths."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.checksums.sums import of_digits, of_doubled, of_tripled
from acquire.learn.profile.proved import readings
from acquire.model import Quantity

REGISTRY = Registry()
GLOSS = About(Quantity.GLOSS, unit="gloss_unit", channel="60", settled=9)
SHOWN = ("91.4", "45.2", "12.0", "60.1", "33.3", "8.7", "71.8", "27.9")
BEGUN = datetime(2026, 5, 21, 9, 0, tzinfo=UTC)


def taught(lines: list[str], apart_s: float = 0) -> Finding:
    presses = [
        Press(
            f"{line}\r\n".encode(),
            Decimal(v),
            BEGUN + timedelta(seconds=apart_s * i) if apart_s else None,
        )
        for i, (line, v) in enumerate(zip(lines, SHOWN, strict=False))
    ]
    return learn(presses, GLOSS, REGISTRY)


def read(found: Finding, line: str) -> list[str]:
    assert found.outcome is Outcome.SURE, found.believed
    (here,) = readings(found.family, found.profile, [f"{line}\r\n".encode()], REGISTRY)
    return [str(reading.value) for reading in here]


def test_sums_of_digits_are_those_of_worked_examples() -> None:
    # ISO/IEC 7812-1 annex B, from memory: 7992739871 has the check digit 3, whole sum 70 with it.
    assert -of_doubled(b"7992739871") % 10 == 3
    # GS1, its worked example of a 13 digit number, from memory: 629104150021 has 3.
    assert -of_tripled(b"629104150021") % 10 == 3
    assert of_digits(b"91.4 GU") == 14


@pytest.mark.parametrize(
    ("sum_of", "presses"),
    [
        (lambda t: str(of_digits(t.encode()) % 10), 8),
        (lambda t: f"{of_digits(t.encode()) % 100:02d}", 4),
        (lambda t: str(sum(t.encode()) % 10), 8),
        (lambda t: f"{-sum(t.encode()) % 256:03d}", 3),
        (lambda t: str(-of_doubled(t.encode()) % 10), 8),
    ],
)
@pytest.mark.parametrize("after", ["*", ",", ""])
def test_a_sum_in_decimal_digits_is_told_and_makes_no_noise(sum_of, presses, after) -> None:  # type: ignore[no-untyped-def]
    def line(shown: str) -> str:
        return f"{shown} GU{after}{sum_of(f'{shown} GU')}"

    early = taught([line(v) for v in SHOWN[:2]])
    assert early.outcome is Outcome.MORE
    found = taught([line(v) for v in SHOWN[:presses]])
    assert "a sum of it that no profile can name" in "".join(found.believed)
    for shown in ("33.4", "88.8", "0.5", "100.2"):
        assert read(found, line(shown)) == [shown]


def test_a_last_digit_that_may_be_a_sum_is_asked_about_and_one_that_is_none_is_held() -> None:
    sums = [f"{v} GU,{of_digits(v.encode()) % 10}" for v in SHOWN[:3]]
    found = taught(sums)
    assert found.outcome is Outcome.MORE
    assert "may be a sum" in found.believed[0]
    held = taught([f"{v} GU,{x}" for v, x in zip(SHOWN, "22722722", strict=True)])
    assert read(held, "33.3 GU,2") == ["33.3"]
    assert read(held, "33.3 GU,5") == []


def test_numbers_of_hexadecimal_digits_may_be_of_any_width() -> None:
    found = taught([f"{v} GU;{x}" for v, x in zip(SHOWN, ("3f", "a91c", "77e0b"), strict=False)])
    for other in ("0", "ffffff", "12", "9c4"):
        assert read(found, f"33.3 GU;{other}") == ["33.3"]
    assert read(found, "33.3 GU;E5") == []


@pytest.mark.parametrize(
    ("texts", "later"),
    [
        (("1747821300", "1747821347", "1747821393"), "1764168000"),
        (("1747821300123", "1747821347456", "1747821393789"), "1764168000000"),
        (("848602", "854319", "857513"), "1213400"),
    ],
)
def test_time_in_one_number_that_rises_is_no_checksum(texts: tuple[str, ...], later: str) -> None:
    found = taught([f"{v} GU,{x}" for v, x in zip(SHOWN, texts, strict=False)])
    assert read(found, f"33.3 GU,{later}") == ["33.3"]


def test_a_young_time_is_told_by_the_clock_of_the_host() -> None:
    lines = [f"{v} GU,{1500 + 3000 * i}" for i, v in enumerate(SHOWN[:3])]
    assert taught(lines).outcome is Outcome.MORE
    assert read(taught(lines, apart_s=3), "33.3 GU,8400") == ["33.3"]


def test_digits_that_leap_stay_what_they_are_asked_about() -> None:
    found = taught([f"{v} GU,{x}" for v, x in zip(SHOWN, ("8172", "0391", "5520"), strict=False)])
    assert found.outcome is Outcome.MORE


def test_a_number_that_is_filled_up_behind_may_become_wider() -> None:
    found = taught([f"{v:<6}GU" for v in ("91.4", "45.2", "12.0")])
    assert read(found, "100.2 GU") == ["100.2"]
    assert read(found, "8.7   GU") == ["8.7"]
    # A character less is one that was lost.
    assert read(found, "91.4 GU") == []


def test_spaces_behind_a_number_may_be_none_where_it_is_wide() -> None:
    sent = [Press(f"{v:<5},GU\r\n".encode(), Decimal(v)) for v in ("91.4", "145.2", "12.0")]
    found = learn(sent, GLOSS, REGISTRY)
    assert read(found, "  8.7,GU") == []
    assert read(found, "8.7  ,GU") == ["8.7"]
    assert read(found, "100.2,GU") == ["100.2"]
