"""Bytes of presses cut into lines: what ends each, and whether they are text at all. Pure."""

from __future__ import annotations

from collections.abc import Sequence

_ENDS = (b"\r\n", b"\n\r", b"\r", b"\n")
_CONTROLS = frozenset(b"\r\n\t\x02\x03\x04\x06\x1e\x00")


def is_text(presses: Sequence[bytes]) -> bool:
    """Whether all bytes could be a text: printable, or signs that frame lines, or Latin-1."""
    return all(
        0x20 <= byte < 0x7F or byte in _CONTROLS or byte >= 0xA0
        for data in presses
        for byte in data
    )


def terminator(presses: Sequence[bytes]) -> bytes | None:
    """What ends every line: CR and LF as they come, or else the sign with which all presses end."""
    for end in _ENDS:
        if all(data.endswith(end) for data in presses):
            return end
    last = {data[-1:] for data in presses}
    if len(last) > 1:
        return None
    (end,) = last
    # Not a letter or digit: that could be a unit. Where it stands within lines, too, it ends none.
    if (
        end.isalnum()
        or end in (b"%", b" ")
        or end[0] > 0x7F
        or any(len(data) < 2 for data in presses)
    ):
        return None
    return end


def has_empty(data: bytes, end: bytes) -> bool:
    """Whether a press has an empty line somewhere."""
    return b"" in data.split(end)[:-1]


def lines_of(data: bytes, end: bytes) -> list[bytes]:
    """The lines of a press that are not empty, as a framer gives them."""
    return [line for line in data.split(end) if line]
