"""A plan made of what a person wants: ids, codes, layout, stages, measures. Pure; any thread.

Chance that must be secret (codes, the salt of the key) comes from `Entropy`; all other chance comes
from the seed, which is written down. So from the file alone nobody can tell which product a code
is, and anybody can deal the codes again.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import NamedTuple

from acquire.model import (
    Design,
    EndOfLife,
    Layout,
    Measure,
    Order,
    Panel,
    Plan,
    Quantity,
    Scale,
    Treatment,
)
from acquire.model.sled import SledSpec
from acquire.settings import parse_plan
from acquire.settings.layout import panel_words
from acquire.settings.washes import unwashed
from acquire.trial.answers import Measured, ids_of, slug
from acquire.trial.chance import Chance
from acquire.trial.dealing import Grid, dealt, design_for
from acquire.trial.key import SALT_BYTES, digest_of, key_text
from acquire.trial.writing import plan_text
from acquire.units import canonical

Entropy = Callable[[int], bytes]
"""So many random bytes, as `os.urandom` gives."""

LARGEST_SEED = 2**31
MOST_CODES = 800


@dataclass(frozen=True, slots=True)
class Wish:
    """A trial as it is wanted; `panels` have ids where there are several.

    `wanted` are differences that matter, `replicates` readings of a zone and stage, both by
    measure. `gone_when_lost` is the share of its gain with which a product is gone. `design` is
    None for the best that fits.
    """

    id: str
    title: str
    products: tuple[str, ...]
    control: str
    panels: tuple[Panel, ...]
    rows: int
    columns: int
    stages: tuple[str, ...]
    measures: tuple[Measured, ...]
    seed: int
    replicates: Mapping[str, int]
    wanted: Mapping[str, Decimal] = field(default_factory=dict)
    washes: tuple[tuple[str, int], ...] = ()
    recipe: tuple[tuple[str, str], ...] = ()
    cure_hours: tuple[tuple[str, Decimal], ...] = ()
    sled: SledSpec | None = None
    gone_when_lost: Decimal | None = None
    scales: tuple[Scale, ...] = ()
    design: Design | None = None
    is_blind: bool = False
    unchecked: bool = False


class Drafted(NamedTuple):
    """A plan with its text, and the key that tells codes; empty where nothing is hidden."""

    plan: Plan
    key: str


def drafted(wish: Wish, entropy: Entropy) -> Drafted:
    """The plan. Raises `SettingsError` where it has a fault, ValueError where nothing can be dealt.

    A plan of at most `MOST_CODES` products can be blind.
    """
    treatments, key = _treatments(wish, entropy)
    ids = [t.id for t in treatments]
    grid = Grid(tuple(p.id for p in wish.panels), wish.rows, wish.columns)
    design = wish.design or design_for(grid, len(ids))
    plan = Plan(
        id=wish.id,
        title=wish.title,
        panel=panel_words(wish.panels),
        treatments=treatments,
        zones=dealt(ids, ids[0], grid, design, wish.seed),
        stages=wish.stages,
        measures=tuple(_measure(wish, measured) for measured in wish.measures),
        unchecked=wish.unchecked,
        text="",
        digest="",
        washes=wish.washes,
        recipe=wish.recipe,
        panels=wish.panels,
        layout=Layout(design, wish.seed),
        cure_hours=wish.cure_hours,
        scales=wish.scales,
        key_digest=digest_of(key) if key else "",
    )
    return Drafted(parse_plan(plan_text(plan), "the plan"), key)


def new_seed(entropy: Entropy) -> int:
    """A seed for a layout."""
    return int.from_bytes(entropy(8), "big") % LARGEST_SEED


def stages_of(named: Sequence[str], counts: Sequence[int]) -> tuple[str, ...]:
    """The stages before washing as named, and one for each count of washes."""
    return *named, *(f"wash-{count}" for count in counts)


def _treatments(wish: Wish, entropy: Entropy) -> tuple[tuple[Treatment, ...], str]:
    """The control first, then the products: as named, or as codes in the order of these."""
    control = Treatment(slug(wish.control, "control"), wish.control, True)
    if not wish.is_blind:
        ids = ids_of(wish.products, [control.id])
        return (control, *map(Treatment, ids, wish.products)), ""
    codes = _codes(len(wish.products), entropy)
    key = key_text(wish.id, dict(zip(codes, wish.products, strict=True)), entropy(SALT_BYTES))
    # Sorted, so that the order tells nothing of that in which products were named.
    return (control, *(Treatment(code, f"Code {code}") for code in sorted(codes))), key


def _codes(count: int, entropy: Entropy) -> list[str]:
    """Codes of three digits, which mean nothing and rank nothing (common practice, no source).

    From 110 on and without those that end in 0, so that none looks like a count or a geometry.
    """
    if count > MOST_CODES:
        raise ValueError(f"at most {MOST_CODES} products can be hidden, got {count}")
    every = [str(n) for n in range(110, 1000) if n % 10]
    return Chance(entropy(32).hex(), "codes").shuffled(every)[:count]


def _measure(wish: Wish, measured: Measured) -> Measure:
    is_film = measured.quantity is Quantity.TRANSMITTANCE
    before = unwashed(wish.stages, dict(wish.washes))
    can_end = not is_film and len(before) > 1 and any(count for _, count in wish.washes)
    lost = wish.gone_when_lost if can_end else None
    return Measure(
        id=measured.id,
        quantity=measured.quantity,
        channels=measured.channels,
        unit=canonical(measured.quantity),
        # A slide is no panel that is washed.
        stages=before[:2] if is_film else wish.stages,
        replicates=wish.replicates[measured.id],
        order=Order.INTERLEAVED,
        seed=0,
        higher_is_better=measured.quantity is Quantity.GLOSS,
        margin=wish.wanted.get(measured.id),
        end_of_life=EndOfLife(lost=lost) if lost is not None else None,
        sled=wish.sled if measured.quantity is Quantity.FORCE else None,
    )
