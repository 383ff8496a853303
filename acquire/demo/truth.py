"""How the zones of the demo truly are: what each product does to gloss, friction and ultraviolet.

All invented: the control ages a little, one product lasts, one is gone by ten washes, one does
nothing, one loses gloss. Only the simulated devices feel this; the product never reads it.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from acquire.store import StoreReader
from acquire.store.worked import Worked
from acquire.trial.key import products_of, unpacked
from acquire.trial.stored import stored_plan
from simulators.things import Thing

CONTROL = "Untreated"


class Effect(NamedTuple):
    """A product on the panel at one stage.

    `gloss_change` is in GU at 20 degrees, from bare on; the coefficients of friction are those
    beneath the sled; `passes` is the share of ultraviolet that the film on a slide lets through;
    `water` is the step that a careful eye gives on the scale of that name.
    """

    gloss_change: float
    static: float
    kinetic: float
    passes: float
    water: int


EFFECTS: Mapping[str, Mapping[str, Effect]] = {
    CONTROL: {
        "applied": Effect(-0.2, 0.40, 0.30, 1.00, 1),
        "wash-5": Effect(-0.6, 0.41, 0.31, 1.00, 1),
        "wash-10": Effect(-0.8, 0.41, 0.31, 1.00, 1),
    },
    "Plover sealant": {
        "applied": Effect(3.3, 0.27, 0.21, 0.62, 5),
        "wash-5": Effect(2.5, 0.29, 0.22, 0.62, 5),
        "wash-10": Effect(2.2, 0.30, 0.23, 0.62, 4),
    },
    "Grebe wax": {
        "applied": Effect(2.6, 0.31, 0.24, 0.95, 4),
        "wash-5": Effect(1.0, 0.35, 0.27, 0.95, 3),
        "wash-10": Effect(-0.3, 0.40, 0.30, 0.95, 1),
    },
    "Curlew spray": {
        "applied": Effect(1.0, 0.30, 0.25, 0.99, 4),
        "wash-5": Effect(-0.3, 0.39, 0.30, 0.99, 2),
        "wash-10": Effect(-0.7, 0.41, 0.31, 0.99, 1),
    },
    "Dunlin ceramic": {
        "applied": Effect(-1.4, 0.24, 0.19, 0.88, 5),
        "wash-5": Effect(-1.8, 0.25, 0.20, 0.88, 5),
        "wash-10": Effect(-2.0, 0.26, 0.20, 0.88, 5),
    },
    "Whimbrel oil": {
        "applied": Effect(0.0, 0.52, 0.41, 0.97, 2),
        "wash-5": Effect(-0.6, 0.44, 0.34, 0.97, 1),
        "wash-10": Effect(-0.8, 0.41, 0.31, 0.97, 1),
    },
}
PRODUCTS = tuple(name for name in EFFECTS if name != CONTROL)
REMOVAL: Mapping[str, int] = {
    "Plover sealant": 3,
    "Grebe wax": 3,
    "Curlew spray": 4,
    "Dunlin ceramic": 2,
    "Whimbrel oil": 4,
}
"""How each comes off, as a step of the scale of that name."""


class Truth:
    """The panel once the plan has dealt the products to its zones.

    `things` are the zones as they are bare, by name.
    """

    def __init__(self, store: StoreReader, trial: str, things: Mapping[str, Thing]) -> None:
        plan = stored_plan(store.rows, trial)
        kept = Worked(store.rows).key(plan.key_digest)
        assert kept is not None
        _, names = products_of(unpacked(kept.sealed, kept.digest))
        self.products = {t.id: names.get(t.id, CONTROL) for t in plan.treatments}
        """What each treatment is, by its code."""
        self.zones = {zone.id: self.products[zone.treatment] for zone in plan.zones}
        """What is on each zone."""
        self._bare = {zone: things[zone].gloss("20") or 0.0 for zone in self.zones}

    @property
    def treated(self) -> list[str]:
        """The zones on which a product is put."""
        return [zone for zone, product in self.zones.items() if product != CONTROL]

    def water(self, zone: str, stage: str) -> int:
        """The step at which water truly behaves there."""
        return EFFECTS[self.zones[zone]][stage].water

    def lay_lines(self, stage: str) -> list[str]:
        """What the hand is told so that the zones are as they are at a stage after the bare one."""
        lines = []
        for zone, product in self.zones.items():
            own = EFFECTS[product][stage]
            lines.append(
                f"zone {zone} gloss.20={self._bare[zone] + own.gloss_change:.2f} "
                f"static={own.static} kinetic={own.kinetic} film.315-400={own.passes}"
            )
        return lines
