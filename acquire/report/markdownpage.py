"""The report of a trial as Markdown, with its figures as files beside it.

The text is that of the page (`acquire.report.page`), element by element, so the two never say
different things. One thread at a time (`acquire.report.plots.sheet`).
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from urllib.parse import quote

from acquire.model.scorecard import Scorecard
from acquire.report.figures.collected import Figure, figures_of
from acquire.report.figures.files import OWN, WHAT, write_svg
from acquire.report.files.outplace import require_place
from acquire.report.files.wholefile import whole_file
from acquire.report.files.wholefolder import require_folder, whole_folder
from acquire.report.markdown.tree import page_tree
from acquire.report.markdown.writing import blocks_of
from acquire.report.page import render
from acquire.report.plots.paper import Paper
from acquire.report.record.loading import Loader, load_trial

MARK = "[//]: # (Coatbench: report of a trial)"
"""The first line: a reference that nothing refers to, so no reader sees it. By it an earlier report
is known from what else may stand at the same path."""

FOLDER = "-figures"


def markdown_of(page: str, folder: str) -> tuple[str, list[Figure]]:
    """A page as Markdown, and the figures that it looks for in `folder` (part of an address)."""
    body = page_tree(page)
    found = figures_of(body)
    names = {id(figure.element): f"{folder}/{figure.name}.svg" for figure in found}
    blocks = blocks_of(body, lambda element: names[id(element)])
    return "\n\n".join((MARK, *blocks)) + "\n", found


def write_markdown(
    store: Path,
    trial: str,
    out: Path,
    paper: Paper,
    card: Scorecard | None = None,
    load: Loader | None = None,
) -> Path:
    """Write the report, and its figures into a folder beside it; gives the folder.

    Raises as `acquire.report.write_report`.
    """
    record = load(trial) if load is not None else load_trial(store, trial)
    if card is not None:
        record = replace(record, scorecards=(card,))
    require_place(out, "md", store)
    beside = out.with_name(f"{out.stem}{FOLDER}")
    require_folder(beside, OWN, WHAT, store)
    page = render(record, paper)
    text, files = markdown_of(page, quote(beside.name))
    with whole_folder(beside, OWN, WHAT, store) as folder:
        for svg in files:
            write_svg(folder, svg)
    with whole_file(out) as file:
        file.write(text)
    return beside
