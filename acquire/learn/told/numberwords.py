"""What is told of how numbers of a line are written, and no press has shown. Pure."""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal

from acquire.learn.checksums.textproof import TextProof
from acquire.learn.lines.line import Line
from acquire.learn.numbers.limits import Limits
from acquire.learn.pieces.signs import PLUS_FIRST

_WHOLE = re.compile(r"(?<![0-9.])[0-9]+[.]$")


def range_words(line: Line, limits: Limits, shown: Sequence[Decimal]) -> list[str]:
    """Which numbers of a line are read; of several units no limit is known that holds for all."""
    if len(line.units) > 1:
        return []
    is_open = limits.least < 0 <= min(shown)
    sign = f", one below zero if its sign stands {sign_place(line)}" if is_open else ""
    many = f"{limits.decimals} decimal{'' if limits.decimals == 1 else 's'}"
    fine = f" with at most {many}" if has_hidden_decimals(line, limits) else ""
    far = f"from {limits.least:f} to {limits.most:f}"
    return [f"numbers {far}{fine} are read{sign}{_below_one(line, shown)}; others are noise"]


def sign_place(line: Line) -> str:
    return "in the place of '+'" if line.sign == PLUS_FIRST else "right before its digits"


def widths_unseen(line: Line) -> list[str]:
    """Lines and numbers of other widths than those to which presses were filled up."""
    length, width = line.widths
    words = []
    if length is not None:
        proof = line.proven.proof
        # As who looks at a line counts it.
        is_proven = isinstance(proof, TextProof)
        whole = length + (len(proof.after) + proof.size if isinstance(proof, TextProof) else 0)
        beside = "with its checksum and " if is_proven else ""
        words.append(f"a line of other than {whole} characters ({beside}without its end)")
    if width is not None:
        words.append(
            f"a number that fills other than {width} characters, with what stands before it to "
            "fill it up"
        )
    if not words:
        return []
    return [
        f"{' or '.join(words)}: such lines are noise, for one that lost a character looks so; show "
        "one if there are any"
    ]


def has_hidden_decimals(line: Line, limits: Limits) -> bool:
    """Whether more decimals were sent than anybody typed, all of them zero."""
    return line.rounded is None and not line.power and _sent(line) > limits.decimals


def _sent(line: Line) -> int:
    """How many decimals stand in the bytes."""
    return max((len(text.strip(" ").partition(line.point)[2]) for text in line.values), default=0)


def _below_one(line: Line, shown: Sequence[Decimal]) -> str:
    """How a number below one is to be written, where no press has shown it; else empty.

    One without a digit before its point looks like a larger one that has lost it.
    """
    texts = [text.strip(" +-") for text in line.values]
    is_known = min(map(abs, shown)) < 1 or any(text[:1] in ("0", line.point) for text in texts)
    if is_known or line.implied_decimals or line.power or not _sent(line):
        return ""
    return f", one below 1 if a 0 stands before its {'comma' if line.point == ',' else 'point'}"


def decimals_unseen(line: Line, limits: Limits) -> list[str]:
    """Digits that were sent, always zero, behind the last one that somebody typed."""
    if not has_hidden_decimals(line, limits):
        return []
    typed, sent = limits.decimals, _sent(line)
    return [
        f"a number of more than {typed} decimal{'' if typed == 1 else 's'}: {sent} are sent, and "
        "what stands behind those typed was zero at every press; where it is not, presses are "
        "noise. If the display shows so many, type them all, as in 2.50, and learn again"
    ]


def free_words(line: Line) -> list[str]:
    """What changed beside the number, and may be any: at the end it may be a checksum.

    Decimals there are told with what stands before their point, and are none.
    """
    is_open = line.proven.proof is None and line.proven.likely is None
    words = []
    for texts in line.free:
        first = texts[0].strip(" ")
        other = next(text.strip(" ") for text in texts if text != texts[0])
        is_last = is_open and line.example.endswith(first)
        whole = _WHOLE.search(line.example.removesuffix(first)) if is_last else None
        if whole is not None and first.isdecimal():
            first, other, is_last = whole[0] + first, whole[0] + other, False
        words.append(
            f"{first!r} and {other!r} stood beside the number, and any such one is taken there: "
            + ("it may be a checksum, which nothing checks" if is_last else "nothing checks it")
        )
    return words
