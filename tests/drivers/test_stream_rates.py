"""Samples come as blocks with their rate and the number of their first, whatever the rate is."""

from __future__ import annotations

import random
from array import array
from decimal import Decimal

import pytest

from acquire.driverapi.guard import Guard
from acquire.model import Fact, Instant, Notice, Quantity, Reading, Samples
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
