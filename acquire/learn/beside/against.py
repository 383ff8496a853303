"""Where what a person said of a meter goes against what its bytes say: then neither is taken. Pure.

The bytes say a unit in a word of the closed table beside the number, a geometry where a word or a
sign names it, and a band by a number of nanometres.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from acquire.learn.beside.angles import Angles
from acquire.learn.beside.bands import bands_in_frame, bands_in_line, is_band
from acquire.learn.beside.bandtokens import channel_of
from acquire.learn.beside.glued import taken_apart
from acquire.learn.beside.parts import Parts, word_ahead
from acquire.learn.numbers.number import NumberAt
from acquire.learn.pieces.column import Column, columns_of, is_constant
from acquire.learn.pieces.loosewords import NO_CHANCE, labels_in, loose_in
from acquire.learn.pieces.pieces import Style
from acquire.learn.pieces.unitkey import named_word
from acquire.learn.pieces.unitlike import (
    CHANGES,
    Sort,
    Word,
    compound,
    is_letter_unit,
    sort_of,
    strange_of,
    word_before,
    word_behind,
)
from acquire.learn.pieces.units import default_unit, kinds_of, unit_of, units_in
from acquire.learn.presses.press import About
from acquire.model import Quantity
from acquire.units import units_of

_BEHIND_DIGITS = re.compile(r"(?: +([A-Za-z%]+)|([A-Za-z]{2,}))(?![0-9A-Za-z])")
"""A word in a frame. A single letter that touches the digits may be any byte."""
_SHIPPED = {
    Quantity.GLOSS: "config/profiles/gloss-press.toml",
    Quantity.FORCE: "config/profiles/force-peak.toml",
    Quantity.TRANSMITTANCE: "config/profiles/transmission-bands.toml",
}
"""A profile to copy for each kind."""


class Says(NamedTuple):
    """What the bytes say: words for units, geometries, and bands that may be the number's.

    `angle_beside` is the geometry that another line than that of the number names in every press.
    `tokens` are the texts by which presses of several bands say which it is.
    `ahead` is the one of `units` that stands right before the number, and behind no other one;
    `afar` are words for units that do not stand beside the number. `strange` is a unit beside it
    that no profile gives, `unknown` a word there that may be one, `plain` one that is none; `loose`
    are words of every press that may be its unit and need not, `labels` those that no table knows.
    Empty where there is none.
    """

    units: tuple[str, ...] = ()
    angles: tuple[str, ...] = ()
    bands: tuple[str, ...] = ()
    afar: tuple[str, ...] = ()
    strange: str = ""
    unknown: str = ""
    plain: str = ""
    loose: tuple[str, ...] = ()
    labels: tuple[str, ...] = ()
    ahead: tuple[str, ...] = ()
    tokens: tuple[str, ...] = ()
    angle_beside: str = ""


NOTHING = Says()


class Against(NamedTuple):
    """What was `said`, as the option for it, and what was `sent`, each in words.

    `part` is kind, unit, word, channel, least, most, counts_to, setting for that all presses were
    of one, or strange for a unit that no profile gives.
    """

    part: str
    said: str
    sent: str
    next_step: str


def in_line(
    before: Sequence[Column], value: Column, behind: Sequence[Column], parts: Parts, kind: Quantity
) -> Says:
    """What a line says, by the columns before and behind its number."""
    units = parts.unit_tokens or parts.rivals or parts.foreign
    ahead = () if units else _unit_ahead(before)
    angles = parts.channels or ((parts.evident_angle,) if parts.evident_angle else ())
    front, back = _still(before), _still(behind)
    says = Says(units or ahead, angles, bands_in_line(before, value, behind), ahead=ahead)
    named = named_word([*before, value, *behind], kind)
    says = _with_word(says, named or word_behind(back, kind))
    changes = next((c for c in behind if c.kind == "alnum"), None)
    strange = says.strange or (strange_of(changes, kind) if changes is not None else "")
    word = word_before(front, kind)
    if not strange and not units and word is not None and word.sort is Sort.STRANGE:
        strange = word.text
    return says._replace(strange=strange, loose=_letter_ahead(word))


def _unit_ahead(before: Sequence[Column]) -> tuple[str, ...]:
    """The word for a unit right before a number.

    A letter there may be its name; longer words for units are names of nothing else.
    """
    word = word_ahead(before)
    return (word,) if len(word) > 1 and kinds_of(word) else ()


def _letter_ahead(ahead: Word | None) -> tuple[str, ...]:
    """A letter before a number that is a unit of some kind of meter."""
    is_letter = ahead is not None and ahead.sort is Sort.UNIT and len(ahead.text) == 1
    return (ahead.text,) if ahead is not None and is_letter else ()


def _still(columns: Sequence[Column]) -> str:
    """The text of columns, without what changed in them but for letters before digits.

    Spaces of which there were fewer fill up a number, and part it from a word all the same.
    """
    return "".join(
        c.texts[0] if is_constant(c.texts) or c.kind == "space" else f"{_letters_of(c)}{CHANGES}"
        for c in columns
    )


def _letters_of(column: Column) -> str:
    found = [re.fullmatch("([0-9]*[A-Za-z]+)[0-9]+", text) for text in column.texts]
    letters = {one[1] for one in found if one is not None}
    return letters.pop() if all(found) and len(letters) == 1 else ""


def _with_word(says: Says, word: Word | None) -> Says:
    """The same, with the word behind the number."""
    if word is None or (says.units and word.sort is not Sort.STRANGE):
        return says
    if word.sort is Sort.STRANGE:
        return says._replace(strange=word.text)
    if word.sort is Sort.PLAIN:
        return says._replace(plain=word.text)
    return says._replace(unknown=word.text) if word.sort is Sort.UNKNOWN else says


def in_frame(number: NumberAt, frames: Sequence[bytes], kind: Quantity) -> Says:
    """What stands as text about the number of a frame."""
    if number.type != "digits":
        return _behind_bytes(number, frames, kind)
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
        angle = Angles([*taken_apart(columns, "."), value], len(columns)).evident
    front = "".join(s[0] if is_constant(s) else CHANGES for s in zip(*fronts, strict=True))
    says = Says(
        (word,) if kinds_of(word) else (), (angle,) if angle else (),
        bands_in_frame(fronts, backs),
        loose=_letter_ahead(word_before(front, kind)),
    )  # fmt: skip
    # Other bytes are no letters of a word.
    beside = word_behind(re.sub("[\x80-\xb4\xb6-\xff]", "\x01", still), kind)
    is_any = beside is not None and len(beside.text) == 1 and beside.sort is Sort.UNKNOWN
    if beside is not None and (not is_any or is_letter_unit(beside.text, kind)):
        says = _with_word(says, beside)
    return says


def _behind_bytes(number: NumberAt, frames: Sequence[bytes], kind: Quantity) -> Says:
    """What letters say that never changed in a frame whose number is no text.

    A word of known letters at the number is one, three letters of no known one may be.
    """
    size = min(map(len, frames))
    still = [
        chr(frames[0][at])
        if len({frame[at] for frame in frames}) == 1 and at not in number.places
        else CHANGES
        for at in range(size)
    ]
    text = "".join(still)
    beside = _WORD_BEHIND.match(text, number.end)
    ahead = _WORD_BEFORE.search(text[: number.offset])
    word = beside[1] if beside is not None else ""
    more = compound(word, text[beside.end() :]) if beside is not None and kinds_of(word) else ""
    sort = Sort.STRANGE if more else sort_of(word, kind) if word else Sort.PLAIN
    if sort is Sort.UNIT and len(word) > 1:
        return Says((word,))
    # Of one letter or two bytes may be as much by chance.
    found = [one for one in _LETTERS.finditer(text) if kinds_of(one[0])]
    runs = {one[0] for one in found}
    whole = [one[0] + compound(one[0], text[one.end() :]) for one in found]
    other = next((one for one in whole if one not in runs and len(one) >= NO_CHANCE), "")
    loose = {run for run in runs if len(run) == 2} | ({word} if sort is Sort.UNIT else set())
    if ahead is not None and sort_of(ahead[1], kind) in (Sort.UNIT, Sort.STRANGE):
        loose |= {ahead[1]}
    return Says(
        afar=tuple(sorted(run for run in runs if len(run) >= NO_CHANCE)),
        strange=f"{word}{more}" if sort is Sort.STRANGE and len(word + more) > 1 else other,
        unknown=word if sort is Sort.UNKNOWN and len(word) >= NO_CHANCE else "",
        loose=tuple(sorted(run for run in loose if kind in kinds_of(run) or not kinds_of(run))),
    )


_WORD_BEHIND = re.compile(r"[\x00-\x20]{0,4}([A-Za-z%\xb5]+)")
_WORD_BEFORE = re.compile(r"([A-Za-z%\xb5]+)[\x00-\x20]{0,2}$")
_LETTERS = re.compile("[A-Za-z]+")


def with_afar(says: Says, presses: Sequence[bytes], kind: Quantity, *, is_text: bool) -> Says:
    """The same with the units that stand anywhere in the bytes, where none is at the number.

    In bytes that are no text only a word of three letters and more that every press has is one.
    """
    says = says._replace(labels=labels_in(presses, kind, is_text=is_text))
    if says.units or says.afar:
        return says
    if is_text:
        loose = set.intersection(*(loose_in(data, kind) for data in presses))
        says = says._replace(loose=tuple(sorted(loose.union(says.loose))))
    found = [units_in(data) for data in presses]
    words = (
        set().union(*found)
        if is_text
        else {word for word in set.intersection(*found) if len(word) >= NO_CHANCE}
    )
    return says._replace(afar=tuple(sorted(words)))


def against(says: Says, about: About) -> Against | None:
    """The first contradiction; None where there is none."""
    if says.strange:
        return Against(
            "strange",
            f"the meter measures {about.kind.value}"
            + (f", and the unit is {about.unit}" if about.unit else ""),
            f"beside the number stands {says.strange!r}, which is none of its units",
            f"set the meter to one of {', '.join(units_of(about.kind))}, and press again; if "
            f"{says.strange!r} means something else here, the profile is to be written by hand: "
            f"copy {_SHIPPED[about.kind]}",
        )
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
            "leave --unit out, for the bytes say it; if the display shows another unit than the "
            "meter sends, set it to send that one"
            if says.units and len(units) == 1
            else f"name --unit {' or --unit '.join(units)}, whichever is that of the number shown"
            if says.units
            else f"name --unit {units[0]} if the display shows that; if it shows {about.unit}, set "
            "the meter to send that one",
        )
    if about.channel_key == "band" and (found := _of_bands(says, about)) is not None:
        return found
    if about.channel_key == "geometry" and (found := _of_lines_beside(says, about)) is not None:
        return found
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
    is_one = says.bands and not says.tokens
    if about.channel_key == "band" and is_one and not is_band(about.channel, says.bands):
        return Against(
            "channel",
            f"the band is {about.channel} (--band {about.channel})",
            f"in every press stands {' and '.join(map(repr, says.bands))}",
            "name the band that the meter says; if that means something else here, the profile is "
            f"to be written by hand: copy {_SHIPPED[about.kind]}",
        )
    return None


def _of_lines_beside(says: Says, about: About) -> Against | None:
    """What a line beside that of the number names in every press, against what is said otherwise.

    By a person, or by the line of the number itself.
    """
    own = says.angles or ((about.channel,) if about.channel is not None else ())
    angle = says.angle_beside
    if not angle or not own or angle in own:
        return None
    by = f"the geometry is {about.channel} (--geometry {about.channel})"
    return Against(
        "channel",
        f"the line of the number names {' and '.join(own)} degrees" if says.angles else by,
        f"another line of every press names {angle} degrees",
        f"name the geometry that the meter is set to; if {angle} means something else here, the "
        f"profile is to be written by hand: copy {_SHIPPED[about.kind]}",
    )


def _of_bands(says: Says, about: About) -> Against | None:
    """What was said of bands, where each press says its own one in its text."""
    strange = next((pair for pair in about.bands if pair[0] not in says.tokens), None)
    by = f"presses say their band by {' and '.join(map(repr, says.tokens))}"
    if strange is not None:
        return Against(
            "channel",
            f"{strange[0]!r} means a band (--band {strange[0]}={strange[1]})",
            by if says.tokens else "no text that says a band changes from press to press",
            "name each text as it stands there, and press once on each band that is to be read"
            if says.tokens
            else "name the band alone: --band " + strange[1],
        )
    known = [channel_of(token, about.bands) for token in says.tokens]
    if not says.tokens or None in known or about.channel in (None, *known):
        return None
    return Against(
        "channel",
        f"the band is {about.channel} (--band {about.channel})",
        by,
        "leave --band out, for the bytes say it; where one of them means another band than its "
        f"digits, name that: --band {says.tokens[0]}={about.channel}",
    )


def open_word(says: Says, about: About) -> tuple[str, str]:
    """A word of the bytes that may be the unit, of which a person has to say it, and why.

    Two empty texts where there is none, or where the unit was said together with a word.
    """
    if about.word or says.units:
        return "", ""
    if says.unknown and says.unknown not in about.marks:
        is_letter = is_letter_unit(says.unknown, about.kind)
        return says.unknown, (LETTER if is_letter else UNKNOWN_WORD).format(says.unknown)
    said = about.unit or default_unit(about.kind)
    for word in says.loose if said is not None else ():
        unit = unit_of(word, about.kind)
        if unit != said and word not in about.marks:
            means = "may be its unit" if unit is None else f"may mean {unit}"
            return word, LOOSE_WORD.format(word, means, said)
    return "", ""


UNKNOWN_WORD = "{!r} stands beside the number at every press, and is no unit that is known"
LETTER = "{!r} stands beside the number at every press: a mark, or a unit that no profile gives"
LOOSE_WORD = "{!r} stands in every press and {}, and the unit would be {}"


def word_refused(says: Says, about: About) -> Against | None:
    """Why a word that was said to stand for the unit is not taken."""
    known = {says.unknown, says.plain, *says.units, *says.afar, *says.loose}
    if not about.word or about.word in known:
        return None
    there = sorted(word for word in known if word)
    return Against(
        "word",
        f"{about.word!r} stands for {about.unit} (--unit {about.word}={about.unit})",
        f"beside the number stands {' and '.join(map(repr, there))}"
        if there
        else "no such word stands beside the number at every press",
        f"name the word as it stands there, or the unit alone: --unit {about.unit}",
    )
