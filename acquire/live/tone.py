"""What a happening means for the person: one word for screen, line and bell."""

from __future__ import annotations

from enum import StrEnum


class Tone(StrEnum):
    """What a happening means for the person, to be shown, said in words and heard."""

    ACCEPTED = "accepted"
    REFUSED = "not accepted"
    TROUBLE = "trouble"
    PLAIN = "plain"

    @property
    def mark(self) -> str:
        """One character for those who see no colour."""
        return {"accepted": "+", "not accepted": "x", "trouble": "!", "plain": "-"}[self.value]
