"""Written scales in a trial file: ``[[scale]]``, the steps in the user's own words. Any thread."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Annotated

from pydantic import Field

from acquire.errors import Fault
from acquire.model import Rated, Scale
from acquire.schema import Id, Name, Schema, either, rule, show, sound

MOST_STEPS = 20
MOST_SCALES = 50


class ScaleTable(Schema):
    id: Id
    name: Name
    rated: Annotated[Rated, Field(strict=False)]
    steps: Annotated[list[Name], Field(min_length=2, max_length=MOST_STEPS)]
    stages: Annotated[list[Id], Field(min_length=1)] | None = None
    gone_below: Annotated[int, Field(ge=2)] | None = None

    @rule
    def each_step_once(self) -> Iterator[Fault]:
        for index, step in enumerate(self.steps):
            if step in self.steps[:index]:
                yield Fault(f"steps[{index}]", show(step), "each step in words of its own")

    @rule
    def products_have_no_stages(self) -> Iterator[Fault]:
        if self.rated is Rated.TREATMENT and self.stages is not None:
            yield Fault("stages", show(self.stages), "no stages: a product is rated once")

    @rule
    def a_life_ends_within_the_steps(self) -> Iterator[Fault]:
        if self.gone_below is None:
            return
        if self.rated is Rated.TREATMENT:
            wanted = "no gone_below: only zones are looked at after a wash"
            yield Fault("gone_below", show(self.gone_below), wanted)
        elif self.gone_below > len(self.steps):
            yield Fault("gone_below", show(self.gone_below), f"a step, 2 to {len(self.steps)}")

    def scale(self, stages: Sequence[str]) -> Scale:
        """The scale; `stages` are those of the trial, all of which it has where it names none."""
        of_zones = self.rated is Rated.ZONE
        own = tuple(self.stages or stages) if of_zones else ()
        steps = tuple(self.steps)
        return Scale(self.id, self.name, self.rated, steps, own, self.gone_below)


def scale_faults(
    scales: Sequence[ScaleTable], stages: Sequence[str], washes: Mapping[str, int]
) -> Iterator[Fault]:
    """Stages that the trial has not, and lives that no stage could end."""
    for index, scale in sound(scales, "stages", "rated", "gone_below"):
        at = f"scale[{index}]"
        if scale.rated is Rated.TREATMENT:
            continue
        own = scale.stages or []
        for place, stage in enumerate(own):
            if stage not in stages:
                wanted = f"a stage of this trial: {either(dict.fromkeys(stages))}"
                yield Fault(f"{at}.stages[{place}]", show(stage), wanted)
        known = [stage for stage in own if stage in stages]
        if known != [stage for stage in stages if stage in known]:
            wanted = "each stage once, in the order of trial.stages"
            yield Fault(f"{at}.stages", show(own), wanted)
        looked = own or stages
        if scale.gone_below is not None and not any(washes.get(s, 0) > 0 for s in looked):
            wanted = "a stage of this scale with its count in [trial.washes]"
            yield Fault(f"{at}.gone_below", "no stage with a count of washes", wanted)
