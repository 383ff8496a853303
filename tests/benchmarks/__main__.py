"""``python -m tests.benchmarks [--json FILE]``: Coatbench beside the plain logger, as a table."""

from __future__ import annotations

import argparse
import json
import platform
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

from rich.console import Console
from rich.table import Table

from tests.benchmarks.alltime import measure_alltime
from tests.benchmarks.codecs import measure_codecs
from tests.benchmarks.drift import measure_drift
from tests.benchmarks.footprint import measure_footprint
from tests.benchmarks.judging import measure_judging
from tests.benchmarks.latency import measure_latency
from tests.benchmarks.result import Result
from tests.benchmarks.results import measure_results_part
from tests.benchmarks.spectra import measure_spectra
from tests.benchmarks.streams import measure_streams
from tests.benchmarks.tape import measure_tape
from tests.benchmarks.throughput import measure_throughput
from tests.benchmarks.traces import measure_traces
from tests.benchmarks.trials import measure_trials

PARTS: dict[str, Callable[[Path], list[Result]]] = {
    "latency": measure_latency,
    "throughput": measure_throughput,
    "codecs": measure_codecs,
    "streams": measure_streams,
    "tape": measure_tape,
    "judging": measure_judging,
    "drift": measure_drift,
    "spectra": measure_spectra,
    "traces": measure_traces,
    "trials": measure_trials,
    "results": measure_results_part,
    "alltime": measure_alltime,
    "footprint": measure_footprint,
}


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks", description=__doc__)
    parser.add_argument("--json", type=Path, metavar="FILE", help="write the table there too")
    parser.add_argument("--only", choices=PARTS, help="measure one part alone")
    parser.add_argument(
        "--folder", type=Path, help="where the stores are written (default: a temporary folder)"
    )
    chosen = parser.parse_args()
    results: list[Result] = []
    for name, part in PARTS.items():
        if chosen.only in (None, name):
            with tempfile.TemporaryDirectory(dir=chosen.folder) as folder:
                results += part(Path(folder))
    console = Console(width=None if sys.stdout.isatty() else 120)
    table = Table(title=f"Python {platform.python_version()}, {platform.machine()}")
    for column in ("figure", "unit", "Coatbench", "baseline", "ratio", "goal", "met"):
        table.add_column(column, justify="left" if column in ("figure", "unit") else "right")
    for item in (r.as_item() for r in results):
        table.add_row(*(_cell(item[key]) for key in item))
    console.print(table)
    if chosen.json is not None:
        chosen.json.write_text(json.dumps([r.as_item() for r in results], indent=1) + "\n")
    sys.exit(any(item["met"] is False for item in (r.as_item() for r in results)))


def _cell(value: object) -> str:
    if value is None:
        return "-"
    if isinstance(value, bool):
        return "yes" if value else "NO"
    return (
        f"{value:,.3g}"
        if isinstance(value, float) and value < 1000
        else (f"{value:,.0f}" if isinstance(value, float) else str(value))
    )


if __name__ == "__main__":
    main()
