"""A person says that the computer's clock is right, though the store has later entries.

Runs on the desk's thread. It opens nothing: checks may begin again, and what they rely on goes by
the later time as before. Whoever says it has looked at another clock, so that a computer whose
clock was set back is not believed by itself.
"""

from __future__ import annotations

from datetime import timedelta

from acquire.errors import Refused
from acquire.model import IncidentKind, Instant, iso_utc
from acquire.pipeline.asking import Answer
from acquire.pipeline.desk import Desk
from acquire.pipeline.told_time import trusted_words
from acquire.visible import says_something

AGREE_WITHIN_S = 300
"""Two clocks that are read by a person (common practice, no source)."""

_AGAIN = 'coatbench clock "2026-05-11 14:30" --reason "the radio clock; the computer ran ahead"'


class ClockActs:
    """What a person says of the computer's clock."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk

    def trust(self, other_utc_ns: int, reason: str, at: Instant) -> Answer:
        """Begin checks again; `other_utc_ns` is what another clock shows. Raises `Refused`."""
        keeper = self._desk.keeper
        if keeper.told.floor_ns - at.utc_ns <= keeper.clock_jump_ns:
            raise Refused(
                "nothing is to be said of the clock",
                reason="clock not behind",
                got=f"{iso_utc(at.utc_ns)}, and no later entry that holds a check off",
                next_step="go on: coatbench status",
            )
        if not says_something(reason):
            raise Refused(
                "the clock is not taken for right",
                reason="no reason",
                got="a text in which nothing is to be seen",
                wanted="where the right time is from, and how the other one came about",
                next_step=_AGAIN,
            )
        apart_s = abs(other_utc_ns - at.utc_ns) / 1e9
        if apart_s > AGREE_WITHIN_S:
            apart = timedelta(seconds=round(apart_s))
            raise Refused(
                "the clock is not taken for right",
                reason="clocks differ",
                got=f"{iso_utc(other_utc_ns)} by the other clock and {iso_utc(at.utc_ns)} by the "
                f"computer's, {apart} (h:mm:ss) apart",
                wanted=f"two clocks within {timedelta(seconds=AGREE_WITHIN_S)}",
                next_step="set the computer's clock right; then coatbench status says whether "
                "there is still anything to say",
            )
        words = trusted_words(keeper.told, at, reason)
        keeper.told.trust(at)
        row = keeper.incident("", IncidentKind.CLOCK_TRUSTED, at, words)
        return Answer({"clock": words}, [row])
