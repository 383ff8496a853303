"""Out of the store: the report of a trial as a page, its summary in lines, its readings as rows.

Light to import; what computes and draws is imported on the first call.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from acquire.model.scorecard import Scorecard
    from acquire.report.record.loading import Loader

__all__ = ["summary_lines", "write_report"]


def write_report(
    store: Path,
    trial: str,
    out: Path,
    card: Scorecard | None = None,
    load: Loader | None = None,
) -> Path:
    """Write the report of a trial as one HTML page that needs nothing else, and give its path.

    With `card` it has the points by that scorecard, else by those that points were kept by. `load`
    gives the trial where whoever asks wants it, too; else it is loaded from the store here. The
    page appears whole or not at all, in place of an earlier page or of nothing. Raises
    `NotFound` for a store or a trial that is not there (with the trials that are), `StoreError` for
    a file that is no store, `Refused` for a warm-up study, and `Misuse` where `out` cannot be
    written.
    """
    from acquire.report.page import write_page  # noqa: PLC0415 - slow

    return write_page(store, trial, out, card, load)


def summary_lines(store: Path, trial: str) -> list[str]:
    """The results of a trial in plain lines for a terminal. Raises as `write_report`."""
    from acquire.report.terminal.summary import lines_of  # noqa: PLC0415 - slow

    return lines_of(store, trial)
