"""The guard's short way for the usual reading lets through what the exact way does, and no more.

A guard that knows no quantity takes the exact way for every fact, so the two are held against each
other.
"""

from __future__ import annotations

from decimal import Decimal

from hypothesis import given
from hypothesis import strategies as st

from acquire.driverapi.fit import is_plain, misfit
from acquire.driverapi.guard import Guard
from acquire.errors import DriverError
from acquire.model import Fact, Flag, Instant, Noise, Quantity, Reading

AT = Instant(10**18, 10**12)
FED = b"91.4\r\n45.2\r\n12.0\r\n"

_VALUES = st.sampled_from(
    [
        *map(Decimal, ("91.4", "0", "-0.00", "1E+30", "1E-30", "1E+31", "1E-31", "0E+31")),
        *map(Decimal, ("1" * 40, "1" * 41, "-" + "1" * 40, "0." + "1" * 41, "1" * 30, "1" * 32)),
        *map(Decimal, ("NaN", "-sNaN", "Infinity", "1e400")),
        91.4,
        None,
    ]
)
_FLAGS = st.sampled_from(
    [frozenset(), frozenset((Flag.ECHO,)), frozenset((Flag.OVER_RANGE,)), frozenset(("echo",)), ()]
)
_TEXTS = st.sampled_from(["91.4", "", "−91,4", "\ud800", "9" * 4096, "9" * 4097, b"91.4", None])
_WORDS = st.sampled_from(["gloss_unit", "20", "60", "", "a\nb", "w" * 65, "\ud800", 20, None])
_COUNTS = st.sampled_from([None, 0, 1, 2**63 - 1, 2**63, -1, True, 1.0])


@st.composite
def readings(draw: st.DrawFn) -> Reading:
    """A reading that is right in nearly all: of a stretch of `FED`, or beside it."""
    start = draw(st.integers(-2, len(FED)))
    length = draw(st.integers(0, 6))
    raw = FED[max(start, 0) : start + length]
    good = Reading(
        Quantity.GLOSS,
        "20",
        Decimal("91.4"),
        "gloss_unit",
        "91.4",
        AT,
        raw,
        start,
        start + len(raw),
    )
    odd = {
        "value": _VALUES,
        "flags": _FLAGS,
        "text": _TEXTS,
        "unit": _WORDS,
        "channel": _WORDS,
        "press": _COUNTS,
        "at": st.sampled_from([AT, Instant(*AT), Instant(10**18, 0), 12.0, None]),
        "raw": st.sampled_from([raw, b"", b"99.9", bytearray(raw), None]),
        "end": st.sampled_from([start + len(raw), start, start + 9, None, 4.0]),
    }
    names = draw(st.sets(st.sampled_from(sorted(odd)), max_size=2))
    return good._replace(**{name: draw(odd[name]) for name in sorted(names)})


def _said(guard: Guard, facts: list[Fact], fed: bytes) -> str:
    try:
        return repr(guard.facts(facts, fed, AT))
    except DriverError as error:
        return str(error)


@given(st.lists(st.lists(readings(), max_size=4), min_size=1, max_size=3))
def test_the_short_way_and_the_exact_way_give_the_same_answer(calls: list[list[Reading]]) -> None:
    exact, short = Guard("line", AT), Guard("line", AT, Quantity.GLOSS)
    for number, facts in enumerate(calls):
        fed = FED if number == 0 else b""
        said = _said(exact, list(facts), fed)
        assert _said(short, list(facts), fed) == said
        if "gave what no driver may give" in said:
            return


@given(readings())
def test_a_plain_reading_has_nothing_wrong_with_it(fact: Reading) -> None:
    if is_plain(fact, AT):
        assert misfit(fact, AT) == ""


def test_a_usual_reading_is_plain_once_its_words_are_known() -> None:
    good = Reading(
        Quantity.GLOSS, "20", Decimal("91.4"), "gloss_unit", "91.4", AT, b"91.4", 0, 4, 7
    )
    assert misfit(good, AT) == ""
    assert is_plain(good, AT)
    assert not is_plain(good._replace(channel="21.7 not seen yet"), AT)
    assert not is_plain(Noise(AT, b"x", 0, 1, "because"), AT)


def test_a_reading_of_another_quantity_finds_no_short_way() -> None:
    force = Reading(Quantity.FORCE, "", Decimal("1.5"), "newton", "1.5", AT, b"91.4", 0, 4)
    assert misfit(force, AT) == ""
    assert "force of an instrument for gloss" in _said(
        Guard("line", AT, Quantity.GLOSS), [force], FED
    )


def test_bytes_that_were_let_go_of_prove_no_plain_reading() -> None:
    guard = Guard("line", AT, Quantity.GLOSS)
    most = 4 << 20
    guard.facts([], bytes(most) + b"91.4", AT)
    old = Reading(Quantity.GLOSS, "20", Decimal(0), "gloss_unit", "0", AT, b"91.4", 0, 4)
    assert misfit(old, AT) == ""
    assert "which is not what came from 0 on" in _said(guard, [old], b"")
