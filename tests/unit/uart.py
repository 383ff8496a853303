"""A serial line as levels in time: what a receiver at another speed makes of what was sent.

Asynchronous framing: a start bit (low), the data bits from the lowest on, a parity bit if there is
one, stop bits (high). The receiver looks at the middle of each of its own bits.
"""

from __future__ import annotations

from acquire.learn import Line


def levels(data: bytes, line: Line) -> list[int]:
    """The bits on the wire, each one bit time long."""
    bits = [1] * 4
    for byte in data:
        own = [byte >> place & 1 for place in range(line.data_bits)]
        bits += [0, *own]
        if line.parity.value != "none":
            bits.append(sum(own) % 2 ^ (line.parity.value == "odd"))
        bits += [1] * line.stop_bits
    return bits + [1] * 40


def heard(data: bytes, sent: Line, by: Line) -> bytes:
    """What a receiver with other settings delivers; framing errors are delivered, as ports do."""
    bits = levels(data, sent)
    end = len(bits) / sent.baud_rate

    def level(time_s: float) -> int:
        place = int(time_s * sent.baud_rate)
        return bits[place] if place < len(bits) else 1

    bit_s, step_s = 1 / by.baud_rate, 1 / (16 * max(by.baud_rate, sent.baud_rate))
    received = bytearray()
    now = 0.0
    while now < end:
        if level(now):
            now += step_s
            continue
        middle = now + 1.5 * bit_s
        byte = sum(level(middle + place * bit_s) << place for place in range(by.data_bits))
        received.append(byte)
        has_parity = by.parity.value != "none"
        now = middle + (by.data_bits + has_parity) * bit_s
        while now < end and not level(now):
            now += step_s
    return bytes(received)
