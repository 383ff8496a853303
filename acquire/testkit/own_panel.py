"""A panel as a person's own trial plans it, with invented treatments: what each truly does.

Effects are drawn by a seed, by the ids of the plan, so that a blind trial's products are known by
their codes and by nothing else. Applying, washing and stripping are said by lines; what is on each
zone is kept in a file, so that it is still there the next day. One thread.
"""

from __future__ import annotations

import json
import math
import random
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from acquire.errors import Misuse
from acquire.model import Plan, Quantity, Rated, Zone, channel_label
from acquire.report.files.wholefile import whole_file

ANGLES = ("20", "60", "85")
_BARE_GU = {"20": (80.0, 0.6), "60": (88.5, 0.3), "85": (95.3, 0.2)}
_SHARE_OF_ANGLE = {"20": 1.0, "60": 0.5, "85": 0.25}
_BARE_STATIC = (0.41, 0.008)
_KINETIC_SHARE = 0.75
_WORN_GU_A_WASH = 0.005
_MOST_WASHES = 100_000
DOES = ("apply", "strip", "wash", "look", "truth")
HELP = """\
apply ZONE ...           put the product of your plan on zones (all: on every one)
wash [ZONE ...] [TIMES]  wash zones, all where none is named; effects wear off. A counter strokes
strip ZONE ...           the zone is bare again (all: every one)
look ZONE                which step of your scales a person would see there
truth                    what each product truly does; best looked at last""".splitlines()


@dataclass(frozen=True, slots=True)
class Effect:
    """What a treatment does when it is fresh.

    `gloss_gu` at 20 degrees; `static_factor` of friction; `film` the factor of what a slide lets
    through, by band. Half of each is lost after `half_life_washes`; `ease` is where on scales of
    products it stands, from 0 to 1.
    """

    gloss_gu: float
    static_factor: float
    film: Mapping[str, float]
    half_life_washes: float
    ease: float


NOTHING = Effect(0.0, 1.0, {}, 1.0, 0.5)


@dataclass(slots=True)
class ZoneState:
    """Whether its product is on a zone, and how often it was washed since."""

    is_applied: bool = False
    washes: int = 0


class OwnPanel:
    """The zones of a plan. `bands` are those of the heads; `kept` is the file of its state."""

    def __init__(self, plan: Plan, seed: int, bands: Sequence[str], kept: Path) -> None:
        self.plan = plan
        self._seed = seed
        self._kept = kept
        controls = {t.id for t in plan.treatments if t.is_control}
        self.effects = {
            t.id: NOTHING if t.id in controls else self._drawn(t.id, bands) for t in plan.treatments
        }
        self.states = {zone.id: ZoneState() for zone in plan.zones}
        self._recall()

    def _random(self, *of: str) -> random.Random:
        return random.Random("|".join((str(self._seed), *of)))  # noqa: S311 - nothing is secret

    def _drawn(self, treatment: str, bands: Sequence[str]) -> Effect:
        draw = self._random("effect", treatment)
        gloss, static = draw.uniform(-1.0, 4.0), draw.uniform(0.45, 0.9)
        half_life, ease = 10 ** draw.uniform(0.7, 1.6), draw.random()
        return Effect(gloss, static, {band: _film(draw, band) for band in bands}, half_life, ease)

    # -- what a meter finds there ----------------------------------------------------------------

    def words_of(self, zone: Zone) -> dict[str, object]:
        """A zone as it is now, in the words of a scenario file."""
        draw = self._random("zone", zone.id)
        bare = {angle: draw.gauss(*_BARE_GU[angle]) for angle in ANGLES}
        static, much = draw.gauss(*_BARE_STATIC), draw.gauss(1.0, 0.06)
        state, effect = self.states[zone.id], self.effects[zone.treatment]
        share = self.share_left(zone) * much
        worn = _WORN_GU_A_WASH * state.washes
        static *= 1 + (effect.static_factor - 1) * share
        return {
            "gloss": {
                angle: round(value - worn + effect.gloss_gu * _SHARE_OF_ANGLE[angle] * share, 3)
                for angle, value in bare.items()
            },
            "texture_sd": 0.15,
            "slope": 0.4,
            "static": round(static, 4),
            "kinetic": round(_KINETIC_SHARE * static, 4),
            "film": {
                band: round(min(2.0, 1 + (factor - 1) * share), 4)
                for band, factor in effect.film.items()
            },
        }

    def share_left(self, zone: Zone) -> float:
        """How much of its effect a zone still has, from 0 to 1."""
        state = self.states[zone.id]
        if not state.is_applied:
            return 0.0
        half_life = self.effects[zone.treatment].half_life_washes
        return float(0.5 ** (state.washes / half_life))

    # -- lines -----------------------------------------------------------------------------------

    def knows(self, line: str) -> bool:
        """Whether a line is one for the panel."""
        return line.split(maxsplit=1)[:1] in ([word] for word in DOES)

    def do(self, line: str) -> tuple[list[str], int]:
        """Do a line: what came of it, and how many washes it was. Raises `Misuse`."""
        act, *words = line.split()
        if act == "truth":
            return list(self._truth()), 0
        if act == "wash":
            return self._wash(words)
        zones = self._zones(act, words)
        if act == "look":
            return [line for zone in zones for line in self._look(zone)], 0
        for zone in zones:
            self.states[zone.id] = ZoneState(is_applied=act == "apply")
        self._keep()
        did = "the product of the plan is on" if act == "apply" else "bare again:"
        return [f"{did} {', '.join(zone.id for zone in zones)}"], 0

    def _wash(self, words: Sequence[str]) -> tuple[list[str], int]:
        *named, last = words or ["1"]
        times = 1
        if last.isascii() and last.isdecimal() and last not in self.states:
            times = int(last)
        else:
            named = [*named, last]
        if not 1 <= times <= _MOST_WASHES:
            raise Misuse("wash", got=str(times), wanted=f"1 to {_MOST_WASHES} times")
        zones = self._zones("wash", named or ["all"])
        for zone in zones:
            self.states[zone.id].washes += times
        self._keep()
        counts = ", ".join(f"{zone.id} {self.states[zone.id].washes}" for zone in zones)
        return [f"washed; washes of what is on them: {counts}"], times

    def _look(self, zone: Zone) -> Iterator[str]:
        share = self.share_left(zone)
        is_control = self.effects[zone.treatment] is NOTHING
        for scale in self.plan.scales:
            if scale.rated is not Rated.ZONE and is_control:
                continue
            seen = share if scale.rated is Rated.ZONE else self.effects[zone.treatment].ease
            step = 1 + min(len(scale.steps) - 1, math.floor(seen * len(scale.steps)))
            yield f"{zone.id}, {scale.name}: {scale.words(step)}"
        if not self.plan.scales:
            yield f"{zone.id}: the plan has no scales"

    def _truth(self) -> Iterator[str]:
        measured = {measure.quantity for measure in self.plan.measures}
        for treatment in self.plan.treatments:
            effect = self.effects[treatment.id]
            if effect is NOTHING:
                yield f"{treatment.name}: nothing"
                continue
            told = []
            if Quantity.GLOSS in measured:
                told.append(f"{effect.gloss_gu:+.1f} GU at 20°")
            if Quantity.FORCE in measured:
                told.append(f"static friction times {effect.static_factor:.2f}")
            told += [
                f"lets {100 * factor:.0f} % through at {channel_label(band)}"
                for band, factor in effect.film.items()
            ]
            half_life = f"half of it is lost after {effect.half_life_washes:.0f} washes"
            yield f"{treatment.name}: {', '.join(told)}; {half_life}"

    def _zones(self, act: str, words: Sequence[str]) -> list[Zone]:
        by_id = {zone.id.lower(): zone for zone in self.plan.zones}
        if list(words) == ["all"]:
            return list(self.plan.zones)
        strange = [word for word in words if word.lower() not in by_id]
        if strange or not words:
            raise Misuse(
                act,
                got=strange[0] if strange else "nothing",
                wanted=f"zones of the plan: {', '.join(z.id for z in self.plan.zones)}, or all",
            )
        return [by_id[word.lower()] for word in dict.fromkeys(words)]

    # -- over the days -----------------------------------------------------------------------------

    def _keep(self) -> None:
        table = {name: [state.is_applied, state.washes] for name, state in self.states.items()}
        with whole_file(self._kept) as file:
            json.dump({"trial": self.plan.id, "zones": table}, file)

    def _recall(self) -> None:
        """What was on the zones when it was simulated last; a file that is none counts as bare."""
        with suppress(OSError, ValueError, LookupError, TypeError, AttributeError):
            found = json.loads(self._kept.read_text("utf-8"))
            if found["trial"] != self.plan.id:
                return
            for name, (is_applied, washes) in found["zones"].items():
                if name in self.states and isinstance(washes, int):
                    self.states[name] = ZoneState(bool(is_applied), max(0, washes))


def _film(draw: random.Random, band: str) -> float:
    """Of ultraviolet much is stopped, of what is seen nothing to speak of, of infrared a little."""
    longest_nm = float(band.rpartition("-")[2])
    if longest_nm <= 400:
        return draw.uniform(0.2, 0.9)
    return draw.uniform(0.98, 1.01) if longest_nm <= 800 else draw.uniform(0.9, 1.0)
