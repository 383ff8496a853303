"""The plan of a trial: panel, zones, treatments, measures, stages."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import NamedTuple

from acquire.model.fact import Quantity
from acquire.model.layout import Layout, Panel
from acquire.model.policy import Span
from acquire.model.scale import Scale
from acquire.model.sled import SledSpec


class Order(StrEnum):
    """In which order the targets of a run are offered."""

    BY_ZONE = "by-zone"
    """All replicates of a zone, then the next zone."""
    INTERLEAVED = "interleaved"
    """Replicate 1 of every zone, then replicate 2: a drift spreads over all zones alike."""
    SHUFFLED = "shuffled"
    """Interleaved, the zones of each replicate in a random order drawn from the plan's seed."""


class DriftCorrection(StrEnum):
    """What a measure takes off its readings for the meter's drift between its checks."""

    NONE = "none"
    """Nothing: the drift that the checks found stands as a known shift beside the results."""
    OFFSET = "offset"
    """The meter's error at the reference piece, in a straight line from check to check."""
    GAIN = "gain"
    """The meter's scale: each reading is divided by how the piece read over its certified value."""


class StudyKind(StrEnum):
    """What a plan is for that compares no products but looks at the instrument itself."""

    REPEATABILITY = "repeatability"
    """Spots read several times by one person or several; under a valid check, as a trial."""
    WARM_UP = "warm-up"
    """One surface read again and again from switch-on. No check holds then: it is unchecked."""


@dataclass(frozen=True, slots=True)
class Treatment:
    """A product under comparison, or the untreated control."""

    id: str
    name: str
    is_control: bool = False


@dataclass(frozen=True, slots=True)
class Zone:
    """One area of a panel and the treatment on it.

    `panel` is the panel's id, empty where there is but one. `row` and `column` count from 1 at the
    top left, None where the file does not place the zone. `block` numbers the zones that were dealt
    together.
    """

    id: str
    treatment: str
    panel: str = ""
    row: int | None = None
    column: int | None = None
    block: int | None = None


@dataclass(frozen=True, slots=True)
class EndOfLife:
    """When a treatment is gone by a measure; exactly one criterion is given.

    `lost` is the share of the gain that is lost, parts of 1; `below` or `above` the level that the
    gain falls below (rises above, where lower is better), in the unit of the results. The gain is
    the change of the zone since bare, less that of the control.
    """

    lost: Decimal | None = None
    below: Decimal | None = None
    above: Decimal | None = None


@dataclass(frozen=True, slots=True)
class StrayLight:
    """What a head reads with a sample that stops all light of its bands, and how sure that is.

    Both in percent of the open beam, the dark taken off; the second is a standard uncertainty.
    """

    blocked_percent: Decimal
    u_percent: Decimal


class BandLamp(NamedTuple):
    """The lamp of a band meter: its middle and its full width at half of its height, in nm."""

    centre_nm: Decimal
    width_nm: Decimal


@dataclass(frozen=True, slots=True)
class Measure:
    """One quantity to be measured on every zone at some stages.

    `margin` is the difference (in `unit`) inside which two products count as equivalent; None
    where the plan does not claim equivalence. `higher_is_better` gives words to a difference.
    `span` are the values that are expected (in `unit`), None where the plan does not say.
    `drift_correction` is what the results are corrected by, beside what was read.
    `end_of_life` says when a treatment is gone, None where the plan does not say. `sled` makes
    coefficients of friction of forces; results, `margin` and `end_of_life` are then in these
    (`result_unit`), `span` stays in `unit`. `stray_light` is a known shift in results, and is taken
    off the spectra of a head; `lamps` are those of band meters, as which the spectra are told
    besides.
    """

    id: str
    quantity: Quantity
    channels: tuple[str, ...]
    unit: str
    stages: tuple[str, ...]
    replicates: int
    order: Order
    seed: int
    higher_is_better: bool = True
    margin: Decimal | None = None
    span: Span | None = None
    drift_correction: DriftCorrection = DriftCorrection.NONE
    end_of_life: EndOfLife | None = None
    sled: SledSpec | None = None
    stray_light: StrayLight | None = None
    lamps: tuple[BandLamp, ...] = ()

    @property
    def result_unit(self) -> str:
        """The unit of results, margin and end of life."""
        return self.unit if self.sled is None else "one"


@dataclass(frozen=True, slots=True)
class Plan:
    """A whole trial as planned. `text` is the file as written, `digest` its SHA-256.

    `stages[0]` is the bare stage, against which changes are taken. `unchecked` trials accept
    readings without a pass, and everything made from them says so. A plan with a `study` compares
    nothing; its stages are the people who read, its zones the spots. `washes` has, for the stages
    whose count is given, how many washes they come after, in the order of the stages.

    `panel` is said of all `panels` in words. `cure_hours` has, for the stages that say so, how long
    after its application a zone may be measured. `recipe` is how a wash is done, in pairs of what
    and how. Where products are hidden behind codes, `key_digest` is the SHA-256 of the key that
    says which is which; empty where nothing is hidden.
    """

    id: str
    title: str
    panel: str
    treatments: tuple[Treatment, ...]
    zones: tuple[Zone, ...]
    stages: tuple[str, ...]
    measures: tuple[Measure, ...]
    unchecked: bool
    text: str
    digest: str
    study: StudyKind | None = None
    washes: tuple[tuple[str, int], ...] = ()
    panels: tuple[Panel, ...] = ()
    layout: Layout | None = None
    cure_hours: tuple[tuple[str, Decimal], ...] = ()
    recipe: tuple[tuple[str, str], ...] = ()
    scales: tuple[Scale, ...] = ()
    key_digest: str = ""

    @property
    def is_blind(self) -> bool:
        """Whether products are hidden behind codes."""
        return bool(self.key_digest)

    @property
    def control(self) -> Treatment:
        return next(t for t in self.treatments if t.is_control)

    def measure(self, measure_id: str) -> Measure | None:
        return next((m for m in self.measures if m.id == measure_id), None)

    def scale(self, scale_id: str) -> Scale | None:
        return next((s for s in self.scales if s.id == scale_id), None)

    def treatment_of(self, zone_id: str) -> Treatment:
        zone = next(z for z in self.zones if z.id == zone_id)
        return next(t for t in self.treatments if t.id == zone.treatment)
