"""Noise in bulk is kept whole in few facts."""

from __future__ import annotations

from decimal import Decimal

from acquire.model import Chunk, Fact, Instant, Noise, Quantity, Reading
from acquire.pipeline.bulk import LITTLE, condensed

AT = Instant(10**18, 10**12)
BEFORE = 100
"""Bytes that came in earlier chunks."""


def lines(count: int) -> tuple[Chunk, list[Fact]]:
    """A chunk of as many lines, each of them noise without its end."""
    data = b"xy\r\n" * count
    facts: list[Fact] = [
        Noise(AT, b"xy", start, start + 2, "no result")
        for start in range(BEFORE, BEFORE + len(data), 4)
    ]
    return Chunk(BEFORE, data, AT), facts


def with_reason(fact: Fact, reason: str) -> Noise:
    return Noise(AT, fact.raw, fact.start, fact.end, reason)


def spans(facts: list[Fact]) -> list[tuple[int, int]]:
    return [(fact.start - BEFORE, fact.end - BEFORE) for fact in facts]


def test_little_noise_is_left_piece_by_piece() -> None:
    chunk, facts = lines(LITTLE)
    assert condensed(facts, chunk) == facts


def test_many_of_a_kind_become_one_with_all_their_bytes() -> None:
    chunk, facts = lines(1000)
    (one,) = condensed(facts, chunk)
    assert isinstance(one, Noise)
    assert (one.raw, spans([one])) == (chunk.data[:-2], [(0, 3998)])
    assert one.reason == "no result (1000 of them in a row)"


def test_readings_and_other_reasons_part_the_stretches() -> None:
    chunk, facts = lines(50)
    facts[40] = Reading(
        Quantity.GLOSS, "20", Decimal(80), "gloss_unit", "xy", AT, b"xy", BEFORE + 160, BEFORE + 162
    )
    facts[45] = with_reason(facts[45], "bad checksum")
    found = condensed(facts, chunk)
    assert spans(found) == [(0, 158), (160, 162), (164, 178), (180, 182), (184, 198)]
    assert isinstance(found[1], Reading)


def test_bytes_between_that_belong_to_nothing_part_the_stretches() -> None:
    chunk, facts = lines(50)
    del facts[10]
    assert spans(condensed(facts, chunk)) == [(0, 38), (44, 198)]


def test_noise_that_began_in_an_earlier_chunk_stays_by_itself() -> None:
    chunk, facts = lines(50)
    facts[0] = Noise(AT, b"abxy", BEFORE - 2, BEFORE + 2, "no result")
    assert spans(condensed(facts, chunk)) == [(-2, 2), (4, 198)]
