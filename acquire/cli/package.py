"""`coatbench package` and `coatbench recompute`: the data behind a trial, out and back in."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from acquire.cli.faults import DONE, NOT_DONE
from acquire.cli.reach import bench_option, store_of
from acquire.cli.spoken import say

if TYPE_CHECKING:
    from acquire.report.package.recompute import Recomputed

_MOST_TOLD = 20


@click.command()
@click.argument("trial")
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    metavar="DIR|FILE.zip",
    help="A folder, or a zip file by its ending (default: TRIAL-data.zip here).",
)
@click.option("--photos", is_flag=True, help="Take the recorded photos along, as files.")
@click.option(
    "--in",
    "folders",
    multiple=True,
    metavar="FOLDER",
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    help="With --photos: look there for those that were moved.",
)
@bench_option
def package(
    trial: str, out: Path | None, photos: bool, folders: tuple[Path, ...], bench: Path | None
) -> int:
    """Write all that the results of a trial rest on, for others to look at and compute with.

    By the open standard Data Package: readings, checks, certificates with their files, traces,
    spectra, the bytes of the lines, voids and notes as CSV with a schema each, the results and the
    page, a README in words, and digests of all. Every spreadsheet and any program that knows the
    standard can read it; another Coatbench computes the results anew from it.

    Of other trials it has nothing but a study that this one uses. While a blind trial is sealed,
    its key is left out. Look through it before you publish it: notes, paths and serial numbers
    stand in it as they were recorded.

    Photos stay where they are, and the package has their names and hashes; with --photos it has
    the pictures, too, each held against its hash. One that is gone or was changed is named and left
    out.

    Exit status 1, and a word in it, if a row was changed after it was recorded; or if --photos
    could not take one along.

    \b
    Example:  coatbench package gelcoat-1 --out gelcoat-1.zip
    Next:     coatbench recompute gelcoat-1.zip, here or anywhere else.
    """
    from acquire.report.package.writing import write_package  # noqa: PLC0415 - slow

    place = out or Path(f"{trial}-data.zip")
    if folders and not photos:
        raise click.UsageError("--in goes with --photos")
    packed = write_package(store_of(bench), trial, place, photos=photos, folders=folders)
    say([f"written: {place}, {packed.rows} rows, {packed.size_bytes:,} bytes before packing"])
    if packed.others:
        say([f"with rows of other trials that it rests on: {', '.join(packed.others)}"])
    if photos:
        say([f"photos taken along: {packed.photos}"])
    say(packed.lost, err=True)
    if packed.misfit:
        say([packed.misfit], err=True)
    return NOT_DONE if packed.misfit or packed.lost else DONE


@click.command()
@click.argument("package", type=click.Path(path_type=Path))
@click.option(
    "--out",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="PATH",
    help="Write the page of results made anew to this file.",
)
def recompute(package: Path, out: Path | None) -> int:
    """Compute the results of a data package anew, and say whether they are the same.

    PACKAGE is a folder or zip file that coatbench package has written, here or elsewhere; no bench
    is needed. Its rows go into a fresh store under the guards of any store, so that a reading
    without a valid check is refused, its checks are judged again, its readings are made again from
    the bytes of their lines, and every figure of results and page is held against the new one, to
    the last digit. Named is each file that is not as it was
    packaged, each row that was changed, put in or taken out, and each figure that differs.

    Exit status 1 if anything differs.

    \b
    Example:  coatbench recompute gelcoat-1.zip --out recomputed.html
    Next:     coatbench store verify --seal, where the store is, shows that it has these rows.
    """
    from acquire.report.package.recompute import recompute as computed  # noqa: PLC0415 - slow

    found = computed(package, out)
    say(lines_of(found))
    if out is not None and not found.refused:
        say([f"written: {out}"])
    return DONE if found.is_same else NOT_DONE


def lines_of(found: Recomputed) -> list[str]:
    """What came of a package, for a person."""
    lines = [
        f"trial {found.trial}, packaged by Coatbench {found.version}: {found.row_count} rows",
        *_told("files", "as they were packaged", found.files),
        *_told("rows", "as they were packaged", found.rows),
    ]
    if found.refused:
        lines += ["REFUSED by the guards of the store, so that nothing is computed:"]
        return [*lines, *(f"  {text}" for text in found.refused)]
    count = f"{found.checks} check{'' if found.checks == 1 else 's'}"
    lines += _told(count, "judged again, with the same outcome, figures and words", found.misjudged)
    noun = "reading" if found.again.came == 1 else "readings"
    made = "made again from the bytes of the line, the same"
    lines += _told(f"{found.again.came} {noun}", made, found.again.unlike)
    lines += [f"not made again here: {text}" for text in found.again.not_told]
    for one in found.compared:
        lines += _told(f"{one.what}: {one.figures:,} figures", "the same", one.unlike)
    if found.is_same:
        lines.append("SAME: every figure is what the rows give")
    elif found.is_page_alone:
        lines.append(
            "NOT THE SAME: the page alone, see above; every figure of the results and readings is "
            "what the rows give. Another version of Coatbench may word or draw a page otherwise"
        )
    else:
        lines.append("NOT THE SAME: see above")
    return lines


def _told(what: str, good: str, unlike: tuple[str, ...]) -> list[str]:
    if not unlike:
        return [f"{what}: {good}"]
    more = len(unlike) - _MOST_TOLD
    return [
        f"{what}: NOT {good} ({len(unlike)}):",
        *(f"  {text}" for text in unlike[:_MOST_TOLD]),
        *([f"  and {more} more"] if more > 0 else []),
    ]
