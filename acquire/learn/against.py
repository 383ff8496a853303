"""Where what a person said of a meter goes against what its bytes say: then neither is taken. Pure.

The bytes say a unit in a word of the closed table beside the number, a geometry where a word or a
sign names it, and a band by a number of nanometres.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from acquire.learn.angles import Angles
from acquire.learn.column import Column, Style, is_constant
from acquire.learn.number import NumberAt
from acquire.learn.parts import Parts, columns_of
from acquire.learn.press import About
from acquire.learn.units import kinds_of, unit_of, units_in
from acquire.model import Quantity

_BEHIND_DIGITS = re.compile(r"(?: +([A-Za-z%]+)|([A-Za-z]{2,}))(?![0-9A-Za-z])")
"""A word in a frame. A single letter that touches the digits may be any byte."""
_LENGTHS = re.compile(r"(?<![0-9.,])(?:([0-9]{3,4}) ?- ?)?([0-9]{3,4}) ?nm(?![0-9A-Za-z])")
_SHIPPED = {
    Quantity.GLOSS: "config/profiles/gloss-press.toml",
    Quantity.FORCE: "config/profiles/force-peak.toml",
    Quantity.TRANSMITTANCE: "config/profiles/transmission-bands.toml",
}
"""A profile to copy for each kind."""


class Says(NamedTuple):
    """What the bytes say: words for units, geometries, and the `text` that never changed.

    `afar` are words for units that do not stand beside the number.
    """

    units: tuple[str, ...] = ()
    angles: tuple[str, ...] = ()
    text: str = ""
    afar: tuple[str, ...] = ()


NOTHING = Says()


class Against(NamedTuple):
    """What was `said`, as the option for it, and what was `sent`, each in words.

    `part` is kind, unit, channel, least or most.
    """

    part: str
    said: str
    sent: str
    next_step: str


def in_line(before: Sequence[Column], behind: Sequence[Column], parts: Parts) -> Says:
    """What a line says, by the columns before and behind its number."""
    units = parts.unit_tokens or parts.foreign
    # A letter before a number may be its name; longer words for units are names of nothing else.
    beside = [column for column in before if column.texts[0].strip(" =:")][-1:]
    for column in beside if not units else []:
        word = column.texts[0].strip(" ")
        units = (word,) if is_constant(column.texts) and len(word) > 1 and kinds_of(word) else ()
    angles = parts.channels or ((parts.evident_angle,) if parts.evident_angle else ())
    texts = [c.texts[0] if is_constant(c.texts) else "\0" for c in (*before, *behind)]
    return Says(units, angles, "".join(texts))


def in_frame(number: NumberAt, frames: Sequence[bytes]) -> Says:
    """What stands as text about the digits of a frame."""
    if number.type != "digits":
        return NOTHING
    fronts = [frame[: number.offset].decode("latin-1") for frame in frames]
    backs = [frame[number.end :].decode("latin-1") for frame in frames]
    size = next((i for i, seen in enumerate(zip(*backs, strict=True)) if len(set(seen)) > 1), None)
    still = backs[0][:size]
    found = _BEHIND_DIGITS.match(still)
    word = (found[1] or found[2]) if found is not None else ""
    columns = columns_of(fronts, Style(".", is_padded=True))
    angle = ""
    if columns is not None:
        value = Column("value", tuple(str(place) for place in range(len(frames))))
        angle = Angles([*columns, value], len(columns)).evident
    return Says((word,) if kinds_of(word) else (), (angle,) if angle else (), still)


def with_afar(says: Says, presses: Sequence[bytes], *, is_text: bool) -> Says:
    """The same with the units that stand anywhere in the bytes, where none is at the number.

    In bytes that are no text only a word of three letters and more that every press has is one.
    """
    if says.units:
        return says
    found = [units_in(data) for data in presses]
    words = (
        set().union(*found)
        if is_text
        else {word for word in set.intersection(*found) if len(word) >= _NO_CHANCE}
    )
    return says._replace(afar=tuple(sorted(words)))


_NO_CHANCE = 3


def against(says: Says, about: About) -> Against | None:
    """The first contradiction; None where there is none."""
    tokens = says.units or says.afar
    place = "beside the number" if says.units else "in the bytes of a press"
    words = " and ".join(map(repr, tokens))
    kinds = sorted({kind.value for token in tokens for kind in kinds_of(token)})
    if kinds and about.kind.value not in kinds:
        return Against(
            "kind",
            f"the meter measures {about.kind.value} (--kind {about.kind.value})",
            f"{place} stands {words}, a unit of {' and '.join(kinds)}",
            f"leave --kind out or name --kind {kinds[0]}; if {words} means something else here, "
            f"the profile is to be written by hand: copy {_SHIPPED[about.kind]}",
        )
    units = sorted({unit for token in tokens if (unit := unit_of(token, about.kind))})
    if units and about.unit not in (None, *units):
        return Against(
            "unit",
            f"the unit is {about.unit} (--unit {about.unit})",
            f"{place} stands {words}, which is {' and '.join(units)}",
            f"{'leave --unit out' if says.units else f'name --unit {units[0]}'}, for the bytes say "
            "it; if the display shows another unit than the meter sends, set it to send that one",
        )
    if about.channel is None:
        return None
    if about.channel_key == "geometry" and says.angles and about.channel not in says.angles:
        angles = " and ".join(says.angles)
        return Against(
            "channel",
            f"the geometry is {about.channel} (--geometry {about.channel})",
            f"the bytes name {angles} degrees",
            f"leave --geometry out, for the bytes say it; if {angles} means something else here, "
            f"the profile is to be written by hand: copy {_SHIPPED[about.kind]}",
        )
    lengths = [found[0] for found in _LENGTHS.finditer(says.text)]
    if about.channel_key == "band" and lengths and not _is_band(says.text, about.channel):
        return Against(
            "channel",
            f"the band is {about.channel} (--band {about.channel})",
            f"in every press stands {' and '.join(map(repr, lengths))}",
            "name the band that the meter says; if that means something else here, the profile is "
            f"to be written by hand: copy {_SHIPPED[about.kind]}",
        )
    return None


def _is_band(text: str, band: str) -> bool:
    """Whether a wavelength or a band in nm in a text is the band that was said, or within it."""
    low, _, high = band.partition("-")
    least, most = float(low), float(high or low)
    return any(
        least <= float(found[2]) <= most and (not found[1] or float(found[1]) == least)
        for found in _LENGTHS.finditer(text)
    )
