"""Every figure of a trial's page as files of their own: SVG and PNG in the size that is asked for.

The drawings are those of the page, made anew for the paper; nothing is computed a second time. One
thread at a time (`acquire.report.plots.sheet`).
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from acquire.errors import Misuse
from acquire.report.figures.collected import Figure, figures_of
from acquire.report.figures.raster import MOST_DOTS, dots_of, painted
from acquire.report.figures.standalone import HEAD, standalone, titled
from acquire.report.files.wholefolder import require_folder, whole_folder
from acquire.report.markdown.escaping import at_start, escaped
from acquire.report.markdown.inline import line_of
from acquire.report.markdown.tree import Element, page_tree
from acquire.report.page import render
from acquire.report.plots.paper import Paper
from acquire.report.record.loading import Loader, load_trial

FORMATS = ("svg", "png")
INDEX = "figures.md"
OWN = re.compile(r"\d{3,}[a-z0-9-]*\.(?:svg|png)|figures\.md")
WHAT = "a folder of figures"


def write_figures(
    store: Path,
    trial: str,
    out: Path,
    paper: Paper,
    formats: Sequence[str],
    dpi: int,
    load: Loader | None = None,
) -> list[Figure]:
    """Write all figures of a trial into a folder, with a list of what they show; give them.

    The trial comes by `load` where whoever asks wants it, too. Raises as
    `acquire.report.write_report`, and `Misuse` where a picture would be too large.
    """
    record = load(trial) if load is not None else load_trial(store, trial)
    require_folder(out, OWN, WHAT, store)
    # What stands above a drawing is part of the height that was asked for.
    room = paper if paper.height is None else replace(paper, height=paper.height - HEAD)
    found = [
        figure._replace(svg=titled(figure.svg))
        for figure in figures_of(page_tree(render(record, room)))
    ]
    for figure in found if "png" in formats else ():
        _require_bearable(figure, dpi)
    with whole_folder(out, OWN, WHAT, store) as folder:
        for figure in found:
            if "svg" in formats:
                write_svg(folder, figure)
            if "png" in formats:
                (folder / f"{figure.name}.png").write_bytes(painted(figure.svg, dpi))
        (folder / INDEX).write_text(_index(record.plan.title, found, formats[0]), "utf-8")
    return found


def write_svg(folder: Path, figure: Figure) -> None:
    """Write one figure as SVG."""
    (folder / f"{figure.name}.svg").write_text(standalone(figure.svg), "utf-8", newline="\n")


def _require_bearable(figure: Figure, dpi: int) -> None:
    width, height = dots_of(figure.svg, dpi)
    if width * height > MOST_DOTS:
        raise Misuse(
            "the pictures would be too large",
            got=f"{width} x {height} dots for {figure.name}.png",
            wanted=f"at most {MOST_DOTS // 1_000_000} million dots",
            next_step="give fewer dots with --dpi, a smaller size, or --format svg",
        )


def _index(title: str, found: Sequence[Figure], ending: str) -> str:
    """What each figure shows, as Markdown: section, heading, legend and caption."""
    lines = [f"# Figures: {escaped(title)}"]
    section = heading = ""
    remark: Element | None = None
    for figure in found:
        if figure.section != section:
            section, heading = figure.section, ""
            lines.append(f"## {escaped(section)}")
        if figure.heading != heading:
            heading = figure.heading
            lines.append(f"### {escaped(heading)}")
            if figure.legend is not None:
                lines.append("\n".join(f"- {line_of(li)}" for li in figure.legend.children))
        if figure.remark is not None and figure.remark is not remark:
            remark = figure.remark
            lines.append(line_of(remark))
        lines.append(f"![{escaped(figure.caption)}]({figure.name}.{ending})")
        lines.append(f"{figure.name}: {at_start(escaped(figure.caption))}")
    return "\n\n".join(lines) + "\n"
