"""What stands at one place of every line, and the pattern for what may stand there. Pure.

Constant text stays constant: another word there may say that the value means something else. Words
that change may be only those that were seen, and so may numbers of which there were few: they may
say how the press went. Other numbers that change may be any.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from acquire.learn.numbers.leadzeros import leading_zeros
from acquire.learn.pieces.pieces import LEADER, LETTERED, Style, Token, kinds, lettered, tokens

MOST_WORDS = 4


@dataclass(frozen=True, slots=True)
class Column:
    """What stands at one place of a line, press by press; `what` is its pattern if known."""

    kind: str
    texts: tuple[str, ...]
    what: str = ""


def columns_of(texts: Sequence[str], style: Style) -> list[Column] | None:
    """The columns of texts that are built alike; None if they are not."""
    rows: list[list[Token]] = [tokens(text, style) for text in texts]
    if len({kinds(row, style) for row in rows}) > 1:
        return None
    made: list[Column] = []
    for column in zip(*rows, strict=True):
        found = {token.kind for token in column}
        texts = tuple(token.text for token in column)
        if LETTERED not in found:
            made.append(Column("decimal" if "decimal" in found else column[0].kind, texts))
        elif (apart_ := lettered(texts)) is None:
            return None
        else:
            before, numbers, behind = map(tuple, apart_)
            # Letters are held as they are, and are the unit of nothing else.
            made += [Column("alnum", before, literal(before[0]))] if before[0] else []
            made.append(Column("decimal", numbers))
            made += [Column("alnum", behind, literal(behind[0]))] if behind[0] else []
    return made


def is_constant(column: Sequence[str]) -> bool:
    return len(set(column)) == 1


def is_count(column: Sequence[str], presses: int = 3) -> bool:
    """Whether it goes up by one from press to press, over so many presses at least."""
    texts = [text.strip(" ") for text in column]
    if len(texts) < presses or not all(
        t.isascii() and t.isdecimal() and len(t) <= 9 for t in texts
    ):
        return False
    return all(int(b) - int(a) == 1 for a, b in pairwise(texts))


def decimals_in(column: Sequence[str]) -> frozenset[int]:
    """So many decimals its numbers have, whichever sign stands before them."""
    return frozenset(
        len(re.split("[.,]", text.strip(" "))[-1]) if re.search("[.,]", text) else 0
        for text in column
    )


def literal(text: str) -> str:
    """The pattern for exactly this text."""
    return "".join(_character(sign) for sign in text)


def number_pattern(
    column: Sequence[str], point: str, *, is_narrow: bool = False, may_be_filled: bool = False,
    are_values: bool = False,
) -> str:  # fmt: skip
    """The pattern for numbers like these: as many decimals as were seen, any digits before.

    `is_narrow`: no more digits before than were seen. `may_be_filled`: spaces may stand before.
    `are_values`: where some have no decimals the others have as many as were seen.
    """
    if any(text.endswith(" ") for text in column):
        bare = [text.rstrip(" ") for text in column]
        return number_pattern(bare, point, is_narrow=is_narrow) + " *"
    decimals = {len(text.partition(point)[2]) if point in text else 0 for text in column}
    is_filled = may_be_filled or any(text.startswith(" ") for text in column)
    pad = " *" if is_filled else ""
    signed = "[+-]?"
    dot = re.escape(point)
    longest = max(len(text.strip(" +-").partition(point)[0]) for text in column)
    if len(decimals) == 1 and not is_narrow:
        (few,) = decimals
        tail = "" if not few else (rf"{dot}\d" if few == 1 else rf"{dot}\d{{{few}}}")
        least = 0 if any(text.strip(" +-").startswith(point) for text in column) else 1
        before = rf"\d{{{least},{max(8, longest)}}}"
        return f"{pad}{signed}{before}{tail}"
    most = longest if is_narrow else max(8, longest)
    fine = max(decimals) if is_narrow else 8
    # Of several units no limit ends their numbers.
    zeros = leading_zeros(column, point) if is_narrow else 0
    if zeros:
        tail = rf"(?:{dot}\d{{1,{fine}}})?" if fine else ""
        return rf"{pad}{signed}0{{{zeros}}}\d{{1,{most - zeros}}}{tail}"
    if are_values and len(decimals) == 2 and 0 in decimals:
        return rf"{pad}{signed}\d{{1,{most}}}(?:{dot}\d{{{max(decimals)}}})?"
    tail = rf"(?:{dot}\d{{1,{fine}}})?" if fine else ""
    return rf"{pad}{signed}\d{{1,{most}}}{tail}"


def whole_pattern(column: Sequence[str], sign: str = "") -> str:
    """The pattern for whole numbers, such as a count; `sign` is that for what may stand before."""
    widths = {len(text) for text in column}
    pad = " *" if any(text.startswith(" ") for text in column) else ""
    texts = [text.strip(" ") for text in column]
    if _may_widen(column):
        return rf"{sign}\d{{{len(column[0])},{len(column[0]) + _WIDER}}}"
    is_filled = len(texts[0]) > 1 and texts[0][0] == "0"
    if len(widths) == 1 and not pad and (is_filled or len(texts[0]) > 4):
        return rf"\d{{{len(texts[0])}}}"
    return rf"{pad}{sign}\d{{1,{max(_MOST_DIGITS, *map(len, texts))}}}"


_MOST_DIGITS = 9
"""Of a number beside the value, unless longer ones were seen."""


def _may_widen(column: Sequence[str]) -> bool:
    """Whether long numbers of one width rise and nothing fills them up: time since power-on."""
    are_long = len(column[0]) > _LONG and {len(text) for text in column} == {len(column[0])}
    if not are_long or not "".join(column).isdecimal() or column[0][0] == "0":
        return False
    # Seconds and milliseconds since 1970 have this width for ages.
    is_epoch = len(column[0]) in (10, 13) and column[0][0] == "1"
    return not is_epoch and all(int(a) < int(b) for a, b in pairwise(column))


_LONG = 4
_WIDER = 6
"""Digits by which such a number may grow."""


def pattern(column: Sequence[str], kind: str, point: str) -> str | None:
    """What may stand here; None if that cannot be said."""
    if kind == LEADER:
        return r"\.+"
    if is_constant(column):
        return literal(column[0])
    if kind == "decimal":
        return beside_pattern(column, point)
    if kind == "space":
        return " +"
    if kind != "alnum":
        return None
    if (few := _few(column)) is not None:
        return few
    if all(text.strip(" ").isdecimal() for text in column):
        if {len(text) for text in column} == {2} and "".join(column).isdecimal():
            # A number, or a byte in hexadecimal digits: a letter, or a digit more, was not seen.
            # A last one that never changed may be a word on the press glued to another one.
            lasts = {text[1] for text in column}
            return rf"\d{lasts.pop()}" if len(lasts) == 1 else r"\d{2}"
        return _filled(column) or whole_pattern(column, sign="-?")
    if all(text.strip(" +-").isdecimal() for text in column):
        return number_pattern(column, point)
    return _word(column) if all(text.isalnum() for text in column) else None


_HEXADECIMAL = 6
"""Presses after which digits in each of which no letter was seen are no hexadecimal ones."""
_FAST = 5
"""A number that moves slowly never goes farther from press to press."""


def is_open(column: Sequence[str]) -> bool:
    """Whether another press would tell what may stand here.

    Few words, of which some came once; two digits, which may be hexadecimal.
    """
    if is_constant(column):
        return False
    if _few(column) is not None:
        # What only one press had, another one may have in its place.
        return bool(alone(column))
    if len(set(column)) < len(column) or not 3 <= len(column) < _HEXADECIMAL:
        return False
    if {len(text) for text in column} != {2} or not "".join(column).isalnum():
        return False
    if "".join(column).isdecimal():
        numbers = [int(text) for text in column]
        return any(abs(b - a) > _FAST for a, b in pairwise(numbers))
    return "".join(column).isalpha()


def alone(column: Sequence[str]) -> set[int]:
    """The presses whose word was that of no other, where only what was seen may stand."""
    if is_constant(column) or _few(column) is None:
        return set()
    return {place for place, text in enumerate(column) if column.count(text) == 1}


def beside_pattern(column: Sequence[str], point: str) -> str:
    """The pattern for decimals beside the value.

    A zero in front that never changed, or a last digit, may be a word on the press glued to it.
    """
    whole = number_pattern(column, point)
    before, _, decimals = column[0].partition(point)
    widths = {len(text.partition(point)[2]) for text in column}
    ends = {text[-1] for text in column}
    is_filled = {len(text) for text in column} == {len(column[0])} and {t[0] for t in column} == {
        "0"
    }
    if is_filled and len(before) > 1 and {text.find(point) for text in column} == {len(before)}:
        whole = rf"0\d{{{len(before) - 1}}}{re.escape(point)}\d{{{len(decimals)}}}"
    if len(ends) == 1 and len(widths) == 1:
        few = len(decimals)
        tail = r"\d" if whole.endswith(r"\d") else rf"\d{{{few}}}"
        free = rf"\d{{{few - 1}}}" if few > 1 else ""
        whole = whole.removesuffix(tail) + free + ends.pop()
    return whole


def _filled(column: Sequence[str]) -> str | None:
    """Whole numbers of one width that a 0 fills up: one that never changed is held."""
    is_filled = {len(text) for text in column} == {len(column[0])} and column[0][0] == "0"
    if not is_filled or not "".join(column).isdecimal() or {text[0] for text in column} != {"0"}:
        return None
    return _moving(column, r"\d", before="0")


def _moving(column: Sequence[str], sign: str, before: str = "") -> str:
    """Words of one width: signs at the ends that never changed are held, others are any `sign`.

    One that stands before or behind what changes may be a word on the press glued to it. `before`
    is the only one that is held in front; any where it is empty.
    """
    size = len(column[0])
    fixed = [len({text[place] for text in column}) == 1 for place in range(size)]
    head = next(place for place, one in enumerate(fixed) if not one)
    tail = next(place for place, one in enumerate(reversed(fixed)) if not one)
    if before:
        filled = len(column[0]) - len(column[0].lstrip(before))
        head, tail = min(head, filled), 0
    free = size - head - tail
    return f"{literal(column[0][:head])}{sign}{{{free}}}{literal(column[0][size - tail :])}"


def _word(column: Sequence[str]) -> str | None:
    widths = {len(text) for text in column}
    is_hex = all(re.fullmatch("[0-9A-F]+", t) for t in column) or all(
        re.fullmatch("[0-9a-f]+", t) for t in column
    )
    if is_hex and len(widths) == 1 and any(c.isdecimal() for c in "".join(column)):
        letters = "A-F" if "".join(column).upper() == "".join(column) else "a-f"
        return _moving(column, f"[0-9{letters}]")
    if is_hex and _are_unfilled(column):
        letters = "A-F" if "".join(column).upper() == "".join(column) else "a-f"
        return f"[0-9{letters}]{{1,{_LONGEST_HEXADECIMAL}}}"
    if is_hex and len(widths) == 1 and len(set(column)) <= MOST_WORDS:
        # Bytes that had letters only, so far.
        return one_of(tuple(dict.fromkeys(column)))
    runs = [re.findall("[0-9]+|[A-Za-z]+", text) for text in column]
    if len({tuple(run.isdecimal() for run in row) for row in runs}) == 1:
        parts = []
        for run in zip(*runs, strict=True):
            if is_constant(run):
                parts.append(literal(run[0]))
            elif (few := _few(run)) is not None:
                parts.append(few)
            elif run[0].isdecimal():
                same = len({len(text) for text in run}) == 1
                longest = max(_MOST_DIGITS, *map(len, run))
                free = rf"\d{{1,{longest}}}"
                parts.append(_moving(run, r"\d", before="0") if same else free)
            else:
                return None
        return "".join(parts)
    return None


_LONGEST_HEXADECIMAL = 8
_WIDE = 3


def _are_unfilled(column: Sequence[str]) -> bool:
    """Whether these are hexadecimal numbers of any width: all others, with digits and letters."""
    both = [text for text in column if re.search("[0-9]", text) and re.search("[A-Fa-f]", text)]
    is_filled = any(len(text) > 1 and text[0] == "0" for text in column)
    differ = len(set(column)) == len(column) and len({len(text) for text in column}) > 1
    longest = max(map(len, column))
    return differ and not is_filled and bool(both) and _WIDE <= longest <= _LONGEST_HEXADECIMAL


def _few(column: Sequence[str]) -> str | None:
    """Only what was seen, where some of it came again; None where nothing did.

    Single digits have to be those that were seen even so: they are more likely to say how the press
    went than to be a number. (Those that count are found before, by
    `acquire.learn.pieces.counting`.)
    """
    words = list(dict.fromkeys(column))
    if len(words) > MOST_WORDS:
        return None
    are_digits = all(len(text) == 1 and text.isdecimal() for text in words)
    if len(words) == len(column) and not are_digits:
        return None
    return one_of(words)


def apart(column: Sequence[str], *, is_field: bool) -> tuple[str, ...]:
    """Few words that are another one at each press; none where one came again.

    A letter alone may be a checksum in a byte, unless it is a field of its own.
    """
    words = tuple(dict.fromkeys(column))
    least = 1 if is_field else 2
    are_words = all(text.isascii() and text.isalpha() and len(text) >= least for text in words)
    return words if are_words and 1 < len(words) == len(column) <= MOST_WORDS else ()


def one_of(words: Sequence[str]) -> str:
    """The pattern for one of these words."""
    return f"(?:{'|'.join(map(literal, words))})"


def _character(sign: str) -> str:
    if sign.isascii() and sign.isalnum():
        return sign
    if sign == "'" or not sign.isprintable():
        return rf"\x{ord(sign):02x}"
    if sign in ' ,;:=/%<>!"@_`~&#' or not sign.isascii():
        return sign
    return "\\" + sign
