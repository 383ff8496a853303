"""What may stand in a name that comes to stand in a bench file, and which serial numbers may.

The rules are those of bench files; a scenario that breaks one would write a file that is refused.
They are stated here once more, since a simulator knows nothing of the bench. Pure.
"""

from __future__ import annotations

import unicodedata

LONGEST_NAME = 200
NAME_WANTED = f"a name on one line, 1 to {LONGEST_NAME} characters, none of them a control"
_TURNING = frozenset("\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069")
"""They would turn the rest of a line around."""


def is_name(text: str) -> bool:
    """Whether a text can be a name."""
    return (
        bool(text.strip())
        and len(text) <= LONGEST_NAME
        and not any(
            unicodedata.category(sign) in ("Cc", "Cs", "Zl", "Zp") or sign in _TURNING
            for sign in text
        )
    )


def serial_key(measures: str, serial: str) -> tuple[str, str]:
    """What two devices of a bench may not have alike."""
    return measures, serial.casefold()
