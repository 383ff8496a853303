"""Fields beside the number that spaces fill up: they take numbers of fewer and more digits."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity

REGISTRY = Registry()
GLOSS = About(Quantity.GLOSS, channel="60")
SHOWN = ("91.9", "45.2", "12.0", "61.4")


def taught(*lines: str, shown: tuple[str, ...] = SHOWN, about: About = GLOSS) -> Finding:
    presses = [
        Press(f"{line}\r\n".encode(), Decimal(v)) for line, v in zip(lines, shown, strict=False)
    ]
    return learn(presses, about, REGISTRY)


def read(found: Finding, *lines: str) -> list[str | None]:
    assert found.outcome is Outcome.SURE, found.believed
    sent = [f"{line}\r\n".encode() for line in lines]
    here = readings(found.family, found.profile, sent, REGISTRY)
    return [str(one[0].value) if one else None for one in here]


@pytest.mark.parametrize("first", [5, 7, 8, 98])
@pytest.mark.parametrize(
    "form",
    ["{v:>5} GU {n:>3}", "{v:>5} GU   N{n:>4}", "{n:>3} {v:>5} GU", "NO {n:>4}  {v:>5} GU",
     "{v:>5} GU\r\nNO  {n:>4}", "{v:>5};{n:>4};GU"],
)  # fmt: skip
def test_a_count_in_a_field_goes_on_with_more_digits(form: str, first: int) -> None:
    found = taught(*(form.format(v=v, n=first + at) for at, v in enumerate(SHOWN)))
    later = [form.format(v="33.0", n=first + at) for at in range(4, 120, 5)]
    assert read(found, *later) == ["33.0"] * len(later)


def test_a_second_measurement_takes_numbers_of_fewer_and_more_digits() -> None:
    form = "UV BLOCK {b:5.1f}% UV TRANS {v:5.1f}%"
    about = About(Quantity.TRANSMITTANCE, channel="315-400")
    rows = [form.format(v=v, b=100 - v) for v in (45.2, 12.0, 81.4)]
    found = taught(*rows, shown=("45.2", "12.0", "81.4"), about=about)
    assert read(found, form.format(v=95.0, b=5.0), form.format(v=0.0, b=100.0)) == ["95.0", "0.0"]


def test_a_number_that_a_person_said_to_move_does_so_within_its_field() -> None:
    rows = [f"{v:>5} GU T  23 OK" for v in SHOWN]
    found = taught(*rows, about=About(Quantity.GLOSS, channel="60", moves=frozenset({"23"})))
    assert read(found, " 33.0 GU T   9 OK", " 33.0 GU T 101 OK") == ["33.0", "33.0"]


def test_spaces_before_a_number_that_zeros_fill_up_only_part_it() -> None:
    found = taught(*(f"{v:>5} GU  N  {n:04d}" for n, v in enumerate(SHOWN, 7)))
    assert read(found, " 33.0 GU  N  0012", " 33.0 GU  N 0012") == ["33.0", None]


def spaced(moment: datetime, form: str) -> str:
    """A date or a time, with {d}, {m} and {H} filled up by a space."""
    text = form.replace("{d}", f"{moment.day:2d}").replace("{m}", f"{moment.month:2d}")
    return moment.strftime(text.replace("{H}", f"{moment.hour:2d}"))


FORMS = (
    "%a %d %b %Y %H:%M", "%a, %d %b %Y %H:%M:%S", "%a %Y-%m-%d %H:%M:%S", "%A, %B %d, %Y %H:%M",
    "%a %d.%m.%y %H:%M", "%Y-%m-%d %a %H:%M", "%H:%M %a %d %b %Y", "%a %H:%M:%S", "%a;%d.%m.%Y",
    "{H}:%M:%S", "{d}.%m.%Y %H:%M", "{d}.{m}.%Y {H}:%M", "%d/%m/%Y {H}:%M", "{d} %b %Y {H}:%M:%S",
    "%a {d} %b %Y {H}:%M", "%a %b {d} %H:%M:%S %Y", "%b {d}, %Y {H}:%M",
)  # fmt: skip


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("line", ["{t} 60  {v:>5} GU", "{v:>5} GU {t}", "N;{t};{v:>5} GU"])
@pytest.mark.parametrize("begin", ["2026-05-04T09:11:02", "2026-11-14T19:40:07"])
def test_of_a_date_the_day_of_the_week_goes_on_and_a_space_may_fill_up_each_part(
    form: str, line: str, begin: str
) -> None:
    first = datetime.fromisoformat(begin)
    moments = [first + timedelta(seconds=61 * at) for at in range(4)]
    rows = [line.format(t=spaced(t, form), v=v) for t, v in zip(moments, SHOWN, strict=True)]
    found = taught(*rows)
    later = [first + timedelta(days=9 * at, hours=5 * at) for at in range(1, 40)]
    lines = [line.format(t=spaced(t, form), v="33.0") for t in later]
    noise = [text for text, one in zip(lines, read(found, *lines), strict=True) if one is None]
    assert not noise
    assert any("any other one is taken" in words for words in found.believed)


def test_a_word_that_is_no_day_of_that_date_is_held() -> None:
    rows = [f"{{}} 04 May 2026 19:1{at} {v:>5} GU" for at, v in enumerate(SHOWN)]
    for word in ("Tue", "Err", "Sat"):
        found = taught(*(row.format(word) for row in rows))
        lines = [f"{one} 05 May 2026 19:15  33.0 GU" for one in (word, "Mon", "Wed", "Fri")]
        assert read(found, *lines) == ["33.0", None, None, None]
