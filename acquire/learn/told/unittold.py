"""What is told of the unit and the channel of a number, and of what says them. Pure."""

from __future__ import annotations

from acquire.learn.beside.against import Says
from acquire.learn.beside.anglebyte import AngleByte
from acquire.learn.beside.bandtokens import channel_of, unknown_band
from acquire.learn.beside.burst import Burst
from acquire.learn.lines.line import Line
from acquire.learn.pieces.units import unit_of
from acquire.learn.presses.press import About
from acquire.model import Quantity


def said(about: About, line: Line | None, says: Says, angles: AngleByte | None = None) -> list[str]:
    """Unit and channel, beside what the bytes say of them; `angles` is where a frame does."""
    words = []
    if line is None or not line.units:
        words.append(f"the unit is {about.unit}{_by_what(about, line, says)}")
        words += _of_labels(about, says)
    if line is not None and line.channels:
        words.append(_of_channels(about, line))
        if line.angle_codes:
            words.append(f"{_codes_of(line)} went with the geometry; where they differ it is noise")
    elif angles is not None:
        pairs = ", ".join(f"{value:02X} is {one}" for value, one in angles.angles.items())
        words.append(f"byte {angles.place} says the geometry: {pairs} degrees; another is noise")
        for place, codes in angles.again.items():
            more = ", ".join(f"{value:02X} at {one}" for value, one in codes.items())
            words.append(
                f"byte {place} went with the geometry: {more}; where they differ it is noise"
            )
    elif about.channel_key:
        evident = line is not None and about.channel == line.evident_angle
        where = "as every line says" if evident else "as you said"
        if line is not None and line.likely_angle not in ("", about.channel):
            where += f"; {line.likely_angle} stands in every line and is not taken for it"
        words.append(f"the {about.channel_key} is {about.channel}, {where}")
    return words


def _of_channels(about: About, line: Line) -> str:
    """The tokens of geometries or bands."""
    if about.channel_key == "band":
        told = [f"{one!r} is {channel_of(one, about.bands)} nm" for one in line.channels]
        return f"each line says its band: {', '.join(told)}; any other one is noise"
    beside = line.burst.beside if isinstance(line.burst, Burst) else ()
    is_beside = any("(?P<geometry>" in one.pattern for one in beside)
    has_one = is_beside or "(?P<geometry>" in line.pattern
    who = "each line says its geometry" if has_one else "geometries stand before their values"
    who = "a line beside that of the number says its geometry" if is_beside else who
    by = ", as you said" if has_one and about.has_angles else ""
    return f"{who}: {', '.join(line.channels)} degrees{by}"


def likely_of(missing: str, about: About, line: Line, says: Says) -> str:
    """What in the bytes may be the unit or the channel that is missing, or needs a meaning."""
    if missing == "unit":
        return in_bytes(says, about.kind)
    if missing == "band":
        return unknown_band(line.channels, about)
    return says.angle_beside or line.likely_angle


def in_bytes(says: Says, kind: Quantity) -> str:
    """The words for units of this kind that stand in the bytes, and not so that one is sure."""
    words = dict.fromkeys((*says.units, *says.afar, *says.loose))
    return " or ".join(word for word in words if unit_of(word, kind))


def _of_labels(about: About, says: Says) -> list[str]:
    """Words that nobody asked about, since they do not stand at the number."""
    labels = [repr(word) for word in says.labels if word not in (about.word, says.unknown)]
    if not labels:
        return []
    one = len(labels) == 1
    told = "this word was taken for a label" if one else "these words were taken for labels"
    words = f"{told}, not for a unit: {', '.join(labels)}"
    return [f"{words}; if one means another unit than {about.unit}, the values are wrong"]


def _by_what(about: About, line: Line | None, says: Says) -> str:
    """What tells the unit, where no field of a line is it."""
    loose = (word for word in says.loose if unit_of(word, about.kind) == about.unit)
    known = (*says.units, *says.afar, *loose)
    if known:
        place = "behind the number" if line is None and says.units else "in the bytes"
        return f": {known[0]!r} stands {place}, held so"
    if about.word:
        return f", as you said: {about.word!r} stands in the bytes, held so"
    if marks := [word for word in (says.unknown, *says.loose) if word in about.marks]:
        return f": {' and '.join(map(repr, marks))}, held so, is no unit, as you said"
    if says.plain:
        return f": no unit that is known stands in the bytes; {says.plain!r} is none, held so"
    return ": no unit that is known stands in the bytes"


def _codes_of(line: Line) -> str:
    """The words that went with the geometry, each with its own."""
    return ", ".join(f"{word!r} at {angle}" for word, angle in line.angle_codes)
