"""The certificates that a page of results rests on: number, kept file, and how near their end."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from hashlib import sha256
from pathlib import Path

from acquire.settings.certificate_file import look_at
from tests.unit.reported import SMALL, SMALL_VALUES, page, read_stage
from tests.yard import Yard, pieces


def test_the_table_of_certificates_has_number_and_file_and_says_what_was_due_soon(
    tmp_path: Path,
) -> None:
    (tmp_path / "T1.pdf").write_bytes(b"%PDF invented")
    tile, _ = pieces(due=date(2026, 5, 20))
    _, trap = pieces()
    (certificate,) = tile.certificates
    certificate = replace(certificate, number="HM-7", file=look_at(tmp_path, "T1.pdf"))
    yard = Yard(tmp_path)
    yard.close()
    yard.bench.store.unlink()
    yard.bench = replace(
        yard.bench, pieces=(replace(tile, certificates=(certificate,), serial="HT 1"), trap)
    )
    yard.open()
    yard.plug("shore")
    yard.check("shore")
    read_stage(yard, "bare", SMALL, [SMALL_VALUES[z, "bare"] for z in ("A1", "A2")])
    yard.check("shore")
    found = {row[0]: row for row in page(yard, "small", tmp_path).rows if len(row) == 9}
    hashed = sha256(b"%PDF invented").hexdigest()[:16]
    # All checks are of 2026-05-04, 16 days before.
    assert found["T1 (gloss tile)"][5:] == [
        "HM-7",
        "2026-01-31",
        "2026-05-20, due soon: 16 days left at its last check",
        f"T1.pdf ({hashed}…)",
    ]
    assert found["Z0 (black trap)"][5:] == ["–", "2026-01-31", "2030-01-31", "–"]
    yard.close()
