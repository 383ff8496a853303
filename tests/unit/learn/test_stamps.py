"""A date or a time of day in the lines goes on; what only looks like one stays as it was.

The forms are those of ISO 8601 and of common practice (no source).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal

import pytest

from acquire.cli.lesson import Lesson
from acquire.cli.saidofmeter import Given
from acquire.driverapi.registry import Registry
from acquire.learn import About, Chunk, Finding, Line, Outcome, Press, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity

REGISTRY = Registry()
GLOSS = About(Quantity.GLOSS, unit="gloss_unit", channel="60")
SHOWN = ("91.4", "45.2", "12.0", "60.1", "33.3")
BEGUN = datetime(2026, 11, 26, 14, 42, 5, tzinfo=UTC)
APART_S = (0, 21, 48, 75, 99)


def taught(
    beside: Sequence[str], form: str = "{v} GU,{x}", heard: datetime | None = None
) -> Finding:
    presses = [
        Press(
            f"{form.format(v=v, x=x)}\r\n".encode(),
            Decimal(v),
            None if heard is None else heard + timedelta(seconds=s),
        )
        for v, x, s in zip(SHOWN, beside, APART_S, strict=False)
    ]
    return learn(presses, GLOSS, REGISTRY)


def read(found: Finding, line: str) -> list[str]:
    assert found.outcome is Outcome.SURE, found.believed
    (here,) = readings(found.family, found.profile, [f"{line}\r\n".encode()], REGISTRY)
    return [str(reading.value) for reading in here]


def at(form: str, seconds: float = 0) -> str:
    return (
        (BEGUN + timedelta(seconds=seconds))
        .strftime(form)
        .replace("{ms}", f"{seconds % 1000:03.0f}")
    )


@pytest.mark.parametrize("where", ["{v} GU,{x}", "{x};{v} GU", "{x} {v} GU", "{v};GU;{x}"])
@pytest.mark.parametrize(
    "form",
    [
        "%Y-%m-%d %H:%M",
        "%d.%m.%y %H:%M",
        "%d-%b-%Y %H:%M",
        "%d %B %Y %H:%M",
        "%m/%d/%y %I:%M %p",
        "%Y-%m-%dT%H:%M:%SZ",
        "%Y-%m-%dT%H:%M:%S.{ms}Z",
        "%Y-%m-%dT%H:%M:%S+01:00",
        "%H:%M:%S",
        "%H:%M:%S %d/%m/%Y",
        "%d.%m.%Y",
        "%Y%m%d%H%M%S",
    ],
)
def test_a_date_or_a_time_goes_on_after_the_lesson(form: str, where: str) -> None:
    found = taught([at(form, s) for s in APART_S[:3]], where)
    for later in (300, 3_600, 43_200, 86_400, 11 * 86_400, 400 * 86_400):
        assert read(found, where.format(v="33.3", x=at(form, later))) == ["33.3"]
    assert "a date or a time" in "".join(found.believed)
    assert read(found, where.format(v="33.3", x="ERR")) == []


@pytest.mark.parametrize("form", ["%H:%M", "%H.%M", "%H.%M.%S", "%H%M%S", "%d.%m.%y", "%d/%m/%y"])
@pytest.mark.parametrize("zone_h", [0, 5])
def test_what_may_be_none_is_one_where_the_host_says_the_same(form: str, zone_h: int) -> None:
    # Meters keep local time or UTC, and are some minutes off.
    heard = (BEGUN + timedelta(minutes=1)).astimezone(timezone(timedelta(hours=zone_h)))
    found = taught([at(form, s) for s in APART_S[:3]], heard=heard)
    assert read(found, f"33.3 GU,{at(form, 40 * 86_400 + 7_205)}") == ["33.3"]
    assert read(found, "33.3 GU,99:99") == []


def test_hours_and_minutes_that_stood_still_are_asked_about() -> None:
    found = taught(["14:42"] * 3)
    assert found.outcome is Outcome.MORE
    assert "a minute later" in found.believed[0]


def test_hours_and_minutes_that_stood_still_while_the_host_went_on_are_none() -> None:
    heard = (BEGUN + timedelta(hours=5)).astimezone()
    found = taught(["14:42"] * 5, heard=heard)
    assert read(found, "33.3 GU,14:42") == ["33.3"]
    assert read(found, "33.3 GU,14:43") == []


def test_a_clock_that_was_never_set_is_one_once_it_went_on_with_the_host() -> None:
    heard = BEGUN.astimezone()
    assert taught(["00:01"] * 3, heard=heard).outcome is Outcome.MORE
    found = taught(["00:01", "00:01", "00:01", "00:02", "00:02"], heard=heard)
    assert read(found, "33.3 GU,07:31") == ["33.3"]


@pytest.mark.parametrize(
    ("texts", "other"),
    [
        (["00:21", "00:22", "00:22"], "07:22"),
        (["1.02.03"] * 3, "9.02.03"),
        (["25:61"] * 3, "25:62"),
        (["13.13.26 14:42"] * 3, "13.13.26 14:43"),
        (["44:10:07"] * 3, "44:10:08"),
    ],
)
def test_codes_that_look_like_times_stay_what_they_were(texts: list[str], other: str) -> None:
    found = taught(texts)
    if found.outcome is Outcome.SURE:
        assert read(found, f"33.3 GU,{other}") == []


def test_what_looks_like_a_date_and_is_held_is_told() -> None:
    found = taught(["26.11.26"] * 3)
    assert read(found, "33.3 GU,27.11.26") == []
    assert any("'26.11.26'" in words for words in found.unseen)


def test_a_number_that_could_be_the_time_as_well_is_never_taken_for_one_of_both() -> None:
    shown = ("14.42", "14.43", "14.44")
    presses = [
        Press(f"{v};{v} GU\r\n".encode(), Decimal(v), BEGUN + timedelta(minutes=i))
        for i, v in enumerate(shown)
    ]
    found = learn(presses, GLOSS, REGISTRY)
    if found.outcome is Outcome.SURE:
        # Twice the number, and otherwise noise.
        assert read(found, "15.10;33.30 GU") == []


def test_a_reading_between_midnight_and_midnight_is_a_reading() -> None:
    presses = [
        Press(f"{v} GU\r\n".encode(), Decimal(v), BEGUN + timedelta(minutes=i))
        for i, v in enumerate(("14.42", "14.43", "14.44"))
    ]
    found = learn(presses, GLOSS, REGISTRY)
    assert read(found, "95.75 GU") == ["95.75"]


def test_a_tape_says_when_its_presses_were() -> None:
    chunks = [
        Chunk(round(s * 1e9), f"14:42 {v} GU\r\n".encode())
        for s, v in zip(APART_S[:3], SHOWN, strict=False)
    ]
    moments = {c.at_ns: BEGUN + timedelta(seconds=c.at_ns / 1e9) for c in chunks}
    given = Given(Quantity.GLOSS, "gloss_unit", "60", line=Line())
    shown = [Decimal(v) for v in SHOWN[:3]]
    assert Lesson(given, None, REGISTRY).of_tape(chunks, shown)[0].outcome is Outcome.MORE
    found, _ = Lesson(given, None, REGISTRY).of_tape(chunks, shown, moments)
    assert read(found, "07:05 33.3 GU") == ["33.3"]


@pytest.mark.parametrize(
    "ends", [("0", "0", "0"), ("60", "60", "60"), ("1", "2", "2"), ("365", "550", "940")]
)
@pytest.mark.parametrize("form", ["{v},{x}", "{v},2026-11-26T{x}"])
def test_a_field_behind_a_time_is_no_fraction_of_its_seconds(
    form: str, ends: Sequence[str]
) -> None:
    found = taught([f"08:4{n}:07,{end}" for n, end in enumerate(ends, 2)], form)
    if found.outcome is Outcome.SURE:
        last = form.format(v="33.3", x=f"09:15:40,{ends[-1]}")
        assert read(found, last) == ["33.3"]
        # Held as it was: a failed press or another geometry is noise.
        assert read(found, form.format(v="33.3", x="09:15:40,9")) == []
        assert read(found, form.format(v="33.3", x="09:15:40,20")) == []


def test_a_fraction_of_a_second_moves_with_the_time() -> None:
    found = taught([f"08:4{n}:07,{ms}" for n, ms in enumerate(("113", "902", "407"))], "{v};{x}")
    assert read(found, "33.3;09:15:40,555") == ["33.3"]


@pytest.mark.parametrize("form", ["%y%m%d%H%M", "%Y%m%d%H%M", "%Y%m%dT%H%M"])
@pytest.mark.parametrize("place", ["N{n:04}, VAL {v}, {x}", "{x},{n},{v},GU", "{v} GU {x}"])
def test_a_date_and_a_time_without_seconds_stand_together_as_with_them(
    form: str, place: str
) -> None:
    moments = [BEGUN + timedelta(seconds=47 * n) for n in range(6)]
    shown = (*SHOWN, "20.5")
    for count in (3, 6):
        made = [
            Press(f"{place.format(n=n, v=v, x=at.strftime(form))}\r\n".encode(), Decimal(v), at)
            for n, (v, at) in enumerate(zip(shown[:count], moments, strict=False), 1)
        ]
        found = learn(made, replace(GLOSS, settled=count), REGISTRY)
        assert found.outcome is Outcome.SURE, found.believed
        later = (BEGUN + timedelta(days=400)).strftime(form)
        line = f"{place.format(n=count + 1, v='77.7', x=later)}\r\n".encode()
        (here,) = readings("line", found.profile, [line], REGISTRY)
        assert [str(one.value) for one in here] == ["77.7"]


@pytest.mark.parametrize("numbers", [(9000000000, 12), (9900000000, 1700000000)])
def test_long_numbers_that_spaces_fill_up_may_have_as_many_digits_as_they_had(
    numbers: tuple[int, int],
) -> None:
    first, step = numbers
    found = taught([f"{first + n * n * step:12}" for n in range(5)], "{v} GU, {x}")
    assert found.outcome is Outcome.SURE, found.believed
