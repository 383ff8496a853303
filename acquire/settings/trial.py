"""A trial file: panel, treatments, zones, stages and measures, from TOML to a `Plan`.

The file is documented, line by line, in ``config/boatyard/trial.toml``. Any thread.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Annotated

from pydantic import Field

from acquire.errors import Fault, SettingsError
from acquire.model import (
    DriftCorrection,
    Measure,
    Order,
    Plan,
    Quantity,
    StudyKind,
    Treatment,
    Zone,
)
from acquire.model.plan import BandLamp, StrayLight
from acquire.schema import (
    Id,
    Name,
    Number,
    Schema,
    either,
    load_text,
    parse_toml,
    read,
    rule,
    show,
    sound,
)
from acquire.settings.digest import text_digest
from acquire.settings.fields import Angles, Bands, Between, Kind, channel_faults, repeated_ids
from acquire.settings.handling import BlindTable, CureHours, RecipeTable, cure_faults
from acquire.settings.layout import (
    LayoutTable,
    Panels,
    ZoneTable,
    as_written,
    panel_faults,
    panel_words,
    place_faults,
)
from acquire.settings.scales import MOST_SCALES, ScaleTable, scale_faults
from acquire.settings.sled import SledTable
from acquire.settings.washes import EndOfLifeTable, Washes, count_faults, criterion_faults
from acquire.units import canonical

MOST_ZONES = 500
MOST_REPLICATES = 1000
MOST_STAGES = 100
MOST_MEASURES = 50
MOST_LAMPS = 10


class TrialTable(Schema):
    id: Id
    title: Name
    stages: Annotated[list[Id], Field(min_length=1, max_length=MOST_STAGES)]
    unchecked: bool = False
    washes: Washes = Field(default_factory=dict)
    cure_hours: CureHours = Field(default_factory=dict)
    recipe: RecipeTable | None = None
    blind: BlindTable | None = None

    @rule
    def counts_rise(self) -> Iterator[Fault]:
        yield from count_faults(self.stages, self.washes)

    @rule
    def cure_times_have_stages(self) -> Iterator[Fault]:
        yield from cure_faults(self.stages, self.cure_hours, self.washes)

    @rule
    def each_stage_once(self) -> Iterator[Fault]:
        for index, stage in enumerate(self.stages):
            if stage in self.stages[:index]:
                yield Fault(f"stages[{index}]", show(stage), "each stage once")


class StudyTable(Schema):
    """Written by ``coatbench study``: this plan looks at the instrument and compares nothing."""

    kind: Annotated[StudyKind, Field(strict=False)]


class TreatmentTable(Schema):
    id: Id
    name: Name
    control: bool = False


class StrayLightTable(Schema):
    blocked_percent: Annotated[Number, Field(ge=0, le=20)]
    u_percent: Annotated[Number, Field(ge=0, le=20)]

    def spec(self) -> StrayLight:
        return StrayLight(self.blocked_percent, self.u_percent)


class LampTable(Schema):
    centre_nm: Annotated[Number, Field(ge=200, le=2500)]
    width_nm: Annotated[Number, Field(ge=1, le=200)]


class MeasureTable(Schema):
    id: Id
    quantity: Kind
    geometry: Angles | None = None
    band: Bands | None = None
    stages: Annotated[list[Id], Field(min_length=1)] | None = None
    replicates: Annotated[int, Field(ge=1, le=MOST_REPLICATES)]
    order: Annotated[Order, Field(strict=False)] = Order.BY_ZONE
    seed: Annotated[int, Field(ge=0, lt=2**31)] = 0
    higher_is_better: bool = True
    margin: Annotated[Number, Field(gt=0)] | None = None
    range: Between | None = None
    drift_correction: Annotated[DriftCorrection, Field(strict=False)] = DriftCorrection.NONE
    end_of_life: EndOfLifeTable | None = None
    sled: SledTable | None = None
    stray_light: StrayLightTable | None = None
    lamp: Annotated[list[LampTable], Field(max_length=MOST_LAMPS)] = Field(default_factory=list)

    @rule
    def channels_fit(self) -> Iterator[Fault]:
        yield from channel_faults(self.quantity, self.geometry, self.band)

    @rule
    def a_sled_is_pulled_by_a_force(self) -> Iterator[Fault]:
        if self.sled is not None and self.quantity is not Quantity.FORCE:
            got = f"a measure of {self.quantity.value}"
            yield Fault("sled", got, "a measure of force, or no sled")

    @rule
    def light_is_of_a_head(self) -> Iterator[Fault]:
        if self.quantity is Quantity.TRANSMITTANCE:
            return
        for name, table in (("stray_light", self.stray_light), ("lamp", self.lamp or None)):
            if table is not None:
                got = f"a measure of {self.quantity.value}"
                yield Fault(name, got, f"a measure of transmittance, or no {name}")


class TrialFile(Schema):
    trial: TrialTable
    study: StudyTable | None = None
    panel: Panels
    layout: LayoutTable | None = None
    treatment: Annotated[list[TreatmentTable], Field(min_length=1, max_length=MOST_ZONES)]
    zone: Annotated[list[ZoneTable], Field(min_length=1, max_length=MOST_ZONES)]
    measure: Annotated[list[MeasureTable], Field(min_length=1, max_length=MOST_MEASURES)]
    scale: Annotated[list[ScaleTable], Field(max_length=MOST_SCALES)] = Field(default_factory=list)

    @rule
    def only_a_warm_up_study_is_unchecked(self) -> Iterator[Fault]:
        if self.study is None:
            return
        # Figures of a study are lent to checked trials; of a cold meter no check can be asked.
        wanted = self.study.kind is StudyKind.WARM_UP
        if self.trial.unchecked != wanted:
            yield Fault(
                "trial.unchecked",
                show(self.trial.unchecked),
                f"{show(wanted)}, for a {self.study.kind.value} study",
            )

    @rule
    def a_study_has_one_measure(self) -> Iterator[Fault]:
        if self.study is not None and len(self.measure) > 1:
            yield Fault("measure", f"{len(self.measure)} measures", "one measure, for a study")

    @rule
    def treatment_ids_are_unique(self) -> Iterator[Fault]:
        yield from repeated_ids(self.treatment, "treatment")

    @rule
    def zone_ids_are_unique(self) -> Iterator[Fault]:
        yield from repeated_ids(self.zone, "zone")

    @rule
    def measure_ids_are_unique(self) -> Iterator[Fault]:
        yield from repeated_ids(self.measure, "measure")

    @rule
    def scale_ids_are_unique(self) -> Iterator[Fault]:
        yield from repeated_ids(self.scale, "scale")

    @rule
    def scales_keep_the_stages(self) -> Iterator[Fault]:
        yield from scale_faults(self.scale, self.trial.stages, self.trial.washes)

    @rule
    def panels_are_told_apart(self) -> Iterator[Fault]:
        yield from panel_faults(self.panel)

    @rule
    def zones_have_places_of_their_own(self) -> Iterator[Fault]:
        yield from place_faults(self.zone, self.panel)

    @rule
    def one_control(self) -> Iterator[Fault]:
        controls = [treatment.id for treatment in self.treatment if treatment.control]
        if len(controls) != 1:
            got = f"{len(controls)} controls ({either(controls, 'and')})" if controls else "none"
            yield Fault("treatment", got, "exactly one treatment with control = true")

    @rule
    def zones_bear_known_treatments(self) -> Iterator[Fault]:
        known = [treatment.id for treatment in self.treatment]
        for index, zone in sound(self.zone, "treatment"):
            if zone.treatment not in known:
                wanted = f"a treatment of this trial: {either(dict.fromkeys(known))}"
                yield Fault(f"zone[{index}].treatment", show(zone.treatment), wanted)

    @rule
    def treatments_are_used(self) -> Iterator[Fault]:
        used = {zone.treatment for zone in self.zone}
        for index, treatment in sound(self.treatment, "id"):
            if treatment.id not in used:
                got = f"{show(treatment.id)}, which is on no zone"
                yield Fault(f"treatment[{index}]", got, "at least one zone with it")

    @rule
    def measures_keep_the_stages(self) -> Iterator[Fault]:
        planned = self.trial.stages
        for index, measure in sound(self.measure, "stages"):
            stages = measure.stages or []
            path = f"measure[{index}].stages"
            for position, stage in enumerate(stages):
                if stage not in planned:
                    wanted = f"a stage of this trial: {either(dict.fromkeys(planned))}"
                    yield Fault(f"{path}[{position}]", show(stage), wanted)
            known = [stage for stage in stages if stage in planned]
            if known != [stage for stage in planned if stage in known]:
                yield Fault(path, show(stages), "each stage once, in the order of trial.stages")

    @rule
    def lives_can_end(self) -> Iterator[Fault]:
        trial = self.trial
        for index, m in sound(self.measure, "quantity", "higher_is_better", "stages"):
            if "end_of_life" in m.__dict__ and m.end_of_life is not None:
                for path, got, wanted in criterion_faults(
                    m.end_of_life, m.quantity, m.stages or trial.stages, trial.stages,
                    trial.washes, higher_is_better=m.higher_is_better,
                ):  # fmt: skip
                    yield Fault(f"measure[{index}].{path}", got, wanted)


def load_plan(path: Path) -> Plan:
    """The plan of a trial file. Raises `SettingsError` with every fault of it."""
    return parse_plan(load_text(path), str(path))


def parse_plan(text: str, source: str) -> Plan:
    """The plan of a trial file's text, as written; `source` names it in messages.

    Raises `SettingsError` with every fault. The digest is that of the file's bytes, which for
    UTF-8 are those of the text.
    """
    digest = text_digest(text, source)
    table = parse_toml(text, source)
    try:
        file = read(TrialFile, table, source)
    except SettingsError as error:
        if isinstance(table.get("panel"), dict):
            raise SettingsError(source, [as_written(f) for f in error.faults]) from None
        raise
    stages = tuple(file.trial.stages)
    panels = tuple(panel.panel() for panel in file.panel)
    return Plan(
        id=file.trial.id,
        title=file.trial.title,
        panel=panel_words(panels),
        treatments=tuple(Treatment(t.id, t.name, t.control) for t in file.treatment),
        zones=tuple(
            Zone(z.id, z.treatment, z.panel or "", z.row, z.column, z.block) for z in file.zone
        ),
        stages=stages,
        measures=tuple(_measure(m, stages) for m in file.measure),
        unchecked=file.trial.unchecked,
        text=text,
        digest=digest,
        study=file.study.kind if file.study else None,
        washes=tuple((s, file.trial.washes[s]) for s in stages if s in file.trial.washes),
        panels=panels,
        layout=file.layout.layout() if file.layout is not None else None,
        cure_hours=tuple(
            (s, file.trial.cure_hours[s]) for s in stages if s in file.trial.cure_hours
        ),
        recipe=file.trial.recipe.pairs() if file.trial.recipe is not None else (),
        scales=tuple(s.scale(stages) for s in file.scale),
        key_digest=file.trial.blind.key if file.trial.blind is not None else "",
    )


def _measure(table: MeasureTable, stages: tuple[str, ...]) -> Measure:
    return Measure(
        id=table.id,
        quantity=table.quantity,
        channels=table.geometry or table.band or ("",),
        unit=canonical(table.quantity),
        stages=tuple(table.stages) if table.stages else stages,
        replicates=table.replicates,
        order=table.order,
        seed=table.seed,
        higher_is_better=table.higher_is_better,
        margin=table.margin,
        span=table.range,
        drift_correction=table.drift_correction,
        end_of_life=table.end_of_life.criterion() if table.end_of_life is not None else None,
        sled=table.sled.spec() if table.sled is not None else None,
        stray_light=table.stray_light.spec() if table.stray_light is not None else None,
        lamps=tuple(dict.fromkeys(BandLamp(x.centre_nm, x.width_nm) for x in table.lamp)),
    )
