"""What tests of withdrawn certificates do with a yard, and ask of it.

The tile of the yard is certified 93.2 GU and held to 1.0 GU.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from acquire.model import Certificate
from acquire.report.record.withdrawn import Withdrawals
from acquire.store import StoreReader
from tests.yard import Yard, pieces

WHY = "typed wrongly"


def certified(yard: Yard, *values: str, withdrawn: Sequence[str] = ()) -> None:
    """Start anew with these certificates of the tile of one day; some are withdrawn."""
    tile, trap = pieces()
    (first,) = tile.certificates

    def one(value: str) -> Certificate:
        return replace(first, value=Decimal(value), withdrawn=WHY if value in withdrawn else "")

    yard.close()
    yard.bench = replace(
        yard.bench, pieces=(replace(tile, certificates=tuple(map(one, values))), trap)
    )
    yard.clock.advance(10)
    yard.open()
    yard.plug("shore")


def brackets(yard: Yard) -> list[tuple[str, bool]]:
    """State of each pass, and whether a check that was judged anew made it so."""
    rows = yard.writer.query("SELECT state, reassessment_id FROM brackets ORDER BY check_id")
    return [(row["state"], row["reassessment_id"] is not None) for row in rows]


def outcomes(yard: Yard) -> list[tuple[int, str]]:
    rows = yard.writer.query("SELECT check_id, outcome FROM reassessment ORDER BY id")
    return [(row["check_id"], row["outcome"]) for row in rows]


def words(yard: Yard, check_id: int) -> str:
    with StoreReader(yard.bench.store) as reader:
        return "\n".join(Withdrawals(reader).words(check_id))


def later(yard: Yard, value: str, *, withdrawn: bool, right: str | None = None) -> None:
    """Start anew with a certificate of a later day beside the first one."""
    tile, trap = pieces()
    (first,) = tile.certificates
    day = first.issued.replace(month=3)
    own = [first, replace(first, issued=day, value=Decimal(value), withdrawn=WHY * withdrawn)]
    if right is not None:
        own.append(replace(first, issued=day, value=Decimal(right)))
    yard.close()
    yard.bench = replace(yard.bench, pieces=(replace(tile, certificates=tuple(own)), trap))
    yard.clock.advance(10)
    yard.open()
    yard.plug("shore")
