"""Chance from a seed, by a rule that anyone can follow with nothing but SHA-256 (FIPS 180-4).

Python's own generator is free to shuffle otherwise in a later version, and a layout has to come
out the same in years. So the k-th number (k = 0, 1, ...) is the first 8 bytes, the most significant
first, of the SHA-256 of the UTF-8 text ``coatbench draw 1/SEED/PURPOSE/k``. A number below n is the
remainder by n of the next number that lies below the largest multiple of n, up to 2^64; numbers
above are passed over, so that none of the n comes oftener than another. A list is shuffled by
exchanging its last entry with one of all, the last but one with one of those up to it, and so on
(R. A. Fisher and F. Yates, Statistical Tables (1938), as in D. E. Knuth, The Art of Computer
Programming 2, 3.4.2, algorithm P; from memory).

Pure; any thread, one at a time.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from typing import TypeVar

_WORD = 2**64

_Entry = TypeVar("_Entry")


class Chance:
    """The numbers of one seed for one purpose, from the first one on."""

    def __init__(self, seed: int | str, purpose: str) -> None:
        self._name = f"coatbench draw 1/{seed}/{purpose}"
        self._next = 0

    def below(self, n: int) -> int:
        """One of 0 to n - 1, each as likely. Raises ValueError below 1 or above 2^64."""
        if not 1 <= n <= _WORD:
            raise ValueError(f"1 to 2^64, got {n}")
        usable = _WORD - _WORD % n
        while True:
            digest = hashlib.sha256(f"{self._name}/{self._next}".encode()).digest()
            self._next += 1
            number = int.from_bytes(digest[:8], "big")
            if number < usable:
                return number % n

    def shuffled(self, entries: Sequence[_Entry]) -> list[_Entry]:
        """The entries in an order of which each is as likely."""
        found = list(entries)
        for last in range(len(found) - 1, 0, -1):
            other = self.below(last + 1)
            found[last], found[other] = found[other], found[last]
        return found
