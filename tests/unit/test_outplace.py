"""Whatever a person names with --out: a store, what lies beside it and settings files stay."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from acquire.cli.entry import run
from acquire.errors import Misuse
from acquire.report.files.outplace import FORMS, require_place
from acquire.report.files.wholefile import whole_file
from acquire.settings import config_dir
from tests.yard import Yard

BESIDE = ("-wal", "-shm", "-journal", ".lock", ".door", ".door.new")
SOUND = {
    "csv": b"reading_id,at,trial\n",
    "jsonl": b'{"reading_id": 1}\n',
    "results-csv": b"result,trial,measure\n",
    "results-jsonl": b'{"result": "pair"}\n',
    "html": b"<!DOCTYPE html>\n<html>",
    "tape": b'{"tape": 1}\n',
    "record-text": b"Coatbench verification record\n",
    "record-json": b'{\n "verification": "coatbench"\n}',
}


@pytest.fixture
def bench(tmp_path: Path) -> tuple[list[str], Path]:
    """The option of a bench, and its store with a run and its tapes."""
    text = (config_dir() / "boatyard" / "bench.toml").read_text(encoding="utf-8")
    (tmp_path / "bench.toml").write_text(text.replace("boatyard.sqlite", "bench.sqlite"))
    yard = Yard(tmp_path)
    yard.plug("shore")
    yard.check("shore")
    yard.begin()
    yard.press("shore", "80.1")
    yard.close()
    return ["--bench", str(tmp_path / "bench.toml")], yard.bench.store


@pytest.fixture
def database(tmp_path: Path) -> Path:
    path = tmp_path / "idle.sqlite"
    with closing(sqlite3.connect(path)) as found:
        found.execute("CREATE TABLE dear (x)")
    return path


def refusal(out: Path, form: str = "csv", store: Path | None = None) -> Misuse:
    with pytest.raises(Misuse, match="cannot be written") as found:
        require_place(out, form, store)
    assert str(out) in found.value.what
    assert found.value.got
    assert found.value.wanted
    assert "--out" in found.value.next_step
    return found.value


def test_a_page_says_by_its_ending_what_it_is(
    bench: tuple[list[str], Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    option, _ = bench
    for name in ("page.doc", "page"):
        assert run([*option, "report", "gelcoat", "--out", str(tmp_path / name)]) == 1
        assert "wanted  an ending that says what it is: .html" in capsys.readouterr().err
        assert not (tmp_path / name).exists()
    assert run([*option, "report", "gelcoat", "--out", str(tmp_path / "page.HTML")]) == 0


@pytest.mark.parametrize("command", ["export", "report"])
def test_neither_command_replaces_the_store_by_whatever_name(
    bench: tuple[list[str], Path],
    tmp_path: Path,
    command: str,
    capsys: pytest.CaptureFixture[str],
) -> None:
    option, store = bench
    (tmp_path / "soft.csv").symlink_to(store)
    (tmp_path / "far").symlink_to(tmp_path)
    (tmp_path / "hard.csv").hardlink_to(store)
    (tmp_path / "log.csv").symlink_to(f"{store}-wal")
    outs = [store, *(tmp_path / name for name in ("soft.csv", "hard.csv", "log.csv"))]
    outs += [tmp_path / "far" / store.name, *(Path(f"{store}{tail}") for tail in BESIDE)]
    outs += [tmp_path / "bench.toml", tmp_path / "new.toml"]
    before = [path.read_bytes() for path in (store, tmp_path / "bench.toml")]
    for out in outs:
        assert run([*option, command, "gelcoat", "--out", str(out)]) != 0, out
        told = capsys.readouterr().err
        assert "cannot be written" in told
        assert all(word in told for word in ("got", "wanted", "next"))
    assert [path.read_bytes() for path in (store, tmp_path / "bench.toml")] == before
    heads = [path.read_bytes()[:10] for path in tmp_path.iterdir() if path.is_file()]
    assert not {b"reading_id", b"<!DOCTYPE "} & set(heads)


def test_what_begins_with_the_name_of_the_store_is_refused_also_where_its_link_leads(
    database: Path, tmp_path: Path
) -> None:
    named = tmp_path / "bench" / "stock.sqlite"
    named.parent.mkdir()
    named.symlink_to(database)
    for out in (
        named,
        database,
        tmp_path / "idle.sqlite-wal",
        tmp_path / "idle.sqlite.copy.csv",
        tmp_path / "IDLE.sqlite-shm",
        named.with_name("stock.sqlite.door"),
    ):
        assert "store of the bench" in refusal(out, store=named).got
    require_place(tmp_path / "idle.csv", "csv", named)
    require_place(named.with_name("idle.sqlite.csv"), "csv", named)


def test_any_database_and_what_lies_beside_it_are_refused_by_every_writer(
    database: Path, tmp_path: Path
) -> None:
    other = tmp_path / "data.csv"
    other.hardlink_to(database)
    before = database.read_bytes()
    for out in (database, other, *(Path(f"{database}{tail}") for tail in BESIDE)):
        for form in FORMS:
            assert "database" in refusal(out, form).got
        with pytest.raises(Misuse, match="cannot be written"), whole_file(out) as file:
            file.write("new")
    assert database.read_bytes() == before
    assert sorted(p.name for p in tmp_path.iterdir()) == ["data.csv", "idle.sqlite"]


def test_the_name_of_a_settings_file_is_refused_also_behind_a_link(tmp_path: Path) -> None:
    link = tmp_path / "out.csv"
    link.symlink_to(tmp_path / "profile.TOML")
    for out in (tmp_path / "profile.toml", link):
        assert ".toml" in refusal(out).got


@pytest.mark.parametrize("form", FORMS)
def test_a_file_takes_the_place_of_one_of_its_kind_or_of_an_empty_one_alone(
    form: str, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    require_place(out, form)
    out.write_bytes(b"")
    require_place(out, form)
    for kind, data in SOUND.items():
        out.write_bytes(data)
        if kind == form:
            require_place(out, form)
            continue
        refused = refusal(out, form)
        assert refused.got == FORMS[kind].name
        assert FORMS[form].name in refused.wanted
        assert "name another file" in refused.next_step
        assert "remove this one" in refused.next_step
    for data in (
        b"\x89PNG\r\n",
        b"dear diary",
        b"id,reading_id\n",
        b"{}",
        bytes(range(256)) * 4,
        b"\n",
    ):
        out.write_bytes(data)
        assert refusal(out, form).got == "a file of another kind is there"


@pytest.mark.parametrize(
    ("form", "data"),
    [
        ("csv", b"\xef\xbb\xbfreading_id;at"),
        ("csv", b'"reading_id"\t"at"'),
        ("jsonl", b'{ "reading_id":1}'),
        ("html", b"\n<!doctype HTML>"),
    ],
)
def test_what_another_program_saved_anew_is_still_of_its_kind(
    form: str, data: bytes, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    out.write_bytes(data)
    require_place(out, form)


def test_a_tape_is_not_cut_over_a_store(
    bench: tuple[list[str], Path], capsys: pytest.CaptureFixture[str]
) -> None:
    option, store = bench
    before = store.read_bytes()
    assert run([*option, "tape", "cut", "1", "--out", str(store)]) != 0
    assert "database" in capsys.readouterr().err
    assert store.read_bytes() == before
