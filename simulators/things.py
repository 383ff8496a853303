"""What lies on a scenario's bench: zones of the panel and reference pieces, as meters see them.

A thing says what it is to each quantity; the arguments are those of the acts `surface` (gloss),
`zone` (force) and `piece` (transmission). Pure.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from simulators.arguments import ActFault, Arguments
from simulators.force.acts import MOST_MASS_G, read_zone
from simulators.gloss.acts import read_surface
from simulators.transmission.acts import read_slide
from simulators.usb.head_hand import HEAD_BANDS
from simulators.wires import BESIDE, FORCE, GLOSS, LIGHT

SURFACE = ("gloss", "texture_sd", "swirl", "swirl_deg", "slope", "spots", "spot_loss")
FRICTION = ("static", "kinetic", "ageing", "first", "texture")
SLIDE = ("clear", "edge_nm", "edge_width_nm", "film")
THING = r"[A-Za-z0-9][A-Za-z0-9._-]{0,63}"
THING_WANTED = "1 to 64 letters, digits, dots, - or _, a letter or digit first"
BANDS = tuple(HEAD_BANDS)


@dataclass(frozen=True)
class Thing:
    """A zone or a piece. `is_piece`: a reference piece, of one quantity or several."""

    name: str
    is_piece: bool
    surface: Mapping[str, object] = field(default_factory=dict)
    friction: Mapping[str, object] = field(default_factory=dict)
    slide: Mapping[str, object] = field(default_factory=dict)
    mass_g: float | None = None
    percent: Mapping[str, float] | None = None
    treatment: str = ""

    def is_for(self, quantity: str) -> bool:
        """Whether a meter of the quantity can be put on it."""
        if quantity in BESIDE:
            return False
        if quantity == GLOSS:
            return "gloss" in self.surface
        if not self.is_piece:
            return True
        return self.mass_g is not None if quantity == FORCE else self.percent is not None

    def gloss(self, angle: str) -> float | None:
        """Its gloss at an angle; None where it has none."""
        by_angle = self.surface.get("gloss")
        return by_angle.get(angle) if isinstance(by_angle, Mapping) else None

    def laying(
        self, quantity: str, channels: Iterable[str]
    ) -> tuple[str, dict[str, object]] | None:
        """The act that lays it within reach of a device; None where there is none to do."""
        if not self.is_for(quantity):
            return None
        if quantity == GLOSS:
            return "surface", {"name": self.name, **self.surface}
        if quantity == FORCE:
            return None if self.is_piece else ("zone", {"name": self.name, **self.friction})
        return "piece", {"name": self.name, **self._light(set(channels))}

    def _light(self, bands: set[str]) -> dict[str, object]:
        if self.percent is not None:
            return {"percent": {b: v for b, v in self.percent.items() if b in bands}}
        film = self.slide.get("film")
        own = {b: v for b, v in film.items() if b in bands} if isinstance(film, Mapping) else {}
        rest = {key: value for key, value in self.slide.items() if key != "film"}
        return {**rest, "film": own} if own else rest


def read_zone_thing(args: Arguments) -> Thing:
    """A zone from its table in the file or from words of a command. Raises ActFault."""
    name = args.text("name", THING, THING_WANTED)
    treatment = args.name("treatment", "")
    surface, friction, slide = args.part(SURFACE), args.part(FRICTION), args.part(SLIDE)
    if surface:
        read_surface(Arguments(args.act, {"name": name, **surface}))
    read_zone(Arguments(args.act, {"name": name, **friction}))
    glass = Arguments(args.act, slide)
    read_slide(name, glass)
    if glass.has("film"):
        glass.by_name("film", BANDS, 0, 2)
    args.finish()
    return Thing(name, False, surface, friction, slide, treatment=treatment)


def read_piece_thing(args: Arguments) -> Thing:
    """A reference piece from its table in the file. Raises ActFault."""
    name = args.text("name", THING, THING_WANTED)
    surface = args.part(("gloss", "texture_sd"))
    if surface:
        read_surface(Arguments(args.act, {"name": name, **surface}))
    mass_g = args.number("mass_g", 0, MOST_MASS_G) if args.has("mass_g") else None
    percent = args.everywhere("percent", BANDS, 0, 600) if args.has("percent") else None
    args.finish()
    if (bool(surface), mass_g is not None, percent is not None).count(True) != 1:
        raise ActFault(f"{args.act} name", name, "a piece with one of gloss, mass_g, percent")
    return Thing(name, True, surface, mass_g=mass_g, percent=percent)


def changed(thing: Thing, words: Mapping[str, object]) -> Thing:
    """The thing with some of it anew, as a command says it. Raises ActFault."""
    had: dict[str, object] = {**thing.surface, **thing.friction, **thing.slide}
    merged = {**had, **words}
    for name in ("gloss", "film"):
        # Each angle and each band by itself: the others stay as they were.
        before, now = had.get(name), words.get(name)
        if isinstance(before, Mapping) and isinstance(now, Mapping):
            merged[name] = {**before, **now}
    read = read_zone_thing(Arguments("zone", {"name": thing.name, **merged}))
    return replace(read, treatment=thing.treatment)


__all__ = ["BANDS", "FORCE", "GLOSS", "LIGHT", "Thing", "changed"]
