"""Links: the serial, network, recorded and in-memory connections beneath the drivers."""

from acquire.link.base import Link, Opener
from acquire.link.choose import opener_for
from acquire.link.memory import MemoryEnd, MemoryOpener, Mischief, memory_pair
from acquire.link.serial import SerialLink, SerialOpener

__all__ = [
    "Link",
    "MemoryEnd",
    "MemoryOpener",
    "Mischief",
    "Opener",
    "SerialLink",
    "SerialOpener",
    "memory_pair",
    "opener_for",
]
