"""The checks of binary messages, bit by bit. Pure.

Names and parameters as in Greg Cook, *Catalogue of parametrised CRC algorithms*, where the check
value is that of the ASCII digits 1 to 9 (the tests hold them).
"""

from __future__ import annotations


def crc16_modbus(data: bytes) -> int:
    """Polynomial 8005 reflected (A001), start FFFF; check value 4B37."""
    register = 0xFFFF
    for byte in data:
        register ^= byte
        for _ in range(8):
            register = register >> 1 ^ (0xA001 if register & 1 else 0)
    return register


def crc8_smbus(data: bytes) -> int:
    """Polynomial 07, start 00; check value F4."""
    register = 0
    for byte in data:
        register ^= byte
        for _ in range(8):
            register = (register << 1 ^ (0x07 if register & 0x80 else 0)) & 0xFF
    return register
