"""What cannot be said of a history, and what would help.

Given instead of a figure, so that too little data is an answer and never NaN. Any thread.
"""

from __future__ import annotations

from typing import NamedTuple


class Lack(NamedTuple):
    """Whole sentences without their full stops: why there is no figure, and what to do next."""

    why: str
    next_step: str
