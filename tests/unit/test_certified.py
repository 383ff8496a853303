"""Which certificates a check relies on, from the first to the last day of the first that ends."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from acquire.pipeline.certified import certificates_of, end_ns, fault_on
from tests.yard import pieces, policy

TILE, TRAP = (piece.certificates[0] for piece in pieces())
LATER = replace(TILE, due=date(2027, 3, 1))
SOONER = replace(TRAP, due=date(2027, 2, 1))


def test_those_of_every_piece_at_every_channel_are_relied_on() -> None:
    tile, trap = pieces()
    at_60 = replace(TILE, channel="60")
    both = replace(policy(), channels=("20", "60"))
    known = (replace(tile, certificates=(TILE, at_60)), trap)
    assert certificates_of(both, known) == [TILE, at_60, TRAP]
    assert certificates_of(policy(), known) == [TILE, TRAP]


def test_the_first_that_ends_ends_all_with_its_due_day() -> None:
    end = datetime(2027, 2, 2, tzinfo=UTC)
    assert end_ns([LATER, SOONER]) == round(end.timestamp()) * 10**9
    assert end_ns([]) is None


@pytest.mark.parametrize(
    ("today", "reason"),
    [
        (date(2026, 1, 30), "certificate not valid yet"),
        (date(2026, 1, 31), ""),
        (date(2027, 2, 1), ""),
        (date(2027, 2, 2), "certificate ran out"),
    ],
)
def test_each_is_valid_from_its_first_day_through_its_due_day(today: date, reason: str) -> None:
    assert fault_on([LATER, SOONER], today)[0] == reason


def test_every_piece_whose_certificate_is_not_valid_is_named_once() -> None:
    at_60 = replace(LATER, channel="60")
    reason, found = fault_on([LATER, at_60, SOONER], date(2027, 3, 2))
    assert reason == "certificate ran out"
    assert found == (
        "the certificate of T1, past its due date 2027-03-01; "
        "the certificate of Z0, past its due date 2027-02-01"
    )
