"""Where a trial's rows lie in a store with many others: found by indexes, never by looking through.

A view that joins has to be given the numbers of its rows: asked by what it derives, it would work
out every reading of the store. Reads the store and writes nothing. The thread of the reader.
"""

from __future__ import annotations

from acquire.store.reader import StoreReader

RUNS = "SELECT r.id FROM run AS r JOIN trial AS t ON t.id = r.trial_id WHERE t.trial = ?1"

MINE = (
    f"SELECT id FROM reading WHERE run_id IN ({RUNS}) "  # noqa: S608 - our own names
    f"UNION SELECT reading_id FROM assignment WHERE run_id IN ({RUNS})"
)
"""Numbers of the readings of a trial's runs, by its name (?1): those taken, and those assigned."""

CHECKS = (
    "SELECT id FROM reading WHERE role = 'check' AND check_id IN "  # noqa: S608 - our own names
    f"(SELECT check_id FROM readings WHERE reading_id IN ({MINE}) "
    f"UNION SELECT closing_check_id FROM readings WHERE reading_id IN ({MINE}))"
)
"""Numbers of the readings of all checks around those, by its name (?1)."""

OF_SURFACES = "quantity IN ('gloss', 'force', 'transmittance')"
"""What counters and climate probes tell is loose, too, and waits for no place."""

LOOSE = (
    f"SELECT id FROM reading WHERE role = 'loose' AND {OF_SURFACES} "  # noqa: S608 - our own names
    "AND id NOT IN (SELECT reading_id FROM assignment)"
)
"""Numbers of the readings that are loose still."""

LOOSE_BESIDE = f"{LOOSE} AND sitting_id IN (SELECT sitting_id FROM run WHERE id IN ({RUNS}))"  # noqa: S608
"""Those of them in the sittings of a trial's runs, by its name (?1)."""

_SITTINGS = f"""
SELECT sitting_id FROM run WHERE id IN ({RUNS}) UNION
SELECT sitting_id FROM reading WHERE id IN ({MINE}) AND sitting_id IS NOT NULL ORDER BY 1"""  # noqa: S608


def sitting_ids_of(reader: StoreReader, trial: str) -> list[int]:
    """The sittings in which a trial had a run or a reading, in their order."""
    return [row[0] for row in reader.rows(_SITTINGS, (trial,))]


def count_loose(reader: StoreReader) -> int:
    """Loose readings of the store that nobody gave a place. Only a loose one can be given one."""
    sql = f"SELECT count(*) FROM reading WHERE role = 'loose' AND {OF_SURFACES}"  # noqa: S608
    return int(reader.one(sql)) - int(reader.one("SELECT count(*) FROM assignment"))
