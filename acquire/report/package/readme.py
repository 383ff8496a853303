"""What a package says of itself in words. Pure; any thread."""

from __future__ import annotations

from collections.abc import Sequence

from acquire import __version__
from acquire.cautions import cautions
from acquire.report.answers.coverage import UNCHECKED
from acquire.report.markdown.escaping import escaped
from acquire.report.record.record import TrialRecord

_FILES = """
| file | what it is |
| --- | --- |
| `datapackage.json` | every file with size and SHA-256; each column with its type and unit |
| `report.html` | the page of results, for any browser |
| `results.csv` | decisions, pairs, places, wash lives: a row each |
| `readings.csv` | every reading of the trial, its checks and around it, with all tags: a row each |
| `store/*.csv` | the rows of the store, table by table, as they were recorded |
| `files/*` | files that are kept in the store, such as certificates, named by their SHA-256 |
| `photos/*` | pictures, if taken along, by their SHA-256; of what says `store/photo.csv` |
| `row-digests.csv` | for each row of the store a digest, by which a changed one is found |
| `SHA256SUMS` | SHA-256 of every file, as `sha256sum --check` takes them |
"""

_READING = """
The package follows the open standard Data Package (datapackage.org); any program that knows it can
read the tables, and so can a spreadsheet. Files are UTF-8, CSV by RFC 4180. An empty cell is no
value. Times are nanoseconds since 1970 (UTC). Bytes are base64. A text that a spreadsheet would
take for a formula has an apostrophe before it that is not part of it; one that begins with an
apostrophe has one more.

Another copy of Coatbench reads it back, computes every result anew and says number by number
whether they are the same:

    coatbench recompute FOLDER-OR-ZIP --out recomputed.html

It puts the rows into a fresh store, whose guards are those of any store: a reading without a valid
check before it is refused there, too.
"""

_SHOWS = """
What this shows: that the results follow from these rows, and that no file or row of the package was
changed by accident. What it cannot show by itself is that the rows were not made up before the
package was written, since whoever can write files can also write digests. For that the seal of the
store is named below: whoever has the store can show by `coatbench store verify --seal` that it
still has all that was recorded up to that seal.
"""


def readme(record: TrialRecord, others: Sequence[str], rows: int, keeps_key: bool) -> str:
    """README.md of a package. `others` are trials of which rows are in it as well."""
    plan = record.plan
    lines = [
        f"# Data of trial {escaped(plan.id)}: {escaped(plan.title)}",
        f"Written by Coatbench {__version__} from {rows} rows of its store.",
    ]
    if plan.unchecked:
        lines.append(f"**Unchecked trial.** {escaped(UNCHECKED)}")
    if record.misfit:
        lines.append(f"**{escaped(record.misfit)}**")
    lines += [_FILES.strip(), "## Reading it", _READING.strip(), "## What it shows"]
    lines.append(_SHOWS.strip())
    if record.seal:
        lines.append(f"Seal of the store: `{record.seal}`")
    lines.append(
        "The bytes of a line are whole, with whatever else was read on it in these days. Paths and "
        "ports stand as they were recorded."
    )
    if keeps_key:
        lines.append("The trial is blind and not unsealed: its key is told of, and left out.")
    if others:
        lines.append(
            "Rows of other trials that this one rests on (a study whose scatter it uses, or what "
            f"stood in a trace before its pulls): {escaped(', '.join(others))}."
        )
    lines.append("## Cautions")
    lines.append("\n".join(f"- {line}" for line in cautions({m.quantity for m in plan.measures})))
    lines.append("Results describe the tested specimens under the tested conditions.")
    return "\n\n".join(lines) + "\n"
