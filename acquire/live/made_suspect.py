"""What a check or a re-adjustment of the past has made suspect, in words.

Reads the store; never writes. Any thread, with a reader of its own.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence

from acquire.live.suspects import suspect_words
from acquire.store.placed import ADJUSTED_BEFORE, ADJUSTED_RUNS, SUSPECT_RUNS
from acquire.store.reader import StoreReader


def by_check(store: StoreReader, check_id: int) -> list[str]:
    """What a check made suspect; a sentence or none."""
    return _told(store.rows(SUSPECT_RUNS, (check_id,)))


def by_adjusting(store: StoreReader, notice_id: int) -> list[str]:
    """What a re-adjustment made suspect, by the number of its notice; a sentence or none."""
    return _told(store.rows(ADJUSTED_RUNS, (notice_id,)))


def by_adjusting_before(store: StoreReader, check_id: int) -> list[str]:
    """What the re-adjustments since the check before made suspect, as the check after tells it."""
    notices = store.rows(ADJUSTED_BEFORE, (check_id,))
    return [text for notice in notices for text in by_adjusting(store, notice[0])]


def _told(runs: Sequence[sqlite3.Row]) -> list[str]:
    if not runs:
        return []
    first = runs[0]
    told = [dict(run) for run in runs]
    return [suspect_words(first["check_id"], told, first["instrument"], first["limits_of"])]
