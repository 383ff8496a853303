"""Packages for tests: of a small trial in a store with more, and of it with something changed."""

from __future__ import annotations

import csv
import hashlib
import io
import zipfile
from collections.abc import Callable, Mapping
from pathlib import Path

from acquire.model import Quantity, StudyKind
from acquire.report.package.writing import SUMS, write_package
from acquire.study.writing import ALONE, Wanted, study_text
from tests.unit.reported import SMALL, SMALL_VALUES, read_stage
from tests.yard import TRIAL, Yard

SECRET = TRIAL.replace('id = "gelcoat"', 'id = "secret"').replace("Brine Shield", "Unpublished Wax")


def crowded(folder: Path) -> Yard:
    """`SMALL` after a study that it uses, in one sitting with a trial that is nobody's business."""
    yard = Yard(folder)
    yard.plug("shore")
    yard.check("shore")
    wanted = Wanted(
        StudyKind.REPEATABILITY, "shore", Quantity.GLOSS, ("20",), 3, 5, (), "a tile of gelcoat"
    )
    values = [[f"{80 + spot + off}" for off in (0.1, 0.0, 0.2, 0.1, 0.2)] for spot in range(3)]
    read_stage(yard, ALONE, study_text(1, wanted), values)
    yard.check("shore")
    read_stage(yard, "bare", SECRET, [("70.1", "70.2"), ("71.1", "71.2")])
    yard.press("shore", "66.6")
    yard.act(lambda at: yard.acts.note("nobody's business", "secret", "", at))
    read_stage(yard, "bare", SMALL, [SMALL_VALUES[z, "bare"] for z in ("A1", "A2")])
    yard.act(lambda at: yard.acts.note("=cmd|\" \r\n'", "small", "bare", at))
    yard.check("shore", tile="93.3")
    read_stage(yard, "cured", SMALL, [SMALL_VALUES[z, "cured"] for z in ("A1", "A2")])
    yard.clock.advance(2)
    yard.press("shore", "84.1")
    yard.check("shore", tile="93.3")
    return yard


def package_of(folder: Path) -> Path:
    """A zip of the small trial of a crowded store."""
    yard = crowded(folder)
    yard.close()
    out = folder / "small.zip"
    write_package(yard.bench.store, "small", out)
    return out


def repacked(
    package: Path, out: Path, changed: Mapping[str, Callable[[str], str | None]], *, sums: bool
) -> Path:
    """The package with some texts changed (None takes the file out), and with sums that fit."""
    found: dict[str, bytes] = {}
    with zipfile.ZipFile(package) as file:
        for name in file.namelist():
            text: bytes | None = file.read(name)
            if name in changed and text is not None:
                new = changed[name](text.decode())
                text = None if new is None else new.encode()
            if text is not None:
                found[name] = text
    if sums:
        was = found["datapackage.json"].decode()
        with zipfile.ZipFile(package) as file:
            for name in changed:
                if name in found and name != "datapackage.json":
                    was = was.replace(_sha(file.read(name)), _sha(found[name]))
        found["datapackage.json"] = was.encode()
        names = [name for name in found if name != SUMS]
        found[SUMS] = "".join(f"{_sha(found[n])}  {n}\n" for n in names).encode()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as file:
        for name, content in found.items():
            file.writestr(name, content)
    return out


def with_cell(row: int, column: str, value: str) -> Callable[[str], str]:
    """A change of one cell of a CSV file; rows are counted from 0 behind the header."""

    def change(text: str) -> str:
        rows = list(csv.reader(io.StringIO(text, newline="")))
        rows[row + 1][rows[0].index(column)] = value
        return as_csv(rows)

    return change


def as_csv(rows: list[list[str]]) -> str:
    out = io.StringIO(newline="")
    csv.writer(out, lineterminator="\n", quoting=csv.QUOTE_ALL).writerows(rows)
    return out.getvalue()


def _sha(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()
