"""Bytes that mean nothing to any driver, each sort with its name. Pure."""

from __future__ import annotations

from random import Random

from acquire.wire.transfer import Description, Pipe, Status, record

JUNK_BYTES = 4096


def junk_bytes(randomness: Random) -> list[tuple[str, bytes]]:
    return [
        ("random bytes", randomness.randbytes(JUNK_BYTES)),
        ("zeros", bytes(JUNK_BYTES)),
        ("ones", b"\xff" * JUNK_BYTES),
        ("line ends", b"\r\n" * (JUNK_BYTES // 2)),
        ("digits", b"0123456789" * (JUNK_BYTES // 10)),
    ]


def junk_records(randomness: Random) -> list[tuple[str, bytes]]:
    """What a USB link hands over is whole records: junk is what is in them."""

    def some(count: int) -> bytes:
        return b"".join(
            record(
                randomness.choice(list(Pipe)),
                randomness.randbytes(randomness.randrange(40)),
                randomness.choice(list(Status)),
            )
            for _ in range(count)
        )

    device = Description(0, 0x01, 0x82, 0x83, 2, 64, "")
    return [
        ("random records", some(200)),
        ("random records of an open device", record(Pipe.OPENED, device.to_bytes()) + some(200)),
        ("a record that is none behind some", some(20) + b"\xee" * JUNK_BYTES),
    ]
