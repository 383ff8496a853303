"""The scorecards that a trial was scored by, out of the store. The thread of the reader."""

from __future__ import annotations

from acquire.errors import SettingsError
from acquire.model.scorecard import Scorecard
from acquire.store.reader import StoreReader

_USED = (
    "SELECT c.scorecard, c.version, c.text FROM scorecard AS c WHERE c.id IN "
    "(SELECT scorecard_id FROM score WHERE trial = ?) ORDER BY c.scorecard, c.version"
)


def scorecards_of(reader: StoreReader, trial: str) -> tuple[Scorecard, ...]:
    """By each id the highest version that points of this trial were kept by."""
    latest = {row["scorecard"]: row["text"] for row in reader.rows(_USED, (trial,))}
    if not latest:
        return ()
    from acquire.settings.scorecard import parse_scorecard  # noqa: PLC0415 - few trials have one

    found = []
    for name, text in latest.items():
        try:
            found.append(parse_scorecard(text, f"scorecard {name} as stored"))
        except SettingsError:
            # One that a later Coatbench wrote: its points stand in the table over all trials.
            continue
    return tuple(found)
