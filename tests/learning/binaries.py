"""Drawn meters that send binary frames: integers, packed decimals, digits, floating point."""

from __future__ import annotations

import random
import struct
from collections.abc import Callable
from decimal import Decimal

from tests.learning.checks import KINDS, checksum, width
from tests.learning.meter import Display

Maker = Callable[[int, random.Random], bytes]


class Binaries:
    """One layout of frames."""

    learnable = True

    def __init__(self, draw: random.Random, display: Display) -> None:
        self.kind = draw.choice(["int", "int", "int", "bcd", "bcd", "float", "digits"])
        self.order = draw.choice(["big", "little"])
        self.display = display
        self._size(draw)
        self.marker = bytes(
            draw.choice([0x02, 0xAA, 0xA5, 0x55, 0x7E]) for _ in range(draw.choice([0, 1, 1, 2, 2]))
        )
        self.is_slow = False
        self.counters: list[int] = []
        self.front = self._fields(draw)
        self.back = self._fields(draw)
        self.status = draw.random() < 0.4
        # Of two counters one is used, and the other one is held at its highest bit.
        self.counts_to = 1 << 8 * self.counters[0] if len(self.counters) == 1 else 0
        self.ready = draw.choice([0x00, 0x40])
        self.check = draw.choice(KINDS) if draw.random() < 0.5 else ""
        self.check_order = draw.choice(["big", "little"])
        self.skip = draw.choice([0, len(self.marker)])
        self.turned = draw.choice(["plain", "plain", "complement", "negate"])
        self.tail = bytes([draw.choice([0x03, 0x0D])]) if draw.random() < 0.3 else b""
        self.name = f"binary {self.kind}" + (" with checksum" if self.check else "")
        if self.is_slow:
            self.name = "binary with a slow field of two bytes"

    def _size(self, draw: random.Random) -> None:
        """The least field that holds every number of the display, or a wider one."""
        display, scale = self.display, 10**self.display.decimals
        low, high = int(display.least * scale), int(display.most * scale)
        self.signed = low < 0
        if self.kind == "int":
            if not self.signed and draw.random() < 0.4:
                self.signed = True
            fits = [
                n
                for n in (1, 2, 3, 4)
                if (-(1 << 8 * n - 1) <= low and high < 1 << 8 * n - 1)
                or (not self.signed and high < 1 << 8 * n)
            ]
            if not (-(1 << 8 * fits[0] - 1) <= low and high < 1 << 8 * fits[0] - 1):
                self.signed = False
            self.bytes = draw.choice([fits[0], fits[0], fits[0], fits[-1], draw.choice(fits)])
            if self.signed and high >= 1 << 8 * self.bytes - 1:
                self.bytes = fits[-1]
        if self.kind == "bcd":
            self.sign = (
                draw.choice(["nibble", "top"])
                if self.signed
                else draw.choice(["none", "none", "nibble"])
            )
            digits = len(str(max(abs(low), high))) + (1 if self.sign == "nibble" else 0)
            if self.sign == "top" and digits % 2 == 0 and int(str(max(abs(low), high))[0]) > 7:
                digits += 1
            self.bytes = (digits + 1) // 2 + draw.choice([0, 0, 0, 1])
        if self.kind == "float":
            self.bytes = draw.choice([4, 4, 8])
        if self.kind == "digits":
            self.point = draw.random() < 0.5
            self.bytes = (
                len(str(max(abs(low), high)))
                + (1 if self.point else 0)
                + (1 if self.signed else 0)
                + 1
            )
            self.fill = draw.choice("0 ") if not self.signed else "0"

    def _fields(self, draw: random.Random) -> list[Maker]:
        fields: list[Maker] = []
        if draw.random() < 0.4:
            fixed = draw.randbytes(draw.randint(1, 3))
            fields.append(lambda n, r: fixed)
        if draw.random() < 0.3:
            size, order = draw.choice([1, 2]), draw.choice(["big", "little"])
            self.counters.append(size)
            fields.append(lambda n, r: (n % (1 << 8 * size)).to_bytes(size, order))  # type: ignore[arg-type]
        if draw.random() < 0.3:
            fields.append(lambda n, r: r.randbytes(1))
        if draw.random() < 0.03:
            # A temperature in tenths: its high byte hardly ever changes.
            self.is_slow = True
            fields.append(lambda n, r: struct.pack(">h", r.randrange(180, 290)))
        if draw.random() < 0.2:
            fields.append(lambda n, r: b"\0")
        draw.shuffle(fields)
        return fields

    def number(self, shown: Decimal) -> bytes:
        """The displayed number as this meter packs it."""
        steps = int(shown * 10**self.display.decimals)
        if self.kind == "int":
            return steps.to_bytes(self.bytes, self.order, signed=self.signed)  # type: ignore[arg-type]
        if self.kind == "float":
            form = {4: "f", 8: "d"}[self.bytes]
            return struct.pack((">" if self.order == "big" else "<") + form, float(shown))
        if self.kind == "digits":
            text = format(abs(shown), "f") if self.point else str(abs(steps))
            room = self.bytes - (1 if self.signed else 0)
            sign = ("-" if shown < 0 else "+") if self.signed else ""
            return (sign + text.rjust(room, self.fill)).encode()
        if self.sign == "nibble":
            text = f"{abs(steps):0{2 * self.bytes - 1}d}{'D' if steps < 0 else 'C'}"
        else:
            text = f"{abs(steps):0{2 * self.bytes}d}"
        data = bytearray.fromhex(text)
        if self.sign == "top" and steps < 0:
            data[0] |= 0x80
        return bytes(data) if self.order == "big" else bytes(reversed(data))

    def send(self, shown: Decimal, count: int, randomness: random.Random) -> bytes:
        return self._frame(shown, self.ready, count, randomness)

    def fail(self, count: int, randomness: random.Random) -> bytes | None:
        if not self.status:
            return None
        return self._frame(
            self.display.draw(randomness),
            self.ready | randomness.choice([1, 4, 0x80]),
            count,
            randomness,
        )

    def _frame(self, shown: Decimal, status: int, count: int, randomness: random.Random) -> bytes:
        body = self.marker + b"".join(make(count, randomness) for make in self.front)
        if self.status:
            body += bytes([status])
        body += self.number(shown) + b"".join(make(count, randomness) for make in self.back)
        if self.check:
            size = width(self.check)
            told = checksum(self.check, body[self.skip :])
            if self.turned != "plain":
                told = ~told if self.turned == "complement" else -told
            body += (told % (1 << 8 * size)).to_bytes(size, self.check_order)  # type: ignore[arg-type]
        return body + self.tail


class Hopeless:
    """A meter that no profile can read: who is sure of it is wrong.

    But of one that sends all digits of a number of which its display shows some, and of one that
    writes them with a power of ten.
    """

    counts_to = 0

    def __init__(self, draw: random.Random, display: Display) -> None:
        self.display = display
        self.how = draw.choice(
            ["exponent", "swapped nibbles", "finer than shown", "hidden", "dice"]
        )
        self.is_rounded = self.how == "finer than shown"
        self.learnable = self.is_rounded or self.how == "exponent"
        self.name = f"hopeless: {self.how}"
        if self.is_rounded:
            self.name = "binary float, finer than shown"
        elif self.learnable:
            self.name = "text with a power of ten"
        self.key = draw.randbytes(1)[0] | 1

    def send(self, shown: Decimal, count: int, randomness: random.Random) -> bytes:
        steps = int(shown * 10**self.display.decimals)
        if self.how == "exponent":
            return f"R,{shown:.4E},OK\r\n".encode()
        if self.how == "swapped nibbles":
            data = bytes.fromhex(f"{abs(steps):08d}")
            return b"\xaa" + bytes((b & 15) << 4 | b >> 4 for b in data) + b"\r"
        if self.how == "finer than shown":
            # Half a step at most, which the display rounds away.
            finer = float(shown) + randomness.uniform(0.1, 0.4) * 10.0**-self.display.decimals
            return b"\xaa\x55" + struct.pack(">d", finer) + b"\x03"
        if self.how == "hidden":
            return (
                b"\xaa\x55"
                + bytes(b ^ self.key ^ count & 0xFF for b in struct.pack(">i", steps))
                + b"\x03"
            )
        return b"\xaa" + randomness.randbytes(8)

    def fail(self, count: int, randomness: random.Random) -> bytes | None:
        return None
