"""Samples at a steady rate: whatever the chunks, the same trace and the same pulls."""

from __future__ import annotations

from decimal import Decimal
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.driverapi.capture import worded
from acquire.driverapi.fit import misfit
from acquire.driverapi.guard import Guard
from acquire.driverapi.stretches import joined
from acquire.errors import SettingsError
from acquire.model import Fact, Instant, Noise, Quantity, Reading, Samples
from drivers.line import FAMILY

AT = Instant(10**18, 10**12)

PULLER: dict[str, Any] = {
    "kind": "force",
    "line": {"baud_rate": 115_200},
    "text": {"terminator": "\n"},
    "message": [{"means": "sample", "pattern": r"(?P<value>-?\d{1,3}\.\d\d)"}],
    "unit": {"default": "newton"},
    "stream": {
        "rate_hz": 100,
        "step": Decimal("0.01"),
        "pull": {
            "begins_at": Decimal("0.50"),
            "ends_below": Decimal("0.20"),
            "ends_after_s": Decimal("0.03"),
        },
    },
}


def lines(*values: str) -> bytes:
    return "".join(f"{value}\n" for value in values).encode()


def facts_of(*chunks: bytes, table: dict[str, Any] = PULLER) -> list[Fact]:
    driver = FAMILY.driver(table, "test")
    guard = Guard("line", AT)
    driver.opening(AT)
    facts = [fact for chunk in chunks for fact in guard.facts(driver.feed(chunk, AT), chunk, AT)]
    return [*facts, *guard.facts(driver.lost(AT), b"", AT)]


def told(facts: list[Fact]) -> list[str]:
    return [
        f"{fact.value} {fact.unit}" if isinstance(fact, Reading) else worded(fact).value or "noise"
        for fact in joined(facts)
    ]


PULL = ("0.00", "0.10", "0.60", "1.45", "1.20", "1.80", "0.90", "0.10", "0.05", "0.00", "0.00")


def test_the_peak_of_a_pull_is_a_reading_behind_its_trace() -> None:
    facts = facts_of(lines(*PULL))
    assert told(facts) == ["0 10 60 145 120 180 90 10 5 0", "1.80 newton", "0"]
    reading = next(fact for fact in facts if isinstance(fact, Reading))
    assert (reading.text, reading.raw, reading.start) == ("1.80", b"", len(lines(*PULL[:10])) - 1)


@given(st.lists(st.integers(0, len(lines(*PULL, *PULL))), max_size=6))
def test_wherever_the_chunks_are_cut_the_facts_are_the_same(places: list[int]) -> None:
    stream = lines(*PULL, *PULL)
    edges = [0, *sorted(places), len(stream)]
    chunks = [stream[a:b] for a, b in pairwise(edges)]
    assert told(facts_of(*chunks)) == told(facts_of(stream))
    assert [type(f) for f in joined(facts_of(*chunks))] == [
        Samples,
        Reading,
        Samples,
        Reading,
        Samples,
    ]


def test_a_short_dip_ends_no_pull_and_a_knock_below_the_beginning_is_none() -> None:
    assert told(facts_of(lines("0.60", "0.10", "0.10", "0.70", "0.10", "0.10", "0.10"))) == [
        "60 10 10 70 10 10 10",
        "0.70 newton",
    ]
    assert told(facts_of(lines("0.40", "0.10", "0.10", "0.10"))) == ["40 10 10 10"]


def test_a_pull_with_a_sample_missing_is_none() -> None:
    facts = facts_of(lines("0.60", "1.80", "#", "0.10", "0.10", "0.10", *PULL))
    assert told(facts)[:3] == ["60 180", "noise", "10 10 10 0 10 60 145 120 180 90 10 5 0"]
    assert [str(f.value) for f in facts if isinstance(f, Reading)] == ["1.80"]


def test_the_rest_of_a_pull_is_none_though_it_is_a_long_way_above_its_beginning() -> None:
    rest = PULL[4:]
    assert told(facts_of(lines(*rest))) == ["120 180 90 10 5 0 0"], "under way as it is connected"
    broken = (*PULL[:4], "spoiled", *rest)
    assert told(facts_of(lines(*broken))) == ["0 10 60 145", "noise", "120 180 90 10 5 0 0"]
    again = told(facts_of(lines(*broken, *PULL)))
    assert again[-2:] == ["1.80 newton", "0"], "the next pull is one"
    assert len(again) == 5


def test_the_echo_of_a_question_in_the_midst_of_a_pull_breaks_none() -> None:
    table = PULLER | {"identify": {"command": "N?\n"}}
    table["message"] = [*PULLER["message"], {"means": "identity", "pattern": "N (?P<serial>.*)"}]
    pull = (*PULL[:4], "N?", *PULL[4:])
    facts = facts_of(lines(*pull, "N X-1"), table=table)
    assert [fact.text for fact in facts if isinstance(fact, Reading)] == ["1.80"]
    assert [fact.raw for fact in facts if isinstance(fact, Noise)] == [b"N?"]


def test_a_value_between_the_steps_is_no_sample() -> None:
    table = {**PULLER, "stream": {**PULLER["stream"], "step": Decimal("0.05")}}
    (_, noise) = facts_of(lines("0.60", "0.61"), table=table)
    assert isinstance(noise, Noise)
    assert noise.reason == "0.61 is no whole number of steps of 0.05"


def test_a_stream_is_taken_in_stretches_and_a_press_at_once() -> None:
    needs = FAMILY.needs(PULLER, "test")
    assert needs.gather_s == 0.05
    pressed = {k: v for k, v in PULLER.items() if k != "stream"}
    pressed["message"] = [{"means": "reading", "pattern": r"(?P<value>\d\.\d\d)"}]
    assert FAMILY.needs(pressed, "test").gather_s == 0


@pytest.mark.parametrize(
    ("change", "path"),
    [
        ({"stream": None}, "stream"),
        ({"message": [{"means": "reading", "pattern": r"(?P<value>\d)"}]}, "stream"),
        ({"ask": {"command": "?", "every_s": 1}}, "ask"),
        ({"stream": {"rate_hz": 0, "step": 1}}, "stream.rate_hz"),
        (
            {"stream": {"rate_hz": 9, "step": 1, "pull": {"begins_at": 1, "ends_below": 2}}},
            "stream.pull.ends_below",
        ),
    ],
)
def test_a_stream_and_its_samples_belong_together(change: dict[str, Any], path: str) -> None:
    table = {k: v for k, v in {**PULLER, **change}.items() if v is not None}
    with pytest.raises(SettingsError) as caught:
        FAMILY.driver(table, "test")
    assert path in [fault.path for fault in caught.value.faults]


@pytest.mark.parametrize(
    "change",
    [
        {"counts": b"abc"}, {"counts": b""}, {"counts": bytes(4 * 65_537)}, {"first": -1},
        {"step": Decimal(0)}, {"step": 0.1}, {"rate_hz": Decimal("Infinity")},
        {"rate_hz": Decimal(10**7)}, {"quantity": "force"}, {"unit": None}, {"at": 1},
    ],
)  # fmt: skip
def test_what_could_hurt_the_store_is_no_stretch_of_samples(change: dict[str, Any]) -> None:
    good = {
        "quantity": Quantity.FORCE, "channel": "", "unit": "newton", "step": Decimal("0.01"),
        "rate_hz": Decimal(100), "first": 0, "counts": bytes(8), "at": AT, "start": 0, "end": 9,
    }  # fmt: skip
    assert misfit(Samples(**good)) == ""
    assert misfit(Samples(**{**good, **change})) != ""
