"""`coatbench figures`: every figure of a trial's page as files of a chosen size."""

from __future__ import annotations

from pathlib import Path

import click

from acquire.cli.reach import bench_option, store_of
from acquire.cli.results import Held, fits
from acquire.cli.spoken import say
from acquire.errors import Misuse

FORMATS = ("svg", "png")
WIDTHS_MM, HEIGHTS_MM, DPIS = (90, 600), (40, 1000), (50, 1200)


@click.command()
@click.argument("trial")
@click.option(
    "--out",
    type=click.Path(file_okay=False, path_type=Path),
    metavar="DIR",
    help="The folder for them (default: TRIAL-figures here).",
)
@click.option("--format", "form", default="svg,png", show_default=True, help="svg, png, or both.")
@click.option("--width-mm", type=click.FloatRange(*WIDTHS_MM), default=170, show_default=True)
@click.option(
    "--height-mm",
    type=click.FloatRange(*HEIGHTS_MM),
    help="The most that one may be high (default: as high as it needs).",
)
@click.option("--dpi", type=click.IntRange(*DPIS), default=200, show_default=True)
@bench_option
def figures(
    trial: str,
    out: Path | None,
    form: str,
    width_mm: float,
    height_mm: float | None,
    dpi: int,
    bench: Path | None,
) -> int:
    """Write every figure of a trial's page as SVG and PNG: for print, a slide or the film.

    Each is drawn for the width that is asked for, with text of 7 points or more. With --height-mm
    charts over time are just that high, and strips of zones are cut into several figures. The file
    figures.md beside them says what each shows and what its marks mean. The same store gives the
    same bytes.

    PNG has --dpi dots an inch and one font: a sign of another script may stand as a box there,
    while SVG leaves it to whoever shows it.

    \b
    Example:  coatbench figures gelcoat-1 --out figures
              coatbench figures gelcoat-1 --format png --width-mm 90 --height-mm 60 --dpi 300
    Next:     coatbench report TRIAL --out TRIAL.md writes the report with figures beside it.
    """
    from acquire.report.figures.files import write_figures  # noqa: PLC0415 - slow
    from acquire.report.plots.paper import Paper  # noqa: PLC0415

    store = store_of(bench)
    load = Held(store)
    folder = out or Path(f"{trial}-figures")
    found = write_figures(
        store, trial, folder, Paper.of_mm(width_mm, height_mm), formats_of(form), dpi, load
    )
    say([f"written: {folder}, {len(found)} figure{'' if len(found) == 1 else 's'}"])
    return fits(store, trial, load)


def formats_of(text: str) -> list[str]:
    """The formats that a list with commas names, each once. Raises `Misuse`."""
    found = list(dict.fromkeys(part.strip().lower() for part in text.split(",")))
    if not all(one in FORMATS for one in found):
        raise Misuse(
            "the figures have no such format",
            got=repr(text[:40]),
            wanted="svg, png, or svg,png",
            next_step="say --format svg, --format png or leave it out for both",
        )
    return found
