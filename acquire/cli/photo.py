"""`coatbench photo`."""

from __future__ import annotations

import hashlib
from pathlib import Path

import click

from acquire.cli.faults import DONE
from acquire.cli.reach import acting, bench_option
from acquire.cli.spoken import say


@click.command()
@click.argument("trial")
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--zone", default="", metavar="ZONE", help="Which zone it shows.")
@click.option("--stage", default="", metavar="STAGE", help="At which stage it was taken.")
@click.option("--note", default="", metavar="TEXT", help="What is to be seen.")
@bench_option
def photo(trial: str, file: Path, zone: str, stage: str, note: str, bench: Path | None) -> int:
    """Record that FILE is a photo of TRIAL: its path and its SHA-256. The file stays where it is.

    The report lists it by name and hash, so that nobody can exchange the picture unseen.

    \b
    Example:  coatbench photo gelcoat-1 beads-a1.jpg --zone A1 --stage wash-5
    Next:     coatbench report TRIAL
    """
    path = file.absolute()
    with path.open("rb") as stream:
        digest = hashlib.file_digest(stream, "sha256").hexdigest()
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
