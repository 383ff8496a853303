"""Words that stand like a unit beside a number and are none that a profile knows. Pure.

A unit that nobody knows is no permission to take another one. So a word behind the number is a unit
of the closed table, a word that is plainly none, a unit that is known and that no profile gives, or
a word that a person has to be asked about.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from enum import StrEnum
from typing import NamedTuple

from acquire.learn.pieces.column import Column, is_constant
from acquire.learn.pieces.units import kinds_of
from acquire.learn.presses.framing import MINUS
from acquire.model import Quantity

CHANGES = "\0"
"""Stands in a text for what changed from press to press."""

_UNITS = """
cN dN daN hN MN GN uN nN dyn kp tf kip kips
Nm Ncm Nmm mNm cNm Pa hPa kPa MPa GPa psi ksi bar mbar atm
nm um mm cm dm in inch mil mils ft m km
mV kV uV mA uA mW uW kW lx lux cd lm mJ kJ
dB dBm OD Abs AU dE HU HGU degC degF Hz kHz us ms s sec
mg ug kt t ppm ppb rpm cP cSt HV
"""
_STRANGE = frozenset(_UNITS.split())
"""Units of no profile (symbols of the SI brochure, 9th edition, and common practice)."""
_STRANGE_IN_ANY_CASE = frozenset(word.lower() for word in _STRANGE if len(word) > 2)

_WORDS = """
    OK PK PEAK HOLD HLD MAX MIN AV AVG AVE MEAN ST STB STABLE US GS NT NET GROSS TARE PASS FAIL GO
    NG HI LO HIGH LOW GOOD BAD END EOT DONE READY RDY VALID AUTO MAN TRACK TRK LIVE REAL RT TEN COMP
    PUSH PULL TIME DATE TEMP BAT BATT CH NO ID SN REF STD CAL MEM LOG MODE RANGE VIS UV IR NIR UVA
    UVB GLOSS FORCE TRANS DATA VAL VALUE RES RESULT NORMAL NORM ON OFF
"""
_PLAIN = frozenset(_WORDS.split())
"""Words on a press, names of what is measured: common practice, no source. None is a unit."""
_PLAIN_LETTERS = frozenset("ABDEHLMPRSUVX")
_DENSITIES = frozenset("ADE")
"""Absorbance, density, extinction: a letter behind a transmittance may mean one."""

WORD = re.compile(rf"(?:(?!{MINUS})[A-Za-z%\xa1-\U0010ffff])+")
_PARTS = r"""(?:\xc2(?=\xa0)|[ ,;|:\t_=\[\](){}<>"'/#*.\xa0\x01-\x1f-])*"""
_OF_ANOTHER = re.compile(
    r"(?: ?(?:[.*-]|\xc2?\xb7) ?| )(?:mm|cm|dm|m|in|ft|s)[0-9\xb2\xb3]?(?![a-z])"
)
"""A length or a time with which a unit is multiplied: N m."""
_OVER = re.compile(r" ?/ ?(?:[0-9]+ ?)?([A-Za-z]+)[0-9\xb2\xb3]?")
_OF_WHAT = re.compile(r" ?(?:RH|FS)(?![A-Za-z0-9])")

_NAMES = re.compile(rf" *[:=] *[+-]?[0-9{CHANGES}]")
"""The word before it is the name of another number."""
_LABELS = re.compile(rf"[ :=]+[+-]?[0-9{CHANGES}]")


class Sort(StrEnum):
    """What a word beside a number is."""

    UNIT = "unit"
    STRANGE = "strange"
    """A unit that no profile gives."""
    PLAIN = "plain"
    """Plainly no unit."""
    UNKNOWN = "unknown"


class Word(NamedTuple):
    """A word beside a number, as it is shown to a person."""

    text: str
    sort: Sort


def sort_of(word: str, kind: Quantity) -> Sort:
    """What this word is beside a number of this kind of meter."""
    if kinds_of(word):
        return Sort.UNIT
    ascii_ = word.replace("\xc2\xb5", "u").replace("\xce\xbc", "u").replace("\xb5", "u")
    ascii_ = ascii_.replace("\u03bc", "u").replace("\xc2\xb0", "deg").replace("\xb0", "deg")
    if ascii_ in _STRANGE or ascii_.lower() in _STRANGE_IN_ANY_CASE or _is_share(word):
        return Sort.STRANGE
    if word.upper() in _PLAIN:
        return Sort.PLAIN
    letters = _PLAIN_LETTERS - (_DENSITIES if kind is Quantity.TRANSMITTANCE else frozenset())
    return Sort.PLAIN if word in letters else Sort.UNKNOWN


def is_letter_unit(word: str, kind: Quantity) -> bool:
    """Whether it is a single letter that may be a unit which no profile of this kind gives."""
    is_density = kind is Quantity.TRANSMITTANCE and word in _DENSITIES
    return len(word) == 1 and (word in _STRANGE or is_density)


def _is_share(word: str) -> bool:
    """Whether it is percent of something else than light let through."""
    rest = word[2 if word.startswith("%T") else 1 :]
    return word[0] == "%" and len(word) > 1 and rest.upper() not in _PLAIN


def word_behind(text: str, kind: Quantity) -> Word | None:
    """The first word of what stands behind a number; None where another number comes before it."""
    parts = re.match(_PARTS, text)
    assert parts is not None
    found = WORD.match(text, parts.end())
    if found is None:
        return None
    word, rest = found[0], text[found.end() :]
    sort = sort_of(word, kind)
    is_glued = not parts[0]
    if rest[:1].isdecimal() or rest[:1] == CHANGES:
        # Letters and a number are most often a name, and those up to F may be hexadecimal.
        is_open = sort is Sort.UNKNOWN and rest[0] == CHANGES and re.search("[G-Zg-z]", word)
        is_word = len(word) > 1 and (sort is Sort.STRANGE or is_open)
        is_letter = rest[0] == CHANGES and is_letter_unit(word, kind)
        return (
            Word(shown(word), Sort.UNKNOWN if is_letter else sort) if is_word or is_letter else None
        )
    if re.match(_LABELS if sort is Sort.UNKNOWN else _NAMES, rest):
        return None
    if sort is Sort.UNIT and (more := compound(word, rest, has_slash="/" in parts[0])):
        return Word(shown(word + more), Sort.STRANGE)
    if sort is Sort.PLAIN:
        # A unit may stand behind a word on the press.
        further = word_behind(rest, kind)
        return further if further is not None and further.sort is Sort.STRANGE else Word(word, sort)
    if is_glued and is_letter_unit(word, kind) and not compound(word, rest):
        # A mark or a status as likely as a unit.
        return Word(word, Sort.UNKNOWN)
    return Word(shown(word), sort)


def word_before(text: str, kind: Quantity) -> Word | None:
    """The last word of what stands before a number; None where it is that of a number before it."""
    found = re.search(rf"({WORD.pattern}){_PARTS}$", text)
    if found is None:
        return None
    front = text[: found.start()].rstrip(" _")
    if front[-1:].isdecimal() or front[-1:] == CHANGES:
        return None
    return Word(shown(found[1]), sort_of(found[1], kind))


def compound(unit: str, rest: str, *, has_slash: bool = False) -> str:
    """What makes another unit of a unit, such as the metre of N/m; empty where nothing does.

    `has_slash`: it parts fields, so that nothing is divided by what stands behind it.
    """
    if unit == "%":
        found = _OF_WHAT.match(rest)
        return "" if found is None else found[0]
    if (found := _OF_ANOTHER.match(rest)) is not None:
        return found[0]
    found = None if has_slash else _OVER.match(rest)
    return "" if found is None or found[1].upper() in _PLAIN else found[0]


def shown(word: str) -> str:
    """A word as a person reads it, also where it came in UTF-8."""
    try:
        return word.encode("latin-1").decode("utf-8")
    except UnicodeError:
        return word


def with_unit_apart(behind: Sequence[Column]) -> list[Column]:
    """The columns behind a number, with a unit apart from digits or a word that touch it."""
    columns = list(behind)
    place = next((at for at, c in enumerate(columns) if c.kind in ("alnum", "decimal")), None)
    if place is None or columns[place].kind != "alnum":
        return columns
    pairs = [_unit_and_rest(text, is_glued=place == 0) for text in columns[place].texts]
    units = {unit for unit, _ in pairs}
    if len(units) > 1 or "" in units:
        return columns
    apart = [Column("alnum", texts) for texts in zip(*pairs, strict=True)]
    return [*columns[:place], *apart, *columns[place + 1 :]]


def _unit_and_rest(text: str, *, is_glued: bool) -> tuple[str, str]:
    """A text of letters and digits parted behind its unit; ("", "") where that cannot be said."""
    if found := re.fullmatch("([A-Za-z]+)([0-9]+)", text):
        word = found[1]
        is_unit = bool(kinds_of(word)) and (len(word) > 1 or is_glued)
        is_word = len(word) > 1 and word.upper() not in _PLAIN and re.search("[G-Zg-z]", word)
        return (word, found[2]) if is_unit or is_word else ("", "")
    for at in range(len(text) - 1, 1, -1):
        if kinds_of(text[:at]) and text[at:].upper() in _PLAIN:
            return text[:at], text[at:]
    return "", ""


def strange_of(column: Column, kind: Quantity) -> str:
    """The first text of a column that is a unit of no profile; empty where none is."""
    if is_constant(column.texts):
        return ""
    words = [text.strip(" ").rstrip("0123456789") for text in column.texts]
    return next((word for word in words if word and sort_of(word, kind) is Sort.STRANGE), "")
