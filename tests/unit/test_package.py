"""The data package: it computes to the same figures elsewhere, and what was changed is named."""

from __future__ import annotations

import json
import re
import zipfile
from collections.abc import Mapping
from pathlib import Path

import pytest

from acquire.cli.entry import run
from acquire.errors import Misuse
from acquire.report.package.recompute import Recomputed, recompute
from acquire.report.package.refill import refill
from acquire.report.package.shape import shapes
from acquire.report.package.writing import write_package
from acquire.store import rows as r
from acquire.store.reader import StoreReader
from acquire.store.rows import TABLES
from acquire.store.verify import verify
from tests.unit.packed import as_csv, package_of, repacked, with_cell

Captured = pytest.CaptureFixture[str]


@pytest.fixture(scope="module")
def package(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return package_of(tmp_path_factory.mktemp("small"))


def _texts(package: Path) -> dict[str, str]:
    with zipfile.ZipFile(package) as file:
        return {name: file.read(name).decode() for name in file.namelist()}


def test_another_copy_computes_every_figure_to_the_last_digit(
    package: Path, tmp_path: Path, capsys: Captured
) -> None:
    out = tmp_path / "new.html"
    assert run(["recompute", str(package), "--out", str(out)]) == 0
    told = capsys.readouterr().out
    assert "SAME: every figure is what the rows give" in told
    assert re.search(r"results\.csv: [1-9][\d,]+ figures: the same", told)
    assert re.search(r"report\.html: [1-9][\d,]+ figures: the same", told)
    assert "4 checks: judged again" in told
    body, was = out.read_bytes().decode(), _texts(package)["report.html"]
    # What has nothing to do with the trial is counted in its store and not in the package.
    elsewhere = re.compile(r'<p class="quiet">1 other loose reading .*?</p>')
    assert elsewhere.search(was)
    cut = '<section id="provenance"'
    assert body.partition(cut)[0] == elsewhere.sub("", was).partition(cut)[0]


def test_a_trial_that_is_nobodys_business_is_not_in_it(package: Path) -> None:
    everything = "".join(_texts(package).values())
    assert "Unpublished Wax" not in everything
    assert "nobody's business" not in everything
    assert "study-1" in everything
    said = json.loads(_texts(package)["datapackage.json"])
    rows = {x["table"]: x["rows"] for x in said["resources"] if "table" in x}
    assert rows["trial"] == 2
    assert rows["run"] == 3
    # Of the study, of the trial, of the checks around both, and one loose after its last stage.
    assert rows["reading"] == 15 + 12 + 16 + 1


def test_every_table_of_the_store_has_its_columns_units_and_keys(package: Path) -> None:
    said = json.loads(_texts(package)["datapackage.json"])
    assert said["$schema"] == "https://datapackage.org/profiles/2.0/datapackage.json"
    tables = {x["table"]: x for x in said["resources"] if "table" in x}
    assert set(tables) == set(TABLES.values())
    for kind, name in TABLES.items():
        assert [f["name"] for f in tables[name]["schema"]["fields"]] == list(kind._fields)
    fields = {f["name"]: f for f in tables["reading"]["schema"]["fields"]}
    assert fields["at_utc_ns"]["unit"] == "ns"
    assert fields["value"] == {"name": "value", "type": "number", "unit": "in the column unit"}
    assert fields["raw"]["format"] == "binary"
    assert fields["role"]["constraints"]["enum"] == ["run", "check", "loose"]
    keys = {k["fields"][0]: k["reference"] for k in tables["pass_end"]["schema"]["foreignKeys"]}
    assert keys["check_id"] == {"resource": "check-judgement", "fields": ["check_id"]}


def test_the_same_store_gives_the_same_bytes_and_a_folder_the_same_files(
    package: Path, tmp_path: Path
) -> None:
    store = package.parent / "bench.sqlite"
    write_package(store, "small", tmp_path / "again.zip")
    assert (tmp_path / "again.zip").read_bytes() == package.read_bytes()
    write_package(store, "small", tmp_path / "folder")
    files = {
        p.relative_to(tmp_path / "folder").as_posix(): p.read_bytes().decode()
        for p in (tmp_path / "folder").rglob("*")
        if p.is_file()
    }
    assert files == _texts(package)
    for taken in (store, package.parent):
        with pytest.raises(Misuse, match="cannot be written"):
            write_package(store, "small", taken)


def test_a_changed_number_names_its_file_its_row_and_each_figure_that_differs(
    package: Path, tmp_path: Path, capsys: Captured
) -> None:
    texts = _texts(package)
    place = next(
        k for k, line in enumerate(texts["store/reading.csv"].splitlines()[1:]) if ",84.1," in line
    )
    bad = repacked(package, tmp_path / "bad.zip", {
        "store/reading.csv": with_cell(place, "value", "84.9"),
        "results.csv": with_cell(0, "high", "9.25"),
    }, sums=False)  # fmt: skip
    assert run(["recompute", str(bad)]) == 1
    told = capsys.readouterr().out
    assert "store/reading.csv is not the file that was packaged" in told
    number = texts["store/reading.csv"].splitlines()[place + 1].split(",")[0]
    assert f"  reading {number} was changed\n" in told
    assert "results.csv row 1 (control, gloss20, 20, cured, brine, none), high: 9.25, and" in told
    assert f"readings.csv row {int(number) - 26} (" not in told
    assert "NOT THE SAME" in told
    # With digests that were made to fit, the row and the figures still tell.
    fitting = repacked(package, tmp_path / "fit.zip", {
        "store/reading.csv": with_cell(place, "value", "84.9"),
    }, sums=True)  # fmt: skip
    found = recompute(fitting)
    assert found.files == ()
    assert found.rows == (f"reading {number} was changed",)
    assert any(f"{number}, gloss20" in text for one in found.compared for text in one.unlike)


def test_a_page_in_other_words_is_told_apart_from_figures_that_differ(
    package: Path, tmp_path: Path, capsys: Captured
) -> None:
    def reworded(page: str) -> str:
        assert "Who won what" in page
        return page.replace("Who won what", "Who came first")

    other = repacked(package, tmp_path / "words.zip", {"report.html": reworded}, sums=True)
    assert run(["recompute", str(other)]) == 1
    told = capsys.readouterr().out.splitlines()
    assert told[-1].startswith("NOT THE SAME: the page alone, see above; every figure of the")
    both = repacked(package, tmp_path / "both.zip", {
        "report.html": reworded, "results.csv": with_cell(0, "high", "9.25"),
    }, sums=True)  # fmt: skip
    assert run(["recompute", str(both)]) == 1
    assert capsys.readouterr().out.splitlines()[-1] == "NOT THE SAME: see above"


def _refused(package: Path, out: Path, changed: Mapping[str, str]) -> Recomputed:
    texts = {name: (lambda _, new=new: new) for name, new in changed.items()}
    return recompute(repacked(package, out, texts, sums=True))


def test_a_forged_reading_without_a_pass_is_refused_by_the_stores_guards(
    package: Path, tmp_path: Path
) -> None:
    lines = _texts(package)["store/reading.csv"].splitlines()
    head = lines[0].split(",")
    row = next(line for line in lines[1:] if ",run,1," in line and ",A2," in line).split(",")
    forged = dict(zip(head, row, strict=True)) | {
        "id": "900",
        "value": "99.9",
        "value_real": "99.9",
    }
    for change, why in (
        ({"check_id": ""}, "may not count without a valid pass"),
        ({"check_id": "1", "serial": "other"}, "may not count without a valid pass"),
        ({"check_id": "77"}, "may not count without a valid pass"),
        ({"unchecked": "1", "check_id": ""}, "only a trial planned as unchecked"),
    ):
        line = ",".join((forged | change)[name] for name in head)
        text = "\n".join((*lines, line)) + "\n"
        found = _refused(package, tmp_path / "forged.zip", {"store/reading.csv": text})
        assert found.rows == ("reading 900 was put in",)
        assert found.refused[0].startswith("reading 900: ")
        assert why in found.refused[0]
        assert found.compared == ()
        assert not found.is_same


def test_a_missing_row_is_named_and_what_names_it_is_refused(package: Path, tmp_path: Path) -> None:
    text = _texts(package)["store/check_judgement.csv"]
    kept = "".join(line for line in text.splitlines(True) if not line.startswith("1,"))
    found = _refused(package, tmp_path / "less.zip", {"store/check_judgement.csv": kept})
    assert "check_judgement 1 is missing" in found.rows
    assert found.refused


def test_a_store_filled_from_a_package_has_all_of_its_guards_and_seals(tmp_path: Path) -> None:
    rows = {name: [] for name in shapes()} | {
        "sitting": [(5_000_000, 7, "Harbour"), (9_000_000, 8, "Harbour")]
    }  # fmt: skip
    assert refill(tmp_path / "a.sqlite", rows) == ()
    with StoreReader(tmp_path / "a.sqlite") as store:
        assert store.other_guards() == ([], [])
        assert verify(store).misfit is None
        assert store.one("SELECT max(id) FROM sitting") == 9_000_000
    twice = rows | {"sitting_end": [(1, 9, 5_000_000, "x"), (2, 9, 5_000_000, "y")]}
    assert "sitting_end 2: " in refill(tmp_path / "b.sqlite", twice)[0]


def test_every_table_comes_after_those_that_it_needs() -> None:
    names = list(shapes())
    assert set(names) == set(TABLES.values())
    for shape in shapes().values():
        assert all(names.index(key.table) < names.index(shape.name) for key in shape.keys)
    assert names.index("check_judgement") < names.index("reading")
    assert names.index("pass_end") < names.index("reading")
    assert shapes()["certificate_file"].file_column == "bytes"
    assert shapes()["reading"].kind is r.ReadingRow


def test_cells_that_would_be_formulas_are_texts_and_come_back(package: Path) -> None:
    text = _texts(package)["store/note.csv"]
    assert "'=cmd|" in text
    assert as_csv([["a"]]) == '"a"\n'
