"""Decimals that were sent and nobody typed: what is held to their zeros is said."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

import pytest

from acquire.driverapi.registry import Registry
from acquire.learn import About, Finding, Outcome, Press, learn
from acquire.learn.profile.proved import readings
from acquire.model import Quantity

SENT = ("5.00 N", "10.00 N", "2.50 N")


def taught(shown: Sequence[str]) -> Finding:
    made = [Press(f"{s}\r\n".encode(), Decimal(v)) for s, v in zip(SENT, shown, strict=True)]
    about = About(Quantity.FORCE, least=Decimal(-20), most=Decimal(20))
    found = learn(made, about, Registry())
    assert found.outcome is Outcome.SURE
    return found


def reads(found: Finding, line: bytes) -> list[str]:
    return [str(r.value) for r in readings("line", found.profile, [line], Registry())[0]]


@pytest.mark.parametrize(
    ("shown", "typed"), [(("5", "10", "2.5"), "1 decimal"), (("5.0", "10.0", "2.5"), "1 decimal")]
)
def test_zeros_that_were_sent_and_not_typed_are_held_and_it_is_said(
    shown: Sequence[str], typed: str
) -> None:
    found = taught(shown)
    assert reads(found, b"2.50 N\r\n") == ["2.50"]
    # The last digit may be none of the display's: what it means when it is not zero nobody saw.
    assert reads(found, b"2.55 N\r\n") == []
    assert any(f"a number of more than {typed}: 2 are sent" in words for words in found.unseen)
    assert any(f"from -20 to 20 with at most {typed}" in words for words in found.believed)


def test_decimals_that_were_typed_are_read_and_nothing_is_said_of_them() -> None:
    found = taught(("5.00", "10.00", "2.50"))
    assert reads(found, b"2.55 N\r\n") == ["2.55"]
    assert not any("decimal" in words for words in (*found.unseen, *found.believed))


@pytest.mark.parametrize("form", ["{} GU", "G;{};0014", "{},GU", "T21,5;{}"])
def test_a_number_without_decimals_beside_some_with_a_comma_is_learned_as_one_with_a_point_is(
    form: str,
) -> None:
    shown = ("3.8", "48.4", "616")
    made = [Press(f"{form.format(v.replace('.', ','))}\r\n".encode(), Decimal(v)) for v in shown]
    found = learn(made, About(Quantity.GLOSS, channel="20", most=Decimal(2000)), Registry())
    assert found.outcome is Outcome.SURE, found.believed
    later = {"99,9": ["99.9"], "1204": ["1204"], "12.4": []}
    for sent, read in later.items():
        assert reads(found, f"{form.format(sent)}\r\n".encode()) == read


def test_a_comma_behind_whole_numbers_alone_is_still_no_decimal_sign() -> None:
    made = [Press(f"{v},7\r\n".encode(), Decimal(v)) for v in ("3", "48", "616")]
    found = learn(made, About(Quantity.GLOSS, channel="20", most=Decimal(2000)), Registry())
    assert reads(found, b"12,7\r\n") == ["12"]
    assert reads(found, b"12,8\r\n") == []


WARM = ("22", "22.1", "21.9", "22", "22.3")
READ = ("91.4", "45.2", "12.0", "33.3", "60.1")


@pytest.mark.parametrize(
    "form",
    [
        "{v} GU T{t}",
        "{v} GU {t}C",
        "T{t} {v} GU",
        "{t}C {v}",
        "{v};T{t}C;OK",
        "{v};{t:>5}C;OK",
        "+{t}C {v} GU",
        "{v} GU\r\n{t}",
        "{v} GU\r\nT{t}",
        "{v} GU\r\nTEMP {t} C",
    ],
)
def test_a_temperature_may_be_whole_at_one_press_and_have_a_decimal_at_the_next(form: str) -> None:
    for count in (3, 5):
        made = [
            Press(f"{form.format(v=v, t=t)}\r\n".encode(), Decimal(v))
            for v, t in zip(READ[:count], WARM, strict=False)
        ]
        found = learn(made, About(Quantity.GLOSS, channel="60"), Registry())
        assert found.outcome is Outcome.SURE, found.believed
        for warm in ("23", "19.5"):
            assert reads(found, f"{form.format(v='77.7', t=warm)}\r\n".encode()) == ["77.7"]
        for other in ("T2E", "xx", "22.1."):
            assert reads(found, f"{form.format(v='77.7', t=other)}\r\n".encode()) == []


@pytest.mark.parametrize("words", [("T22", "U22.1", "T21.9"), ("T22", "T22.1", "OK")])
def test_letters_beside_such_a_number_are_the_same_at_every_press(words: Sequence[str]) -> None:
    made = [
        Press(f"{v} GU {word}\r\n".encode(), Decimal(v))
        for v, word in zip(READ, words, strict=False)
    ]
    found = learn(made, About(Quantity.GLOSS, channel="60"), Registry())
    assert found.outcome is Outcome.NONE
