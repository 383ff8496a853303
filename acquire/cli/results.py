"""`coatbench report` and `coatbench export`: out of the store, without the daemon or beside it."""

from __future__ import annotations

import gc
import io
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from acquire.cli.faults import DONE, NOT_DONE
from acquire.cli.reach import bench_option, store_of
from acquire.cli.spoken import Shown, say
from acquire.errors import Misuse

if TYPE_CHECKING:
    from acquire.model.scorecard import Scorecard
    from acquire.report.record.record import TrialRecord
    from acquire.report.rows.export import Sink

FORMS = ("csv", "jsonl")
_OBJECTS_BETWEEN = 200_000
"""New objects after which Python looks for those that nobody needs any more: more than results of
10,000 readings make, and no more memory is taken for them by that."""
MARKDOWN = (".md", ".markdown")
FIGURE_MM = 170
"""As wide as the text of a page of A4."""


@click.command()
@click.argument("trial")
@click.option(
    "--out",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="PATH",
    help="Where it goes (default: TRIAL.html here). An ending of .md gives Markdown.",
)
@click.option("--markdown", is_flag=True, help="Markdown in the place of a page, as TRIAL.md here.")
@click.option(
    "--scorecard",
    metavar="FILE",
    help="Points by this scorecard, a file or an id (default: those that points were kept by).",
)
@bench_option
def report(
    trial: str, out: Path | None, markdown: bool, scorecard: str | None, bench: Path | None
) -> int:
    """Write the results of a trial as one page that needs no network.

    May be used at any time, also while the daemon records; it shows what is stored so far.

    Where points were kept (`coatbench rescore`) it has them, too, reckoned from what it shows.

    As Markdown it says the same, with its figures as files in a folder beside it.

    What it rests on is held against its seals; the page says so if a row was changed later. Exit
    status 1 then.

    \b
    Example:  coatbench report gelcoat-1 --out results.html
              coatbench report gelcoat-1 --out results.md
    Next:     open the page in a browser; coatbench figures gives its drawings, coatbench package
              all that it rests on.
    """
    from acquire.report import write_report  # noqa: PLC0415 - slow
    from acquire.report.files.outplace import require_place  # noqa: PLC0415
    from acquire.report.points.rescoring import card_of  # noqa: PLC0415

    store = store_of(bench)
    if out is not None and not markdown and out.suffix.lower() not in (*MARKDOWN, ".html", ".htm"):
        require_place(out, "html", store)
        raise Misuse(
            f"a page is not written as {out}",
            got=f"the ending {out.suffix!r}" if out.suffix else "no ending",
            wanted="an ending that says what it is: .html, or .md for Markdown",
            next_step="give the file such a name with --out",
        )
    card = None if scorecard is None else card_of(store, scorecard)
    if markdown or (out is not None and out.suffix.lower() in MARKDOWN):
        return _markdown(store, trial, out or Path(f"{trial}.md"), card)
    load = Held(store)
    written = write_report(store, trial, out or Path(f"{trial}.html"), card, load)
    say([f"written: {written}"])
    say(lost_photos(store, trial), err=True)
    return fits(store, trial, load)


def lost_photos(store: Path, trial: str) -> list[str]:
    """Photos of a trial that are no more as they were recorded; the page has but their hashes."""
    from acquire.report.files.photofiles import State, look_at  # noqa: PLC0415 - slow
    from acquire.store.reader import StoreReader  # noqa: PLC0415
    from acquire.store.worked import Worked  # noqa: PLC0415

    with StoreReader(store) as reader:
        found = look_at(Worked(reader.rows).photos(trial))
    return [one.words for one in found if one.state is not State.SAME]


def _markdown(store: Path, trial: str, out: Path, card: Scorecard | None) -> int:
    from acquire.report.markdownpage import write_markdown  # noqa: PLC0415 - slow
    from acquire.report.plots.paper import Paper  # noqa: PLC0415

    load = Held(store)
    folder = write_markdown(store, trial, out, Paper.of_mm(FIGURE_MM), card, load)
    say([f"written: {out}, with its figures in {folder}"])
    say(lost_photos(store, trial), err=True)
    return fits(store, trial, load)


@click.command()
@click.argument("trial", required=False)
@click.option("--all", "everything", is_flag=True, help="Every reading of the store.")
@click.option("--checks", is_flag=True, help="With TRIAL: also the readings of its checks.")
@click.option(
    "--loose",
    is_flag=True,
    help="Also the loose readings of the trial's sittings; without TRIAL: all loose readings.",
)
@click.option(
    "--format",
    "form",
    type=click.Choice(FORMS),
    help="What to write (default: by the ending of --out, else csv).",
)
@click.option(
    "--out",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="PATH",
    help="Write to this file, whole or not at all (default: standard output).",
)
@click.option("--columns", is_flag=True, help="Only explain the columns.")
@bench_option
def export(
    trial: str | None,
    everything: bool,
    checks: bool,
    loose: bool,
    form: str | None,
    out: Path | None,
    columns: bool,
    bench: Path | None,
) -> int:
    """Write readings, one row each, with units, tags, the text as sent, and where they came from.

    Void, suspect and loose readings are marked as such: the column `counts` is 1 where a reading is
    in the results. In CSV a text that a spreadsheet would take for a formula has an apostrophe
    before it; JSON lines carry it as it is.

    Exit status 1, and a word beside, if a row that they rest on was changed after it was recorded.

    \b
    Example:  coatbench export gelcoat-1 --out readings.csv
              coatbench export --loose
    Next:     coatbench assign NUMBER gives a loose reading its place, if a check covered it.
    """
    from acquire.report.rows.export import COLUMNS, Scope, write_export, write_file  # noqa: PLC0415
    from acquire.store.reader import StoreReader  # noqa: PLC0415 - slow

    if columns:
        say(f"{column.name:<18}  {column.meaning}" for column in COLUMNS)
        return DONE
    if everything and (trial or checks or loose):
        raise click.UsageError("--all is every reading already; say it alone")
    if not (everything or trial or loose):
        raise click.UsageError("say which readings: a TRIAL, --all, or --loose")
    if checks and not trial:
        raise click.UsageError("--checks goes with a TRIAL")
    form = form or form_of(out)
    scope = Scope(trial, everything, checks, loose)
    load = Held(store_of(bench))
    with StoreReader(load.store) as store:
        if out is None:
            write_export(store, scope, form, output(), load)
        else:
            count = write_file(store, scope, form, out, load)
            say([f"written: {out}, {count} reading{'' if count == 1 else 's'}"])
    return fits(load.store, None if everything or trial is None else trial, load)


class Held:
    """Loads trials for what is written, each once, and knows what does not fit their seals."""

    def __init__(self, store: Path) -> None:
        # What results are made of lives until the command ends: to look for what died among it, as
        # often as Python does by itself, takes a tenth of the command's time.
        gc.set_threshold(_OBJECTS_BETWEEN)
        self.store = store
        self._records: dict[str, TrialRecord] = {}

    def __call__(self, trial: str) -> TrialRecord:
        from acquire.report.record.loading import load_trial  # noqa: PLC0415 - slow

        if trial not in self._records:
            self._records[trial] = load_trial(self.store, trial)
        return self._records[trial]

    def misfit(self, trial: str | None) -> str | None:
        """In a sentence, empty where all fits; None of what was not loaded."""
        found = self._records.get(trial or "")
        return None if found is None else found.misfit


def fits(store: Path, trial: str | None, load: Held | None = None) -> int:
    """Say loudly, beside whatever was written, if the store was changed after it was recorded.

    What was loaded by `load` was held against its seals then, and is not again.
    """
    from acquire.report.record.soundness import misfit_in  # noqa: PLC0415 - slow

    misfit = None if load is None else load.misfit(trial)
    if misfit is None:
        misfit = misfit_in(store, trial)
    if misfit:
        say([misfit], err=True)
    return NOT_DONE if misfit else DONE


def output() -> Sink:
    """Standard output: for a terminal in signs to be seen, else the bytes that a file would get."""
    stream = sys.stdout
    if stream is None:
        raise Misuse(
            "there is nowhere to write to",
            got="no standard output",
            wanted="a terminal, a pipe or a file",
            next_step="name a file with --out",
        )
    if stream.isatty():
        return Shown(stream)
    if isinstance(stream, io.TextIOWrapper):
        stream.reconfigure(encoding="utf-8", errors="strict", newline="")
    return stream


def form_of(out: Path | None) -> str:
    """The format that the ending of a file names; csv where it names none."""
    ending = out.suffix.lower().removeprefix(".") if out is not None else ""
    return ending if ending in FORMS else "csv"
