"""A real daemon and the certificates of its bench file: kept, shown, and never edited."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from pathlib import Path

import pytest

from acquire.live.verdict import verdict
from acquire.store import StoreReader
from tests.flow.served import COATBENCH, Served
from tests.flow.terminal import do
from tests.patience import PATIENCE_S

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="needs pseudo-terminals")

FILE = b"%PDF-1.4 invented certificate of the high tile \x00\xff\n" * 40


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    with Served(tmp_path) as served:
        yield served


def change(served: Served, old: str, new: str) -> None:
    text = served.bench_file.read_text(encoding="utf-8")
    assert old in text
    served.bench_file.write_text(text.replace(old, new, 1), encoding="utf-8")


def test_a_certificate_file_is_kept_and_written_out_again_and_its_figures_stay(
    served: Served,
) -> None:
    served.stop()
    paper = served.folder / "T1-2025.pdf"
    paper.write_bytes(FILE)
    change(served, "[[piece.certificate]]", '[[piece.certificate]]\nfile = "T1-2025.pdf"')
    served.start()
    # While the daemon runs, and from the store alone once the paper is gone.
    status, listed, err = do(served, "pieces", "T1")
    assert status == 0, err
    assert f"T1-2025.pdf ({sha256(FILE).hexdigest()[:12]}...)" in listed
    served.stop()
    change(served, 'file = "T1-2025.pdf"\n', "")
    paper.unlink()
    out = served.folder / "out.pdf"
    status, _, err = do(served, "pieces", "T1", "--file", str(out))
    assert status == 0, err
    assert out.read_bytes() == FILE
    assert do(served, "store", "verify")[0] == 0

    change(served, "value = 91.4", "value = 91.9")
    begun = subprocess.run(
        [COATBENCH, "--bench", str(served.bench_file), "serve"],
        capture_output=True, text=True, timeout=PATIENCE_S, check=False,
    )  # fmt: skip
    assert begun.returncode == 1
    for words in (
        "piece[0].certificate[0].value",
        "got     91.9 gloss_unit",
        "wanted  91.4 gloss_unit, as recorded on ",
    ):
        assert words in begun.stderr
    assert "add the new certificate as a [[piece.certificate]]" in begun.stderr
    assert do(served, "pieces")[0] == 1


def test_what_is_due_or_not_plausible_is_told_at_the_start_in_status_and_in_the_verdict(
    served: Served,
) -> None:
    served.stop()
    soon = datetime.now(UTC).date() + timedelta(days=9)
    text = served.bench_file.read_text(encoding="utf-8")
    due = next(line for line in text.splitlines() if line.startswith("due = "))
    served.bench_file.write_text(
        text.replace(due, f"due = {soon}").replace(
            'id = "T1"', 'id = "T1"\nrefractive_index = 1.567\nindex_wavelength = 587.6', 1
        ),
        encoding="utf-8",
    )
    served.store.unlink()
    served.start()
    assert served.process.stdout is not None
    told = [served.process.stdout.readline() for _ in range(2)]
    assert told[0].startswith("not plausible: the certificate of T1 at 20° says 91.4 GU")
    assert told[1].startswith("not plausible: the certificate of T1 at 60° says 91.4 GU")
    _, standing, _ = do(served, "status")
    assert f"due    certificate of T1 at 20° due soon: 9 days left, {soon}" in standing
    served.check()
    with served.client() as client:
        check_id = client.call("status")["instruments"][0]["check"]["check_id"]
    told_after = _verdict(served, check_id)
    assert "check 1 of meter-0: PASS" in told_after
    assert "NOT PLAUSIBLE: the certificate of T1 at 20° says 91.4 GU" in told_after


def _verdict(served: Served, check_id: int) -> str:
    with StoreReader(served.store) as store:
        passed, lines = verdict(store, check_id, 0)
    assert passed
    return "\n".join(lines)
