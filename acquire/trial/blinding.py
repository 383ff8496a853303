"""What the store says of a blind trial: is its key sealed, who was told, and what came after.

Reads only; whoever owns the query owns the thread.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from acquire.model import Plan
from acquire.store.work_rows import KeyOpeningRow
from acquire.store.worked import UNSEALED, Query, Worked
from acquire.trial.key import products_of, unpacked
from acquire.trial.naming import named_plan

_READ_SINCE = """SELECT count(*) AS n FROM reading AS q JOIN run AS r ON r.id = q.run_id
JOIN trial AS t ON t.id = r.trial_id WHERE t.trial = ?1 AND q.at_utc_ns > ?2"""


@dataclass(frozen=True, slots=True)
class Told:
    """One opening of the key, and how many readings and ratings were made after it."""

    at_utc_ns: int
    who: str
    why: str
    readings_after: int
    ratings_after: int


@dataclass(frozen=True, slots=True)
class Blinding:
    """A blind trial. `sealed_utc_ns` is None where the store has no key of it.

    `shown` are those that were told before anybody unsealed it, `unsealed` is the first unsealing,
    None where it is sealed still; only then `products` are empty.
    """

    digest: str
    sealed_utc_ns: int | None
    shown: tuple[Told, ...] = ()
    unsealed: Told | None = None
    products: Mapping[str, str] = field(default_factory=dict)


def blinding_of(query: Query, plan: Plan) -> Blinding | None:
    """What is recorded of a plan's key; None where the plan hides nothing.

    Raises `StoreError` where the key in the store is not the one that the plan was dealt by.
    """
    if not plan.is_blind:
        return None
    worked = Worked(query)
    key = worked.key(plan.key_digest)
    if key is None:
        return Blinding(plan.key_digest, None)
    openings = worked.key_openings(plan.key_digest)
    first = next((k for k, o in enumerate(openings) if o.how == UNSEALED), len(openings))
    is_open = first < len(openings)
    # A data package leaves a sealed key out of its row: nobody needs it before the unsealing.
    text = unpacked(key.sealed, plan.key_digest) if key.sealed or is_open else ""
    return Blinding(
        plan.key_digest,
        key.at_utc_ns,
        tuple(_told(query, worked, plan.id, o) for o in openings[:first]),
        _told(query, worked, plan.id, openings[first]) if is_open else None,
        products_of(text)[1] if is_open else {},
    )


def shown_plan(query: Query, plan: Plan) -> Plan:
    """The plan as it may be shown: codes until its key is unsealed, products beside them after."""
    return opened_plan(Worked(query), plan)


def opened_plan(worked: Worked, plan: Plan) -> Plan:
    """As `shown_plan`, of look-ups that are at hand."""
    if not plan.is_blind:
        return plan
    key = worked.key(plan.key_digest)
    if key is None or not worked.is_unsealed(plan.key_digest):
        return plan
    return named_plan(plan, products_of(unpacked(key.sealed, plan.key_digest))[1])


def _told(query: Query, worked: Worked, trial: str, row: KeyOpeningRow) -> Told:
    readings = query(_READ_SINCE, (trial, row.at_utc_ns))[0]["n"]
    ratings = sum(rating.at_utc_ns > row.at_utc_ns for rating in worked.ratings(trial))
    return Told(row.at_utc_ns, row.who, row.why, readings, ratings)
