"""Bytes as they are told to a person. Pure."""

from __future__ import annotations


def brief(data: bytes) -> str:
    """Bytes for a person: text where it is one, else hexadecimal digits."""
    is_text = all(0x20 <= byte < 0x7F or byte in b"\r\n\t" for byte in data)
    text = repr(data.decode("latin-1")) if is_text else data.hex(" ").upper()
    return text if len(text) <= 60 else f"{text[:57]}..."
