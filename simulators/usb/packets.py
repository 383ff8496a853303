"""Transfers cut into packets as they go over the wire (USB 2.0, 5.8.3). Pure."""

from __future__ import annotations


def packets(data: bytes, packet_bytes: int) -> list[bytes]:
    """The packets of one transfer; if the last would be full, an empty one says that it is over."""
    return [data[at : at + packet_bytes] for at in range(0, len(data) + 1, packet_bytes)]
