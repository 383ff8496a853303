"""`coatbench photo`."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from acquire.cli.faults import DONE, NOT_DONE
from acquire.cli.reach import acting, bench_option, store_of
from acquire.cli.spoken import say
from acquire.errors import CoatbenchError

if TYPE_CHECKING:
    from acquire.report.files.photofiles import Photo


@click.command()
@click.argument("trial")
@click.argument(
    "file", required=False, type=click.Path(exists=True, dir_okay=False, path_type=Path)
)
@click.option("--zone", default="", metavar="ZONE", help="Which zone it shows.")
@click.option("--stage", default="", metavar="STAGE", help="At which stage it was taken.")
@click.option("--note", default="", metavar="TEXT", help="What is to be seen.")
@click.option("--check", "checks", is_flag=True, help="Look whether the recorded ones are there.")
@click.option(
    "--in",
    "folders",
    multiple=True,
    metavar="FOLDER",
    type=click.Path(exists=True, file_okay=False, path_type=Path),
    help="With --check: look there for those that were moved.",
)
@bench_option
def photo(
    trial: str,
    file: Path | None,
    zone: str,
    stage: str,
    note: str,
    checks: bool,
    folders: tuple[Path, ...],
    bench: Path | None,
) -> int:
    """Record that FILE is a photo of TRIAL: its path and its SHA-256. The file stays where it is.

    The report lists it by name and hash, so that nobody can exchange the picture unseen. With
    --check, which takes no FILE, each recorded photo is looked for where it was and held against
    its hash: exit status 1 if one was changed or is gone. One that was moved is found again in a
    folder by --in, and where it lies now is written down. A data package takes the pictures along
    by coatbench package --photos.

    \b
    Example:  coatbench photo gelcoat-1 beads-a1.jpg --zone A1 --stage wash-5
              coatbench photo gelcoat-1 --check --in pictures
    Next:     coatbench report TRIAL
    """
    if checks:
        if file is not None:
            raise click.UsageError("--check takes no FILE: it looks at all that were recorded")
        return _check(bench, trial, folders)
    if file is None or folders:
        raise click.UsageError("name the picture: coatbench photo TRIAL FILE; or --check")
    from acquire.report.files.photofiles import digest_of  # noqa: PLC0415 - slow

    path = file.absolute()
    digest = digest_of(path)
    size = path.stat().st_size
    with acting(bench) as client:
        reply = client.call(
            "photo",
            trial=trial,
            stage=stage,
            zone=zone,
            path=str(path),
            sha256=digest,
            size_bytes=size,
            text=note,
        )
    lines = [f"recorded: {file.name}, {size} bytes, SHA-256 {digest}"]
    if reply["is_known"]:
        lines.append("the same picture was recorded before")
    say(lines)
    return DONE


def _check(bench: Path | None, trial: str, folders: Sequence[Path]) -> int:
    from acquire.report.files.photofiles import State, look_at  # noqa: PLC0415 - slow
    from acquire.store.reader import StoreReader  # noqa: PLC0415
    from acquire.store.worked import Worked  # noqa: PLC0415
    from acquire.trial.stored import stored_plan  # noqa: PLC0415

    with StoreReader(store_of(bench)) as reader:
        plan = stored_plan(reader.rows, trial)
        found = look_at(Worked(reader.rows).photos(plan.id), folders)
    say([one.words for one in found] or [f"no photo of {plan.id} was recorded"])
    moved = [one for one in found if one.state is State.MOVED]
    if moved:
        try:
            _write_down(bench, moved)
        except CoatbenchError as error:
            # What was found is said all the same: of a closed trial, or of a store to look into.
            say([f"not written down: {error}"])
    lost = [one for one in found if one.state in (State.GONE, State.CHANGED)]
    return NOT_DONE if lost else DONE


def _write_down(bench: Path | None, moved: Sequence[Photo]) -> None:
    """Record where pictures lie now: a row each, with what was said of them before."""
    with acting(bench) as client:
        for row, _, file in moved:
            assert file is not None
            client.call(
                "photo",
                trial=row.trial,
                stage=row.stage,
                zone=row.zone,
                path=str(file.absolute()),
                sha256=row.sha256,
                size_bytes=row.size_bytes,
                text=row.text,
            )
    some = "1 photo at its new place" if len(moved) == 1 else f"{len(moved)} photos at new places"
    say([f"written down: {some}"])
