"""A counted wash back to the bytes of the stroke that counted it. Reads the store; one thread."""

from __future__ import annotations

from pathlib import Path

from acquire.driverapi.registry import Registry
from acquire.errors import NotFound
from acquire.model import iso_utc
from acquire.report.proof.proof import LARGEST_NUMBER, Proof, prove
from acquire.store.reader import StoreReader


def prove_wash(store: Path, wash_id: int, registry: Registry | None = None) -> Proof:
    """Prove a wash. Raises `NotFound`, and `StoreError` if the store cannot be read.

    `Proof.reading_id` is that of the stroke, 0 where a person counted; then `holds` is true, for a
    person's word has no bytes behind it, and that is what is told.
    """
    with StoreReader(store) as reader:
        found = wash_id <= LARGEST_NUMBER and reader.rows(
            "SELECT * FROM wash WHERE id = ?", (wash_id,)
        )
        if not found:
            known = reader.one("SELECT count(*) FROM wash")
            raise NotFound(
                f"there is no wash {wash_id}",
                got=f"a store with {known} entries of washes",
                wanted="the number of one",
                next_step="coatbench report TRIAL names the numbers of all washes",
            )
        row = dict(found[0])
    zones = row["zones"].replace(",", ", ")
    said = (
        f"wash entry {wash_id}: {row['washes']:+d} for {zones} of trial {row['trial']} "
        f"on {iso_utc(row['at_utc_ns'])}"
    )
    if row["reason"]:
        said += f", a correction: {row['reason']}"
    if row["reading_id"] is None:
        by = "by a key" if row["counted_by"] == "key" else "as it was typed in"
        return Proof(0, True, (said, f"counted {by}: a person's word, with no bytes behind it"))
    proof = prove(store, row["reading_id"], registry)
    by = f"counted by {row['counted_by']}, whose reading {row['reading_id']} made it whole:"
    return Proof(proof.reading_id, proof.holds, (said, by, *proof.lines))
