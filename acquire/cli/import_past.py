"""`coatbench import`: results of earlier years out of a CSV file into the all-time table."""

from __future__ import annotations

import base64
import os
from pathlib import Path
from typing import TYPE_CHECKING

import click

from acquire.cli.faults import DONE
from acquire.cli.reach import acting, bench_option
from acquire.cli.spoken import say

if TYPE_CHECKING:
    from acquire.settings.mapping import Mapping


@click.command("import")
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--mapping",
    required=True,
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="The file that says which column means what.",
)
@click.option("--check", is_flag=True, help="Only look the file through; nothing is kept.")
@bench_option
def import_past(file: Path, mapping: Path, check: bool, bench: Path | None) -> int:
    """Take results of earlier years from the CSV file FILE into the all-time table.

    They are marked as imported and unchecked wherever they are shown, and are compared with no
    trial of the store. Which column means what, encoding, delimiter and decimal comma are said in
    the mapping; config/scorecards/past-results.toml explains every entry.

    Every faulty line is told at once; if there is any, nothing is kept. The file itself is kept,
    too, with its SHA-256, and is not taken twice.

    \b
    Example:  coatbench import results-2019.csv --mapping results-2019.toml --check
              coatbench import results-2019.csv --mapping results-2019.toml
    Next:     coatbench alltime
    """
    from acquire.trial.past import past_results  # noqa: PLC0415 - slow

    columns, data = _both(mapping, file)
    results = past_results(data, columns, str(file))
    trials = len({r.trial for r in results})
    products = len({r.treatment for r in results})
    counted = (
        f"{len(results)} figure{'' if len(results) == 1 else 's'} of {products} "
        f"product{'' if products == 1 else 's'} in {trials} trial{'' if trials == 1 else 's'}"
    )
    if check:
        say([f"no faults: {counted}; nothing was kept"])
        return DONE
    with acting(bench) as client:
        client.call(
            "import_past",
            file=file.name[:200],
            content=base64.b64encode(data).decode(),
            mapping=columns.text,
        )
    say([f"imported: {counted}, marked as imported and unchecked", "next: coatbench alltime"])
    return DONE


def _both(mapping: Path, file: Path) -> tuple[Mapping, bytes]:
    """The mapping and the bytes of the table; what is wrong with either is told together."""
    from acquire.errors import Fault, SettingsError  # noqa: PLC0415 - slow
    from acquire.settings.mapping import load_mapping  # noqa: PLC0415

    columns = data = None
    wrong: list[SettingsError] = []
    try:
        columns = load_mapping(mapping)
    except SettingsError as error:
        wrong.append(error)
    try:
        data = _read(file)
    except SettingsError as error:
        wrong.append(error)
    if len(wrong) == 1:
        raise wrong[0]
    if columns is None or data is None:
        faults = [
            Fault(f"{source}, {fault.path}", fault.got, fault.wanted)
            for source, error in zip((mapping, file), wrong, strict=True)
            for fault in error.faults
        ]
        raise SettingsError(
            f"the import of {file} by {mapping}", faults, next_step="see to both files"
        )
    return columns, data


def _read(file: Path) -> bytes:
    """The bytes of a file that is no larger than a table can be; more are not even read."""
    from acquire.errors import Fault, SettingsError  # noqa: PLC0415 - slow
    from acquire.schema.tomlfile import without_waiting  # noqa: PLC0415
    from acquire.trial.past import LARGEST_BYTES, too_large  # noqa: PLC0415

    source = str(file)
    try:
        if not file.is_file():
            got = "a folder" if file.is_dir() else "no such file"
            raise SettingsError(
                source,
                [Fault("file", got, "a CSV file")],
                next_step="give the path of a file that is there",
            )
        with open(file, "rb", opener=without_waiting) as stream:
            if os.fstat(stream.fileno()).st_size > LARGEST_BYTES:
                raise too_large(source)
            data = stream.read(LARGEST_BYTES + 1)
    except OSError as error:
        raise SettingsError(
            source,
            [Fault("file", error.strerror or "no file that can be read", "a CSV file")],
            next_step=f"see to {source}",
        ) from None
    if len(data) > LARGEST_BYTES:
        raise too_large(source)
    return data
