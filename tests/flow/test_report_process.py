"""The report from a process of its own, as the command line makes it."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from tests.unit.reported import full, small

MAKE = """
import sys
from pathlib import Path
from acquire.report import write_report
heavy = {"matplotlib", "numpy", "scipy", "jinja2"} & set(sys.modules)
assert not heavy, heavy
print(write_report(Path(sys.argv[1]), sys.argv[2], Path(sys.argv[3])))
assert "matplotlib.pyplot" not in sys.modules
"""


def test_a_fresh_process_writes_the_same_page_beside_a_running_daemon(tmp_path: Path) -> None:
    yard = small(tmp_path)
    pages = []
    for name in ("first.html", "second.html"):
        out = tmp_path / name
        done = subprocess.run(
            [sys.executable, "-W", "error", "-c", MAKE, str(yard.bench.store), "small", str(out)],
            capture_output=True, text=True, timeout=100, check=False,
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
        assert done.stdout.strip() == str(out)
        assert done.stderr == ""
        pages.append(out.read_bytes())
    yard.close()
    assert pages[0] == pages[1]


ASK = """
import sys
from acquire.cli.entry import run
for words in (
    ["next"], ["trial", "show", "small"], ["readings"], ["store", "verify", sys.argv[2]],
    ["export", "--all"],
):
    assert run(["--bench", sys.argv[1], *words]) == 0, words
assert run(["--bench", sys.argv[1], "proof", "1"]) == 1  # this store has no bytes
import acquire.study.found  # a study begins
heavy = {"matplotlib", "numpy", "pint", "scipy", "jinja2"} & set(sys.modules)
assert not heavy, heavy
"""


def test_what_reckons_nothing_loads_no_library_of_numbers(tmp_path: Path) -> None:
    """What is due, a trial's drawing, its readings and the seals: asked often, answered at once."""
    yard = small(tmp_path)
    yard.close()
    bench = tmp_path / "own.toml"
    bench.write_text(f'[bench]\nstore = "{yard.bench.store.name}"\n')
    done = subprocess.run(
        [sys.executable, "-c", ASK, str(bench), str(yard.bench.store)],
        capture_output=True, text=True, timeout=100, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr


RESULTS = """
import sys
from acquire.cli.entry import run
assert run(["--bench", sys.argv[1], "results", "gelcoat-1"]) == 0
unused = {
    "jinja2", "matplotlib", "pint", "scipy.ndimage", "scipy.optimize", "scipy.stats",
    "sqlite_utils", "uncertainties",
}
found = unused & set(sys.modules)
assert not found, found
"""


def test_results_load_nothing_that_only_pages_conversions_and_tests_need(tmp_path: Path) -> None:
    yard = full(tmp_path)
    yard.close()
    bench = tmp_path / "own.toml"
    bench.write_text(f'[bench]\nstore = "{yard.bench.store.name}"\n')
    done = subprocess.run(
        [sys.executable, "-c", RESULTS, str(bench)],
        capture_output=True, text=True, timeout=100, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
