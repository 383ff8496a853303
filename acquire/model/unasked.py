"""Why a value of a press is loose that nothing asked for, such as another angle. Pure.

The words are stored with the reading; whoever tells of it later knows such a value by them.
"""

from __future__ import annotations

RUN = "the run does not want "
CHECK = "the check does not want "
ENOUGH = " now: it has enough of them for this piece"
"""The end of what a check says of one more value of a kind that it does ask for."""


def is_unasked(loose_reason: str) -> bool:
    """Whether a value was left loose because its angle or band is none that was asked for."""
    return loose_reason.startswith((RUN, CHECK)) and not loose_reason.endswith(ENOUGH)
