"""Checksums at the end of lines: which algorithm over which characters gives what stands there.

Every form that a profile can name is tried, and sums that none can. Pure; any thread.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import cache, partial
from itertools import product
from string import hexdigits

from acquire.learn.checksums.proven import MOST_CHANCE, NONE_PROVEN, Proven, settled
from acquire.learn.checksums.sums import DECIMAL, SUMS, WEIGHTED
from acquire.learn.checksums.textproof import Tail, TextProof, hexadecimal
from acquire.learn.presses.framing import encoded
from acquire.wire import CHECKSUMS, Sent

_FORMS = ("hex-upper", "hex-lower")
_DIGITS = frozenset(hexdigits)


def text(lines: Sequence[str]) -> Proven:
    """The checksum in hexadecimal digits at the end of lines, without their terminator."""
    distinct = list(dict.fromkeys(lines))
    tried = 0
    fits: list[TextProof] = []
    if not distinct:
        return NONE_PROVEN
    firsts = _firsts(distinct)
    for algorithm in CHECKSUMS.values():
        digits = algorithm.width_bits // 4
        are_digits = _are_digits(distinct, digits)
        for after, with_after in _afters(distinct, digits):
            ways = list(product(_FORMS, firsts, Sent))
            tried += len(ways)
            for form, first, sent in ways if are_digits else ():
                proof = TextProof(algorithm.name, form, after, first, with_after, sent)
                if all(map(proof.holds, distinct)):
                    fits.append(proof)
    return settled(_of_either(fits), tried, distinct, lambda p: p.width_bits, lambda a, b: a == b)


def _afters(lines: Sequence[str], digits: int) -> Iterator[tuple[str, bool]]:
    """What may stand before so many digits in every line, and whether a sum may cover it, too."""
    is_marked = False
    for size in range(1, 5):
        afters = {line[-digits - size : -digits] for line in lines}
        after = min(afters)
        if len(afters) > 1 or len(after) < size or not _is_after(after):
            continue
        yield after, False
        if size == 1:
            # A longer one would be covered no further.
            is_marked = True
            yield after, True
    if not is_marked:
        yield "", False


def _of_either(fits: Sequence[TextProof]) -> list[TextProof]:
    """The same, in letters of either kind where no press had one."""
    upper = [fit for fit in fits if fit.form == "hex-upper"]
    lower = [fit._replace(form="hex-upper") for fit in fits if fit.form == "hex-lower"]
    return [fit._replace(form="hex") if fit in lower else fit for fit in upper] + [
        fit._replace(form="hex-lower") for fit in lower if fit not in upper
    ]


def _firsts(lines: Sequence[str]) -> list[int]:
    """Where what a sum covers may begin: with the line, or behind signs that begin every line."""
    marks = [
        place
        for place in range(1, _MOST_MARKS + 1)
        if len({line[:place] for line in lines}) == 1
        and not any(sign.isalnum() or sign in "+-. " for sign in lines[0][:place])
        and len(lines[0]) > place
    ]
    return [0, *marks]


_MOST_MARKS = 2
_LEAST_LINES = 2


def tail(lines: Sequence[str]) -> tuple[Tail | None, bool]:
    """A sum at the end of lines that fits all of them and that no profile can name.

    And whether it could hardly come of chance; without that more lines would tell.
    """
    distinct = list(dict.fromkeys(lines))
    tried = 0
    fits: list[tuple[int, Tail]] = []
    if len(distinct) < _LEAST_LINES:
        return None, False
    sizes = {size for size, *_ in _tails()}
    spans = {size: list(_spans(distinct, size)) for size in sizes}
    are_digits = {size: _are_digits(distinct, size) for size in sizes}
    for size, values, digits_of, what in _tails():
        tried += len(spans[size])
        for after, covered in spans[size] if are_digits[size] else ():
            if all(line[-size:] == digits_of(encoded(line[covered])) for line in distinct):
                fits.append((values, Tail(after, size, what)))
    if not fits:
        return None, False
    most, best = max(fits, key=lambda fit: (fit[0], -len(fit[1].after)))
    return best, tried * float(most) ** -len(distinct) <= MOST_CHANCE


def _spans(lines: Sequence[str], size: int) -> Iterator[tuple[str, slice]]:
    """What may stand before a sum of so many digits in every line, and what such a sum covers."""
    firsts = _firsts(lines) if size > 1 else (0,)
    for gap in range(5):
        afters = {line[-size - gap : -size] for line in lines}
        after = min(afters, default="")
        if len(afters) > 1 or len(after) < gap:
            continue
        for covered, first in product({size, size + gap}, firsts):
            yield after, slice(first, -covered)


def _are_digits(lines: Sequence[str], size: int) -> bool:
    """Whether every line ends in so many digits, which most lines do not."""
    return all(_DIGITS.issuperset(line[-size:]) for line in lines)


@cache
def _tails() -> tuple[tuple[int, int, Callable[[bytes], str], str], ...]:
    """Digits of every such sum, how many values it has, how it is made, and its pattern."""
    tails: list[tuple[int, int, Callable[[bytes], str], str]] = []
    for kind, sum_of in SUMS.items():
        for size, values in DECIMAL:
            if kind in WEIGHTED and size > 1:
                continue
            for negated in (False, True):
                make = partial(_decimal, sum_of=sum_of, size=size, values=values, negated=negated)
                tails.append((size, values, make, rf"\d{{{size}}}"))
    for algorithm in CHECKSUMS.values():
        for sent in Sent:
            for letter in "Xx":
                size = algorithm.width_bits // 4
                made = partial(hexadecimal, kind=algorithm.name, sent=sent, letter=letter)
                letters = "A-F" if letter == "X" else "a-f"
                tails.append((size, 1 << algorithm.width_bits, made, f"[0-9{letters}]{{{size}}}"))
    return tuple(tails)


def _decimal(
    data: bytes, sum_of: Callable[[bytes], int], size: int, values: int, *, negated: bool
) -> str:
    told = sum_of(data)
    return f"{(-told if negated else told) % values:0{size}d}"


def _is_after(text: str) -> bool:
    return text.isascii() and not text[-1].isalnum()
