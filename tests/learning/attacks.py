"""Drawn meters that once were read wrong: columns that touch, signs in bytes, codes, clocks.

Each is of a class that somebody found by attack, drawn anew with other fields about it. What they
send for a press that failed, or that shows what few presses show, may be noise; it is never read
as another number.
"""

from __future__ import annotations

import random
import struct
from collections.abc import Callable
from decimal import Decimal

from tests.learning.checks import KINDS, checksum, width
from tests.learning.meter import Display, Meter
from tests.learning.traps_binary import packed, steps

Send = Callable[[Decimal, int, random.Random], bytes]
Fail = Callable[[Decimal, int, random.Random], bytes]
Drawn = tuple[Send, Fail | None]


class Attack:
    """One layout: `how` is its class."""

    learnable = True
    counts_to = 0

    def __init__(self, how: str, send: Send, fail: Fail | None, display: Display) -> None:
        self.name = f"attack: {how}"
        self._send, self._fail, self._display = send, fail, display

    def send(self, shown: Decimal, count: int, randomness: random.Random) -> bytes:
        return self._send(shown, count, randomness)

    def fail(self, count: int, randomness: random.Random) -> bytes | None:
        if self._fail is None:
            return None
        return self._fail(self._display.draw(randomness), count, randomness)


def attacked(number: int) -> Meter:
    """The meter of this number; classes take turns."""
    dice = random.Random(f"attack {number}")
    how = list(CLASSES)[number % len(CLASSES)]
    kind = "force" if how in _FORCES else "gloss"
    most = Decimal(dice.choice([20, 50, 100, 500] if kind == "force" else [100, 120, 199]))
    least = -most if how in _BOTH_WAYS and dice.random() < 0.7 else Decimal(0)
    display = Display(kind, dice.choice([1, 1, 2]), least, most)
    send, fail = CLASSES[how](dice, display)
    return Meter(display, Attack(how, send, fail, display), dice.randrange(300), dice)


# -- lines ---------------------------------------------------------------------------------------


def _fields(dice: random.Random, between: str) -> Callable[[str, int, random.Random], str]:
    """The text of a number with some other fields about it."""
    makers: list[Callable[[int, random.Random], str]] = []
    if dice.random() < 0.5:
        makers.append(lambda n, r: f"{n:04d}")
    if dice.random() < 0.4:
        makers.append(lambda n, r: f"{r.uniform(18, 29):.1f}C")
    if dice.random() < 0.4:
        makers.append(lambda n, r: "R")
    dice.shuffle(makers)
    at = dice.randint(0, len(makers))

    def line(value: str, n: int, r: random.Random) -> str:
        parts = [make(n, r) for make in makers]
        parts.insert(at, value)
        return between.join(parts)

    return line


def _end(text: str) -> bytes:
    return f"{text}\r\n".encode()


def _units(dice: random.Random, display: Display) -> Drawn:
    line, apart = _fields(dice, dice.choice(",; ")), dice.choice(["", " "])
    others = ["kN", "mN", "gf", "kgf", "X", ""]
    return (
        lambda v, n, r: _end(line(f"{v}{apart}N", n, r)),
        lambda v, n, r: _end(line(f"{v}{apart}{r.choice(others)}", n, r)),
    )


def _touching(dice: random.Random, display: Display) -> Drawn:
    digits = 4 + display.decimals
    front = dice.choice(["T", " ", "n"])

    def send(v: Decimal, n: int, r: random.Random) -> bytes:
        first = {"T": f"T{20 + n // 3 % 9:3d}", " ": f"{n:4d}", "n": f"{80 - n // 5 % 40:3d}"}
        return _end(f"{first[front]}{v:{digits}}")

    return send, None


def _clock(dice: random.Random, display: Display) -> Drawn:
    """A code between the signs of a time."""
    form = dice.choice(["1:{s:02d}:{t}:{v}", "{t:02d}:{s:02d}:{m:02d}:{v}", "{s:02d}/{m}/6/{v}"])

    def send(v: Decimal, n: int, r: random.Random, code: int = 0) -> bytes:
        return _end(form.format(s=code, t=20 + n // 4 % 5, m=1 + n // 30 % 12, v=v))

    return send, lambda v, n, r: send(v, n, r, r.choice([1, 7, 12, 20, 59]))


def _time(dice: random.Random, display: Display) -> Drawn:
    """A time among fields of the same sign, and a code."""
    form = dice.choice(["{h:02d}:{m:02d}:{s:02d}:{c}:{v}", "{c}:{v}:{h:02d}:{m:02d}:{s:02d}"])

    def send(v: Decimal, n: int, r: random.Random, code: str = "0") -> bytes:
        at = 30_000 + 47 * n + r.randrange(40)
        clock = {"h": at // 3600 % 24, "m": at // 60 % 60, "s": at % 60}
        return _end(form.format(c=code, v=v, **clock))

    return send, lambda v, n, r: send(v, n, r, r.choice("12789"))


def _status(dice: random.Random, display: Display) -> Drawn:
    """A digit that touches a sum, a number or nothing."""
    line, where = _fields(dice, ","), dice.choice(["sum", "decimals", "words", "apart"])
    # Two digits glued to decimals would be decimals, for all that anybody could tell.
    good = "0" if where == "decimals" else dice.choice(["0", "0", "01"])

    def send(v: Decimal, n: int, r: random.Random, code: str = "") -> bytes:
        said = code or r.choice(good)
        text = line(str(v), n, r)
        if where == "sum":
            text = f"{text},{said}"
            return _end(f"{text}{checksum('sum8', text.encode()):02X}")
        glued = {"decimals": f"{text},{20 + n // 9}.{n % 10}{said}", "words": f"{text},A{said}"}
        return _end(glued.get(where, f"{said},{text}"))

    return send, lambda v, n, r: send(v, n, r, r.choice("3579"))


def _signs_in_text(dice: random.Random, display: Display) -> Drawn:
    """Numbers below zero in brackets, or with the sign behind or apart."""
    line = _fields(dice, dice.choice(",; "))
    above, below = dice.choice([("{}", "({})"), (" {} ", "({})"), ("{} ", "{}-"), ("+ {}", "- {}")])
    return lambda v, n, r: _end(line((below if v < 0 else above).format(abs(v)), n, r)), None


def _comma(dice: random.Random, display: Display) -> Drawn:
    """A comma in decimals and between fields; the last one is a code."""
    line = _fields(dice, ",")

    def send(v: Decimal, n: int, r: random.Random, code: str = "0") -> bytes:
        return _end(line(f"{v}".replace(".", ","), n, r) + f",{code}")

    return send, lambda v, n, r: send(v, n, r, r.choice("1379"))


def _powers(dice: random.Random, display: Display) -> Drawn:
    """A power of ten, the word for infinity in place of a number, and numbers of another form.

    Of some the digits do not reach the last one of the display; some keep a power of a thousand.
    """
    line, letter = _fields(dice, dice.choice(",; ")), dice.choice("Ee")
    sign, digits = dice.choice("+-"), dice.choice([2, 3, 4, 6])
    size = dice.choice([1, 1, 3])

    def send(v: Decimal, n: int, r: random.Random) -> bytes:
        first = int(format(float(v), f".{digits}E").partition("E")[2])
        power = first - first % size
        whole = format(float(v) / 10.0**power, f"{sign}.{max(1, digits - first + power)}f")
        return _end(line(f"{whole}{letter}{power:+03d}", n, r))

    others = ["+9.90E+37", "9.91E37", "1.0000E+99", "+0E+00", "9.1", "1E5", "ERR", "1.5E+01E+01"]
    return send, lambda v, n, r: _end(line(r.choice(others), n, r))


# -- frames --------------------------------------------------------------------------------------


def _framed(dice: random.Random) -> Callable[[bytes, int, random.Random], bytes]:
    """A number with a marker, other bytes and perhaps a checksum about it."""
    marker = dice.choice([b"\xaa\x55", b"\x02", b"\xa5"])
    makers: list[Callable[[int, random.Random], bytes]] = []
    if dice.random() < 0.5:
        makers.append(lambda n, r: bytes([n & 0xFF]))
    if dice.random() < 0.3:
        makers.append(lambda n, r: bytes([22 + n // 7 % 5]))
    if dice.random() < 0.3:
        makers.append(lambda n, r: bytes([90 - n // 9 % 50]))
    dice.shuffle(makers)
    check = dice.choice([*KINDS, "", "", ""])

    def frame(number: bytes, n: int, r: random.Random) -> bytes:
        body = marker + number + b"".join(make(n, r) for make in makers)
        if not check:
            return body + b"\x03"
        return body + checksum(check, body).to_bytes(width(check), "big")

    return frame


def _words(dice: random.Random, display: Display) -> Drawn:
    """An integer of four bytes, its low word first."""
    frame, decimals = _framed(dice), dice.choice([display.decimals, 3])

    def send(v: Decimal, n: int, r: random.Random) -> bytes:
        data = struct.pack(">i", steps(v, decimals))
        return frame(data[2:] + data[:2], n, r)

    return send, None


def _sign_byte(dice: random.Random, display: Display) -> Drawn:
    """A byte that says the sign of a magnitude, before or behind it."""
    frame, before = _framed(dice), dice.random() < 0.7
    plus, minus = dice.choice([b"+-", b" -", b"\x01\x02", b"\x00\x01", b"\x00\x80", b"\x10\x14"])
    has_digits = dice.random() < 0.4

    def send(v: Decimal, n: int, r: random.Random) -> bytes:
        size = abs(steps(v, display.decimals))
        data = packed(size, 6) if has_digits else struct.pack(">H", size)
        sign = bytes([minus if v < 0 else plus])
        return frame(sign + data if before else data + sign, n, r)

    return send, None


def _top_bit(dice: random.Random, display: Display) -> Drawn:
    """An integer with its sign in the top bit, or with it in a byte of its own beside flags."""
    frame, size, order = _framed(dice), dice.choice([2, 2, 3, 4]), dice.choice([1, -1])
    bits, has_flags = steps(display.most, display.decimals).bit_length(), dice.random() < 0.4
    size = (bits + 15) // 8 if has_flags else max(size, bits // 8 + 1)

    def send(v: Decimal, n: int, r: random.Random, flags: int = 0) -> bytes:
        data = bytearray(abs(steps(v, display.decimals)).to_bytes(size, "big"))
        data[0] |= (0x80 if v < 0 else 0) | flags
        return frame(bytes(data[::order]), n, r)

    def fail(v: Decimal, n: int, r: random.Random) -> bytes:
        if has_flags:
            return send(v, n, r, 1 << r.randrange(7))
        return frame(r.choice([b"\xff", b"\x7f"]) + b"\xff" * (size - 1), n, r)

    return send, fail


def _codes(dice: random.Random, display: Display) -> Drawn:
    """A number whose largest codes say that there is none."""
    frame, form = _framed(dice), dice.choice([">H", "<H", ">h", "<h", ">I", "<i", "bcd"])

    def send(v: Decimal, n: int, r: random.Random) -> bytes:
        number = abs(steps(v, display.decimals))
        return frame(packed(number, 6) if form == "bcd" else struct.pack(form, number), n, r)

    def fail(v: Decimal, n: int, r: random.Random) -> bytes:
        if form == "bcd":
            return frame(r.choice([b"\x99\x99\x99", b"\xff\xff\xff", b"\xee\xee\xee"]), n, r)
        bits = 8 * struct.calcsize(form)
        ones = (1 << bits) - 1
        code = r.choice([ones, ones >> 1, (ones >> 1) + 1, ones - 1])
        return frame(code.to_bytes(bits // 8, "big" if form[0] == ">" else "little"), n, r)

    return send, fail


def _unpacked(dice: random.Random, display: Display) -> Drawn:
    """A digit a byte, and before them a byte that is another one at a press that failed."""
    frame, order = _framed(dice), dice.choice([1, -1])
    size = len(str(steps(display.most, display.decimals)))

    def send(v: Decimal, n: int, r: random.Random, code: int = 0) -> bytes:
        digits = f"{abs(steps(v, display.decimals)):0{size}d}"[::order]
        return frame(bytes([code, *map(int, digits)]), n, r)

    return send, lambda v, n, r: send(v, n, r, r.choice([1, 8, 0x10, 0x80]))


def _digit_sums(dice: random.Random, display: Display) -> Drawn:
    """A checksum in hexadecimal digits, and a press of which a digit was damaged on the way."""
    kind, marker = dice.choice(KINDS), dice.choice([b"\x02", b"\xa5", b"\xaa\x55"])
    has_text, is_upper = dice.random() < 0.5, dice.random() < 0.7
    first, end = dice.choice([0, len(marker)]), dice.choice([b"", b"\x03"])
    size = len(str(int(display.most))) + 1 + display.decimals

    def send(v: Decimal, n: int, r: random.Random) -> bytes:
        number = (
            f"{v:0{size}f}".encode() if has_text else struct.pack(">H", steps(v, display.decimals))
        )
        body = marker + number + bytes([n & 0x7F])
        digits = f"{checksum(kind, body[first:]):0{2 * width(kind)}x}"
        return body + (digits.upper() if is_upper else digits).encode() + end

    def fail(v: Decimal, n: int, r: random.Random) -> bytes:
        data = bytearray(send(v, n, r))
        data[len(marker) + r.randrange(2)] ^= 1
        return bytes(data)

    return send, fail


CLASSES: dict[str, Callable[[random.Random, Display], Drawn]] = {
    "units that change": _units,
    "columns that touch": _touching,
    "a code in a clock": _clock,
    "a time in a run": _time,
    "status digits": _status,
    "brackets and signs behind": _signs_in_text,
    "a comma for all": _comma,
    "a power of ten": _powers,
    "low word first": _words,
    "sign bytes": _sign_byte,
    "signs in top bits": _top_bit,
    "codes of all ones": _codes,
    "a digit a byte": _unpacked,
    "sums in digits": _digit_sums,
}
_FORCES = frozenset(
    (
        "units that change",
        "brackets and signs behind",
        "low word first",
        "sign bytes",
        "signs in top bits",
        "a power of ten",
    )
)
_BOTH_WAYS = _FORCES - {"units that change"}
