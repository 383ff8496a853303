"""What a receiver hears of a serial line whose other end is set otherwise: bit by bit. Pure.

A character is a start bit (low), its data bits from the least significant on, a parity bit if
there is one, and one or two stop bits (high); the idle line is high. The receiver waits for a
falling edge, looks again in the middle of the start bit, takes each further bit in its middle, and
looks for the next edge from the middle of the first stop bit on. A start bit that is over by its
middle was none; a stop bit that is low is a framing error, after which the line has to be high
once before an edge counts. (How receivers do it everywhere: common practice, no source. Real ones
sample 16 times a bit and may see an edge a sixteenth late; this one sees it at once.)

What the host's system makes of a character with an error says `Errors`.
"""

from __future__ import annotations

import re
from typing import NamedTuple

FORMAT = r"[78][NEO][12]"
FORMAT_WANTED = "data bits, parity, stop bits, as 8N1 or 7E1"
LEAST_BAUD, MOST_BAUD = 50, 4_000_000

KEPT, ZEROED, DROPPED = "kept", "zeroed", "dropped"
ERRORS = (KEPT, ZEROED, DROPPED)
"""A character with a framing or parity error comes as it was sampled, as a zero byte, or not at
all: POSIX.1, 11.2.2 of the general terminal interface, has the latter two (PARMRK unset; IGNPAR),
the first is what systems do with INPCK unset (from memory)."""


class Setting(NamedTuple):
    """How one end of a line is set."""

    baud: int
    format: str = "8N1"

    @property
    def data_bits(self) -> int:
        return int(self.format[0])

    @property
    def has_parity(self) -> bool:
        return self.format[1] != "N"

    @property
    def stop_bits(self) -> int:
        return int(self.format[2])

    def parity_of(self, bits: list[int]) -> int:
        """The parity bit of these data bits: even makes their sum even."""
        return (sum(bits) + (self.format[1] == "O")) & 1


def setting(baud: int, form: str = "8N1") -> Setting:
    """A setting. Raises ValueError for what no line has."""
    if not LEAST_BAUD <= baud <= MOST_BAUD:
        raise ValueError(f"baud: got {baud}, wanted {LEAST_BAUD} to {MOST_BAUD}")
    if not re.fullmatch(FORMAT, form):
        raise ValueError(f"format: got {form}, wanted {FORMAT_WANTED}")
    return Setting(baud, form)


def levels(data: bytes, sender: Setting) -> list[int]:
    """The line, a level for each bit time of the sender, with an idle one before and behind."""
    line = [1]
    for byte in data:
        bits = [byte >> place & 1 for place in range(sender.data_bits)]
        line += [0, *bits]
        if sender.has_parity:
            line.append(sender.parity_of(bits))
        line += [1] * sender.stop_bits
    line.append(1)
    return line


def heard(data: bytes, sender: Setting, receiver: Setting, errors: str = KEPT) -> bytes:
    """What the receiver takes for bytes when the sender sends these without a pause."""
    line = levels(data, sender)
    came = bytearray()
    place = 1
    while place < len(line):
        if line[place] or not line[place - 1]:
            place += 1
            continue
        byte, is_good, place = _character(line, place, sender.baud, receiver)
        if byte is None:
            continue
        if is_good or errors == KEPT:
            came.append(byte)
        elif errors == ZEROED:
            came.append(0)
    return bytes(came)


def _character(
    line: list[int], edge: int, sent_baud: int, receiver: Setting
) -> tuple[int | None, bool, int]:
    """The character after a falling edge, whether it is free of errors, and where to look on."""

    def at(bit: int) -> int:
        # The middle of the receiver's bit, counted in bits of the sender: whole numbers, exactly.
        return edge + (2 * bit + 1) * sent_baud // (2 * receiver.baud)

    def level(bit: int) -> int:
        return line[at(bit)] if at(bit) < len(line) else 1

    if level(0):
        return None, False, at(0) + 1
    bits = [level(1 + place) for place in range(receiver.data_bits)]
    stop = 1 + receiver.data_bits
    is_good = True
    if receiver.has_parity:
        is_good = level(stop) == receiver.parity_of(bits)
        stop += 1
    is_good = is_good and level(stop) == 1
    byte = sum(bit << place for place, bit in enumerate(bits))
    return byte, is_good, at(stop) + 1
