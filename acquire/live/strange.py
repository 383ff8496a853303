"""What is strange of the last reading of a check, in words: far from its piece, or a meter that
rocks. Pure; the screen's thread.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from acquire.live.words import clean, figure, reading_words
from acquire.model import channel_label
from acquire.units import symbol


def strange(checking: Mapping[str, Any] | None) -> Iterator[tuple[int, str]]:
    """Number and words of each; `checking` is the check under way as the status has it."""
    if checking is None:
        return
    last, far, scatter = checking["last_taken"], checking.get("far"), checking.get("scatter")
    if far is not None and last is not None:
        certified = f"{figure(far['certified'])} {symbol(last['unit'])}".rstrip()
        yield (
            far["reading_id"],
            f"{reading_words({**last, 'flags': ''})} is far from {certified}, the certificate of "
            f"{clean(last['piece'])}",
        )
    if scatter is not None:
        # As long as the piece is being read, and not only in the verdict.
        unit = symbol(scatter["unit"])
        at = f" at {channel_label(scatter['channel'])}" if len(checking["taken"]) > 1 else ""
        yield (
            scatter["reading_id"],
            f"{clean(scatter['piece'])}{at} scatters by {figure(scatter['spread'])} {unit}, more "
            f"than {figure(scatter['limit'])} {unit}: the meter rocks, or the piece or the meter "
            "is dirty",
        )
