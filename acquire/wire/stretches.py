"""Checksums of any stretches of one stream, each in a time that does not depend on its length.

Whoever searches a frame in garbage tries one beginning after another, and each try would cost the
whole checksum: bytes made of nothing but start markers would cost their number times the length of
a frame. Here each byte of the stream is stepped over once, and a stretch is the difference of two
registers. For sums and exclusive or that is plain. A CRC is linear over GF(2): with R(s, d) the
register after the bytes d from a register s, R(s, d) = R(s, zeros) ^ R(0, d), zeros being as many
bytes as d; so R(0, b) = R(R(0, a), zeros) ^ R(0, rest) for bytes b that begin with a and end with
rest. Held against the plain functions of `acquire.wire.checksum` in the tests.

Pure; one thread at a time per object.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import accumulate, islice
from operator import add, xor

from acquire.wire.checksum import CHECKSUMS, CRCS, Crc, table_of

KEPT_BYTES = 1024
"""How far back a stretch may begin without its bytes being stepped over again."""

Step = Callable[[int, int], int]
Between = Callable[[int, int, int], int]


class Stretches:
    """The checksum of this name over stretches of one stream, asked for from front to back."""

    def __init__(self, name: str) -> None:
        width_bits = CHECKSUMS[name].width_bits
        self._step: Step
        self._between: Between
        if (crc := CRCS.get(name)) is not None:
            self._step = _step(crc)
            self._between = _Shift(crc, self._step).between
        elif name.startswith("xor"):
            self._step = xor
            self._between = lambda before, after, _: before ^ after
        else:
            self._step = add
            mask = (1 << width_bits) - 1
            self._between = lambda before, after, _: (after - before) & mask
        # The registers before the byte `first`, before the one after it, and so on.
        self._registers = [0]
        self._first = 0

    def of(self, data: bytes, origin: int, start: int, end: int) -> int:
        """The checksum of the bytes `start` to `end` of the stream; `data` holds it from `origin`.

        Linear over all calls when `start` never goes back by more than `KEPT_BYTES`.
        """
        registers, base = self._registers, self._first
        reach = base + len(registers) - 1
        if not base <= start <= reach:
            registers = self._registers = [0]
            self._first = base = reach = start
        if end > reach:
            # All there is, not only up to the end: the next stretch ends one byte further on.
            new = data[reach - origin :]
            registers += islice(accumulate(new, self._step, initial=registers[-1]), 1, None)
        before, after = registers[start - base], registers[end - base]
        if (spare := start - base - KEPT_BYTES) > KEPT_BYTES:
            del registers[:spare]
            self._first = base + spare
        return self._between(before, after, end - start)


def _step(crc: Crc) -> Step:
    """The register after one byte more."""
    table = table_of(crc)
    if crc.reflected:
        return lambda register, byte: (register >> 8) ^ table[(register ^ byte) & 0xFF]
    mask, down = (1 << crc.width_bits) - 1, crc.width_bits - 8
    return lambda register, byte: ((register << 8) & mask) ^ table[(register >> down) ^ byte]


class _Shift:
    """What zero bytes do to a register, as the sum of what they do to each of its bytes.

    One set of tables for each length of stretch that was ever asked for.
    """

    def __init__(self, crc: Crc, step: Step) -> None:
        self._crc = crc
        self._step = step
        self._tables: dict[int, list[list[int]]] = {}

    def between(self, before: int, after: int, length: int) -> int:
        tables = self._tables.get(length)
        if tables is None:
            tables = self._tables[length] = self._of_length(length)
        register = after ^ self._crc.final_xor
        rest = before ^ self._crc.start
        for table in tables:
            register ^= table[rest & 0xFF]
            rest >>= 8
        return register

    def _of_length(self, length: int) -> list[list[int]]:
        bits = [1 << bit for bit in range(self._crc.width_bits)]
        for _ in range(length):
            bits = [self._step(register, 0) for register in bits]
        tables = []
        for low in range(0, len(bits), 8):
            table = [0]
            for register in bits[low : low + 8]:
                table += [entry ^ register for entry in table]
            tables.append(table)
        return tables
