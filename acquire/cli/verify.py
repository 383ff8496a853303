"""`coatbench verify`: the program's own calculations, held against check values."""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import click

from acquire.cli.faults import DONE, NOT_DONE
from acquire.cli.listing import listed, show_table
from acquire.cli.spoken import say
from acquire.visible import json_visible, visible

if TYPE_CHECKING:
    from acquire.verify.record import Record

_COLUMNS = 100
"""Of the table in a file, where nobody's terminal says how wide it may be."""


@click.command()
@click.argument("files", nargs=-1, type=click.Path(path_type=Path), metavar="[FILE]...")
@click.option("--area", "areas", multiple=True, help="Only this area, such as gloss; repeatable.")
@click.option("--failed", is_flag=True, help="Show only the cases that are not right.")
@click.option("--json", "as_json", is_flag=True, help="The record as one JSON object.")
@click.option(
    "--out",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="PATH",
    help="Write the whole record to this file (JSON where it ends in .json, else text).",
)
def verify(
    files: tuple[Path, ...], areas: tuple[str, ...], failed: bool, as_json: bool, out: Path | None
) -> int:
    """Hold the calculations of this program against check values with their sources.

    Without FILE against those that come with it: published standards, handbooks, worked examples.
    With FILE against cases of your own, in the same form (README, "Is it right?"). Each case is
    shown with what was got and expected, the tolerance, the source, whether the value was
    published, is from memory or was computed, and whether results use the calculation or it is
    for reference only; then a summary by area.

    The record names version, digests, libraries, computer and date: file it before you rely on the
    program, and again after every change of it or of what it runs on (ISO/IEC 17025:2017, 7.11.2).

    Exit status 0 only if every case could be read and run, and agrees.

    \b
    Example:  coatbench verify --failed
              coatbench verify --area gloss --area units
              coatbench verify mine.json --out record.txt
    Next:     where all is right: coatbench results TRIAL, coatbench report TRIAL
    """
    if out is not None and failed:
        raise click.UsageError("a record has every case; leave out --failed or --out")
    record = _record(files, areas, out, as_json)
    if out is not None:
        say([f"written: {out}"])
        _conclude(record)
    elif as_json:
        click.echo(_json(record), nl=False)
    else:
        _show(record, failed)
    return DONE if record.is_right else NOT_DONE


def _record(
    files: tuple[Path, ...], areas: tuple[str, ...], out: Path | None, as_json: bool
) -> Record:
    from acquire.clock import SystemClock  # noqa: PLC0415 - slow
    from acquire.verify.apart import answers  # noqa: PLC0415
    from acquire.verify.casefile import read_cases  # noqa: PLC0415
    from acquire.verify.record import record_of  # noqa: PLC0415
    from acquire.verify.shipped import case_files  # noqa: PLC0415
    from acquire.verify.verifying import verify_files  # noqa: PLC0415

    form = "record-json" if as_json or (out and out.suffix.lower() == ".json") else "record-text"
    if out is not None:
        from acquire.report.files.outplace import require_place  # noqa: PLC0415

        require_place(out, form)
    read = [read_cases(path) for path in files or case_files()]
    found = verify_files(read, answers, frozenset(areas))
    record = record_of(found, areas, SystemClock().now().utc_ns)
    if out is not None:
        from acquire.report.files.wholefile import whole_file  # noqa: PLC0415

        with whole_file(out) as file:
            file.write(_json(record) if form == "record-json" else _text(record))
    return record


def _show(record: Record, failed: bool) -> None:
    from acquire.verify.words import all_case_lines, head_lines  # noqa: PLC0415 - slow

    for lines in all_case_lines(record, only_wrong=failed):
        say([*lines, ""])
    say([*head_lines(record, every_file=False), ""])
    _conclude(record)


def _conclude(record: Record) -> None:
    from acquire.verify.words import (  # noqa: PLC0415 - slow
        fault_lines,
        table,
        use_lines,
        verdict_lines,
    )

    show_table(table(record))
    say(["", *(line for file in record.files for line in fault_lines(file))])
    say([*use_lines(record), *verdict_lines(record)])


def _text(record: Record) -> str:
    return "".join(f"{visible(line)}\n" for line in _lines(record))


def _lines(record: Record) -> Iterator[str]:
    from acquire.verify.words import (  # noqa: PLC0415 - slow
        all_case_lines,
        fault_lines,
        head_lines,
        table,
        use_lines,
        verdict_lines,
    )

    yield from head_lines(record, every_file=True)
    yield ""
    yield from listed(table(record), _COLUMNS)
    yield ""
    for file in record.files:
        yield from fault_lines(file)
    yield from use_lines(record)
    yield from verdict_lines(record)
    for lines in all_case_lines(record):
        yield ""
        yield from lines


def _json(record: Record) -> str:
    from acquire.verify.words import item_of  # noqa: PLC0415 - slow

    text = json.dumps(item_of(record), ensure_ascii=False, indent=1, allow_nan=False)
    return f"{json_visible(text)}\n"
