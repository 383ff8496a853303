"""Samples come as blocks with their rate and the number of their first, whatever the rate is."""

from __future__ import annotations

import random
from array import array
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

import pytest

from acquire.driverapi.guard import Guard
from acquire.model import Fact, Instant, Noise, Notice, Quantity, Reading, Samples
from drivers.line import FAMILY
from tests.captures import profile

SECONDS = 2
S = 1_000_000_000


@pytest.mark.parametrize("rate_hz", [10, 1000, 10_000])
@pytest.mark.parametrize("chunks", [1, 20, 333])
def test_no_sample_is_lost_between_the_blocks(rate_hz: int, chunks: int) -> None:
    table = profile("force-stream")
    table["stream"] = {**table["stream"], "rate_hz": rate_hz}
    opened = Instant(S, S)
    driver = FAMILY.driver(table, "p")
    guard = Guard("line", opened, Quantity.FORCE)
    driver.opening(opened)
    draw = random.Random(rate_hz + chunks)
    shown = [draw.randrange(-2000, 2000) for _ in range(rate_hz * SECONDS)]
    sent = b"".join(b"%+07.3f N\r\n" % (one / 1000) for one in shown)
    edges = sorted(draw.randrange(len(sent)) for _ in range(chunks - 1))
    facts: list[Fact] = []
    at = opened
    for start, end in zip([0, *edges], [*edges, len(sent)], strict=True):
        # When the last of these bytes has come.
        ns = S + SECONDS * S * end // len(sent)
        at = Instant(ns, ns)
        guard.tell(at)
        driver.due(at)
        facts += guard.facts(driver.feed(sent[start:end], at), sent[start:end], at)
    # What stands behind the peak of a pull waits for its gauge's name until now.
    facts += guard.facts(driver.lost(at), b"", at)
    counts = array("i")
    for fact in facts:
        if isinstance(fact, Samples):
            assert (fact.rate_hz, fact.first) == (Decimal(rate_hz), len(counts))
            counts.frombytes(fact.counts)
        else:
            assert isinstance(fact, Reading | Notice)
    assert list(counts) == shown


def with_powers() -> dict[str, Any]:
    """The gauge that streams, with a power of ten in each sample."""
    table = profile("force-stream")
    sample = {"means": "sample", "pattern": r"(?P<value>[+-]\d\.\d{4}E[+-]\d{2}) (?P<unit>N|gf)"}
    table["message"] = [sample, *table["message"][1:]]
    table["value"] = {"exponent": True}
    return table


def told(values: Sequence[float | str]) -> list[Fact]:
    """What the driver tells of these samples, sent as Python writes them."""
    at = Instant(S, S)
    driver = FAMILY.driver(with_powers(), "p")
    driver.opening(at)
    name = b"#SN PG-0032\r\n"
    texts = [value if isinstance(value, str) else f"{value:+.4E}" for value in values]
    sent = name + b"".join(f"{text} N\r\n".encode() for text in texts) + name
    later = Instant(2 * S, 2 * S)
    return [*driver.feed(sent, later), *driver.lost(later)]


def counts_of(facts: Sequence[Fact]) -> list[int]:
    counts = array("i")
    for fact in facts:
        if isinstance(fact, Samples):
            assert fact.step == Decimal("0.001")
            counts.frombytes(fact.counts)
    return list(counts)


def test_samples_with_a_power_of_ten_are_whole_steps_also_where_they_are_finer() -> None:
    draw = random.Random(5)
    values = [draw.choice((1, -1)) * 10 ** draw.uniform(-9, 1) for _ in range(2000)]
    facts = told(values)
    assert not [fact for fact in facts if isinstance(fact, Noise)]
    # Python's rounding of its own floats is the independent reader.
    assert counts_of(facts) == [round(float(f"{one:.4E}") * 1000) for one in values]


def test_a_pull_of_such_samples_is_found_between_noise_near_zero() -> None:
    draw = random.Random(6)
    rest = [draw.gauss(0, 0.0004) for _ in range(500)]
    pull = [0.4, 1.25, 0.98124, 0.5]
    facts = told([*rest, *pull, *rest])
    (reading,) = (fact for fact in facts if isinstance(fact, Reading))
    assert (reading.text, reading.value) == ("1.250", Decimal("1.250"))
    assert not [fact for fact in facts if isinstance(fact, Noise)]


@pytest.mark.parametrize("spoilt", ["+1.2500", "+1.2500E+0", "+9.9000E+37", "+9.9100E+37"])
def test_a_pull_with_a_sample_that_lost_its_power_or_is_no_value_is_none(spoilt: str) -> None:
    rest = [0.0] * 500
    facts = told([*rest, 0.5, spoilt, 0.5, *rest])
    assert not [fact for fact in facts if isinstance(fact, Reading)]
    (noise,) = (fact for fact in facts if isinstance(fact, Noise))
    assert noise.raw == f"{spoilt} N".encode()
    assert counts_of(facts) == [0] * 500 + [500] * 2 + [0] * 500
