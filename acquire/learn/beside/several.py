"""Presses of several geometries, bands or units, by what stands in them: none is said of all. Pure.

A place that says the geometry, and said another one at the next press, is no number that may be
any. Where no pattern reads it by its tokens nothing is learned, whatever a person said of all.
"""

from __future__ import annotations

import re
from collections.abc import Sequence

from acquire.learn.beside.angles import ANGLES
from acquire.learn.beside.bands import LENGTHS
from acquire.learn.beside.bandtokens import NAMES, band_tokens
from acquire.learn.beside.glued import taken_apart
from acquire.learn.pieces.clock import clocks
from acquire.learn.pieces.column import Column, columns_of, is_constant
from acquire.learn.pieces.counting import counting
from acquire.learn.pieces.doubts import Doubt
from acquire.learn.pieces.gauges import is_measured
from acquire.learn.pieces.pieces import Style
from acquire.learn.pieces.units import unit_of
from acquire.model import Quantity

_ANGLED = re.compile(
    f"(?:[0-9A-Za-z]*[A-Za-z])?0?({'|'.join(ANGLES)})"
    "(?:[.,]0+|[A-Za-z][0-9A-Za-z]*|(?:[0-9A-Fa-f]{2}){1,2})?"
)
"""A geometry, alone, with letters or the digits of a sum that touch it, or filled up with zeros."""
_LABELLED = re.compile("[0-9A-Za-z]*[A-Za-z]([1-9][0-9]{2,3})(?:[A-Za-z][0-9A-Za-z]*)?")
"""A wavelength with letters that touch it."""
_WORDS = re.compile(f"(?<![0-9A-Za-z])(?i:{NAMES})(?![0-9A-Za-z])")
_LABEL = re.compile("(?i:BAND|CH|CHANNEL|FILTER|LAMBDA|LAMP|LED|MODE|WAVELENGTH|WL) *[:= ] *")
"""What stands before a band in a line of its own (common practice, no source)."""
_RANGES = re.compile(r"(?<![0-9A-Za-z.,-])[0-9]{3,4}-[0-9]{3,4}(?![0-9A-Za-z.,-])")
"""Two limits, of which nothing says that they are nanometres."""
_TEXT = frozenset((0x00, *range(0x20, 0x7F), 0xFF, *b"\t\r\n"))
_UNIT = re.compile("(?<![A-Za-z])[A-Za-z]+(?![0-9A-Za-z])")
_WHY = "the presses were of several {}, by {}, and a profile would say one of all"
_ANEW = "set the meter to one {}, press three times or more, and learn from these presses"
_OR_ANOTHER = (
    "; or, if these are no geometries, press once more when another number stands there, and learn "
    "from all presses together"
)


def several(why: str, what: str) -> Doubt:
    """The doubt of presses that were not of one setting, `what`: only others settle it."""
    return Doubt(why, next_step=_ANEW.format(what), wanted=f"presses of one {what}", is_anew=True)


def _of_angles(texts: Sequence[str]) -> Doubt:
    """The same of texts that are geometries, unless another number stands there once."""
    doubt = several(_WHY.format("geometries", _named(texts)), "geometry")
    return doubt._replace(
        next_step=doubt.next_step + _OR_ANOTHER,
        wanted=f"{doubt.wanted}, or, if these are none, one with another number there",
        is_anew=False,
    )


def several_angles(columns: Sequence[Column]) -> Doubt | None:
    """The doubt of a place whose texts are geometries, of which presses had several; else None.

    Behind the label of a charge or a temperature, or before its unit, it is that.
    """
    times = clocks([c.texts if c.kind != "value" else ("",) for c in columns])
    for place, column in enumerate(columns):
        is_number = column.kind in ("alnum", "decimal") and not column.what
        if not is_number or place in times or is_constant(column.texts):
            continue
        # What parts it from the field before looks like a sign.
        texts = [text.strip(" +-") for text in column.texts]
        found = [one[1] for one in map(_ANGLED.fullmatch, texts) if one is not None]
        are_angles = len(found) == len(texts) and len(set(found)) > 1
        if are_angles and not is_measured(columns, place):
            return _of_angles(texts)
    return None


def several_labels(columns: Sequence[Column], channel: str | None) -> Doubt | None:
    """The doubt of labels with a limit of the band that was said at some presses only: CH365.

    Those of others are as long as wavelengths are, and no count.
    """
    limits = re.findall("[0-9]+", channel or "")
    for place, column in enumerate(columns):
        if column.what or column.kind != "alnum" or is_constant(column.texts):
            continue
        texts = [text.strip(" ") for text in column.texts]
        found = [one[1] for one in map(_LABELLED.fullmatch, texts) if one is not None]
        are_some = len(found) == len(texts) and bool({*found} & {*limits})
        if are_some and counting(texts) is None and not is_measured(columns, place):
            return several_bands(texts)
    return None


def several_in_lines(bursts: Sequence[Sequence[str]], own: str, kind: Quantity) -> Doubt | None:
    """The doubt of presses that name several geometries, bands or units in any of their lines.

    `own` is the pattern of a line with the value: of its geometries `several_angles` tells, and of
    its units `acquire.learn.beside.parts`.
    """
    if kind is Quantity.TRANSMITTANCE:
        beside = _alone_beside(bursts, own)
        return beside or _several_bands([_without_band(lines, own) for lines in bursts])
    if kind is Quantity.FORCE:
        own_line = re.compile(own)
        rest = ["\n".join(one for one in row if not own_line.fullmatch(one)) for row in bursts]
        return None if "unit" in own_line.groupindex else _several_units(rest)
    for texts in zip(*bursts, strict=False):
        if all(re.fullmatch(own, text) for text in texts):
            continue
        columns = columns_of(texts, Style(".", is_padded=True))
        doubt = several_angles(taken_apart(columns, ".")) if columns is not None else None
        if doubt is not None:
            return doubt
    return None


def several_in_frames(
    data: Sequence[bytes], number: frozenset[int], kind: Quantity
) -> Doubt | None:
    """The same of frames of one length, of text beside the places of the `number`."""
    if kind is Quantity.TRANSMITTANCE:
        return _several_bands(_texts_of(data, number))
    if kind is Quantity.FORCE:
        # A letter may be any byte.
        return _several_units(_texts_of(data, number), least=2)
    texts = [one.decode("latin-1") for one in data]
    for at in range(len(texts[0]) - 1):
        found = [text[at : at + 2] for text in texts]
        if is_constant(found) or not set(found) <= set(ANGLES) or number & {at, at + 1}:
            continue
        # A zero before fills it up.
        beside = "".join(
            text[max(0, at - 1) : at].strip("0") + text[at + 2 : at + 3] for text in texts
        )
        if not any(sign in "0123456789" for sign in beside):
            return _of_angles(found)
    return None


def _texts_of(data: Sequence[bytes], number: frozenset[int]) -> list[str]:
    """Each frame as text, with a sign that no word has where bytes are the number's or no text.

    A byte is text where it is at every press: a number of two bytes is two letters now and then.
    Zeros and FF may fill a shorter word up.
    """
    are_text = [all(byte in _TEXT for byte in seen) for seen in zip(*data, strict=True)]
    kept = [is_text and at not in number for at, is_text in enumerate(are_text)]
    return [
        "".join(chr(byte) if is_kept else "\0" for byte, is_kept in zip(one, kept, strict=True))
        for one in data
    ]


def _alone_beside(bursts: Sequence[Sequence[str]], own: str) -> Doubt | None:
    """The doubt of a line beside that of the number that is nothing but a band, and changes."""
    for texts in zip(*bursts, strict=False):
        bare = [_LABEL.sub("", text) for text in texts]
        if not all(re.fullmatch(own, text) for text in texts) and (found := band_tokens(bare)):
            return several_bands(found) if counting(bare) is None else None
    return None


def _without_band(lines: Sequence[str], own: str) -> str:
    """The lines of a press without what says the band of the number by its tokens."""
    line_of, told = re.compile(own), []
    for line in lines:
        found = line_of.fullmatch(line) if "band" in line_of.groupindex else None
        at = found.span("band") if found is not None else (0, 0)
        told.append(line[: at[0]] + line[at[1] :])
    return "\n".join(told)


def several_bands(found: Sequence[str]) -> Doubt | None:
    """The doubt of presses of these bands; None where there are none."""
    return several(_WHY.format("bands", _named(found)), "band") if found else None


def _several_bands(texts: Sequence[str]) -> Doubt | None:
    """The doubt of presses of which not all name the same bands."""
    found = [
        tuple(one[0] for what in (LENGTHS, _WORDS, _RANGES) for one in what.finditer(text))
        for text in texts
    ]
    if len(set(map(frozenset, found))) == 1:
        return None
    return several_bands([one for row in found for one in row])


def _several_units(texts: Sequence[str], least: int = 1) -> Doubt | None:
    """The doubt of presses of which each names units of a force, and not all the same ones.

    `least`: of so many letters at least.
    """
    found = [
        [
            word
            for word in _UNIT.findall(text)
            if len(word) >= least and unit_of(word, Quantity.FORCE)
        ]
        for text in texts
    ]
    named = {frozenset(unit_of(word, Quantity.FORCE) for word in row) for row in found}
    if len(named) == 1 or frozenset() in named:
        return None
    return several(_WHY.format("units", _named([one for row in found for one in row])), "unit")


def _named(texts: Sequence[str]) -> str:
    """The different ones of these texts, in a row."""
    words = [repr(text) for text in dict.fromkeys(texts)]
    return " and ".join(filter(None, (", ".join(words[:-1]), words[-1])))
