"""Sums in decimal digits that stand at the end of some lines. Pure; any thread.

No profile names them: what is found here says no more than what such digits are.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

DECIMAL = ((5, 65536), (4, 10000), (3, 256), (2, 100), (1, 10))
"""Digits of a sum, and what it begins again at."""


def of_digits(data: bytes) -> int:
    """The sum of the decimal digits of a text."""
    return sum(byte - 0x30 for byte in data if 0x30 <= byte <= 0x39)


def of_doubled(data: bytes) -> int:
    """The digits with every second one from the right doubled, of two digits their sum.

    ISO/IEC 7812-1 annex B has it as the formula modulus 10 for check digits, negated.
    """
    digits = [byte - 0x30 for byte in reversed(data) if 0x30 <= byte <= 0x39]
    return sum(sum(divmod(2 * one, 10)) if at % 2 == 0 else one for at, one in enumerate(digits))


def of_tripled(data: bytes) -> int:
    """The digits with every second one from the right three times, as in check digits of GS1."""
    digits = [byte - 0x30 for byte in reversed(data) if 0x30 <= byte <= 0x39]
    return sum(3 * one if at % 2 == 0 else one for at, one in enumerate(digits))


SUMS: Mapping[str, Callable[[bytes], int]] = {
    "bytes": sum,
    "digits": of_digits,
    "doubled digits": of_doubled,
    "tripled digits": of_tripled,
}
WEIGHTED = frozenset(("doubled digits", "tripled digits"))
"""Those that are one digit."""
