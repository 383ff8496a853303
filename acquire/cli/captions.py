"""`coatbench captions`: captions and chapters for the film of a trial."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from acquire.cli.faults import NOT_DONE
from acquire.cli.reach import bench_option, store_of
from acquire.cli.results import Held, fits
from acquire.cli.spoken import say

if TYPE_CHECKING:
    from acquire.report.film.writing import Film

_LATE_MS = 3000


@click.command()
@click.argument("trial")
@click.option(
    "--film-starts",
    "starts",
    multiple=True,
    metavar="[NAME=]TIME",
    help="When the film starts: 2026-05-04T10:00:00+02:00. Once a camera.",
)
@click.option(
    "--clap",
    "claps",
    multiple=True,
    metavar="[NAME=]NUMBER[@MM:SS]",
    help="Or a clap mark, and where in the film it is seen (default: at its beginning).",
)
@click.option("--film-lasts", metavar="MM:SS", help="How long the film is (default: not known).")
@click.option(
    "--out",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE.vtt|.srt",
    help="Where the captions go (default: TRIAL.vtt here).",
)
@click.option(
    "--chapters",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE.vtt|.txt",
    help="Also write chapters: WebVTT, or MM:SS and title in lines.",
)
@bench_option
def captions(
    trial: str,
    starts: tuple[str, ...],
    claps: tuple[str, ...],
    film_lasts: str | None,
    out: Path | None,
    chapters: Path | None,
    bench: Path | None,
) -> int:
    """Write captions for the film of a trial: each reading that counts, means and verdicts.

    On the film's own clock, which is tied to the bench by the moment the film starts or by a clap
    mark (coatbench note --clap). A reading shows from its moment on, with zone, product, value and
    unit; when a zone has all of its readings their mean, when a stage is whole the verdict on each
    product, as the page has them. No caption lies over another, and each stays long enough to be
    read. Readings outside of the film are counted and left out.

    Several cameras: give each its start and a name, --film-starts wide=TIME --clap close=17@00:12;
    the name stands in the names of its files.

    \b
    Example:  coatbench captions gelcoat-1 --clap 17@00:12.5 --out film.vtt --chapters film.txt
              coatbench captions gelcoat-1 --film-starts 2026-05-04T08:00:00Z --out film.srt
    Next:     put the file beside the film, or into the cutting program.
    """
    from acquire.report.film.camera import film_clock_ms  # noqa: PLC0415 - slow
    from acquire.report.film.writing import Wanted, write_film  # noqa: PLC0415 - slow

    if not starts and not claps:
        raise click.UsageError("say when the film starts: --film-starts TIME or --clap NUMBER")
    lasts_ms = None if film_lasts is None else film_clock_ms(film_lasts)
    store = store_of(bench)
    load = Held(store)
    wanted = Wanted(starts, claps, lasts_ms, out or Path(f"{trial}.vtt"), chapters)
    found = write_film(store, trial, wanted, load)
    say(line for film in found for line in lines_of(film))
    code = fits(store, trial, load)
    return code if all(film.captions.inside for film in found) else max(code, NOT_DONE)


def lines_of(film: Film) -> list[str]:
    """What was written for a camera, for a person."""
    found = film.captions
    of = f"{film.camera.name}: " if film.camera.name else ""
    if not found.inside:
        lay = f"{found.before} before it, {found.after} after it"
        return [
            f"{of}nothing is written: no reading lies in this film ({lay}). Next: look at its "
            "start once more"
        ]
    lines = [f"{of}written: {', '.join(map(str, film.files))}"]
    noun = "reading" if found.inside == 1 else "readings"
    said = f"{of}{found.inside} {noun} in {len(found.cues)} captions"
    if found.before or found.after:
        said += f"; outside of the film: {found.before} before it, {found.after} after it"
    lines.append(said)
    if found.late_ms > _LATE_MS:
        lines.append(
            f"{of}readings came faster than they can be read: one is shown "
            f"{found.late_ms / 1000:.1f} s late"
        )
    return lines
