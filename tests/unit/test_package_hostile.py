"""Packages of unknown origin: one clear message, nothing written, nothing followed."""

from __future__ import annotations

import io
import json
import os
import stat
import zipfile
from collections.abc import Callable
from pathlib import Path

import pytest

from acquire.cli.entry import run
from acquire.errors import Misuse, NotFound, SettingsError
from acquire.report.package.recompute import recompute
from acquire.report.package.source import opened
from tests.unit.packed import package_of, repacked, with_cell

Captured = pytest.CaptureFixture[str]
Member = zipfile.ZipInfo


@pytest.fixture(scope="module")
def package(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return package_of(tmp_path_factory.mktemp("small"))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Where the bad package lies, alone; whatever is written beside it is seen."""
    made = tmp_path / "deep" / "here"
    made.mkdir(parents=True)
    return made


def _zipped(folder: Path, *members: tuple[Member | str, bytes]) -> Path:
    out = folder / "bad.zip"
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as file:
        for name, content in members:
            file.writestr(name, content)
    return out


def _everything(folder: Path) -> list[str]:
    return sorted(p.relative_to(folder).as_posix() for p in folder.rglob("*"))


@pytest.mark.parametrize(
    "name",
    ["../out.csv", "/etc/out.csv", "store/../../out.csv", "a\\b.csv", "c:/x.csv", "a//b", "./x",
     "x\n.csv", "a/b/c/d/e.csv", "n" * 300],
)  # fmt: skip
def test_a_path_that_leads_elsewhere_is_refused(name: str, folder: Path) -> None:
    bad = _zipped(folder, ("datapackage.json", b"{}"), (name, b"id\n"))
    before = _everything(folder.parent.parent)
    with pytest.raises(Misuse, match="names a file outside of itself"):
        recompute(bad)
    assert _everything(folder.parent.parent) == before


def test_links_and_devices_are_refused_in_zip_and_folder(folder: Path) -> None:
    link = Member("store/reading.csv")
    link.create_system = 3
    link.external_attr = (stat.S_IFLNK | 0o777) << 16
    with pytest.raises(Misuse, match="a link or a device"):
        recompute(_zipped(folder, ("datapackage.json", b"{}"), (link, b"/etc/passwd")))
    (folder / "p").mkdir()
    (folder / "p" / "datapackage.json").symlink_to("/etc/passwd")
    with pytest.raises(Misuse, match="a link or a device"):
        recompute(folder / "p")
    (folder / "p" / "datapackage.json").unlink()
    (folder / "q").mkdir()
    (folder / "p" / "sub").symlink_to(folder / "q")
    with pytest.raises(Misuse, match="a link or a device"):
        recompute(folder / "p")


def test_a_claim_of_more_than_any_package_has_is_refused_before_a_byte_is_read(
    folder: Path,
) -> None:
    bad = _zipped(folder, ("datapackage.json", b"{}"), ("store/tape.csv", b"x" * 1000))
    raw = bytearray(bad.read_bytes())
    # The list at the end says how large a member is (APPNOTE 4.3.12, offset 24).
    at = raw.rindex(b"PK\x01\x02")
    raw[at + 24 : at + 28] = (0xFFFFFFF0).to_bytes(4, "little")
    bad.write_bytes(raw)
    with pytest.raises(Misuse, match="too large to be read"):
        recompute(bad)


def test_a_member_that_is_other_than_its_list_says_is_damaged(folder: Path) -> None:
    bad = _zipped(folder, ("datapackage.json", b"{}" + b" " * 1000))
    raw = bytearray(bad.read_bytes())
    at = raw.rindex(b"PK\x01\x02")
    raw[at + 24 : at + 28] = (10).to_bytes(4, "little")
    bad.write_bytes(raw)
    with pytest.raises(Misuse, match="is damaged"):
        recompute(bad)
    raw[40] ^= 0xFF
    bad.write_bytes(raw)
    with pytest.raises(Misuse):
        recompute(bad)


def test_a_bomb_of_zeros_is_not_unpacked(folder: Path) -> None:
    with zipfile.ZipFile(folder / "bad.zip", "w", zipfile.ZIP_DEFLATED) as file:
        file.writestr("datapackage.json", "{}")
        with file.open("store/tape.csv", "w") as member:
            for _ in range(20):
                member.write(bytes(1 << 20))
    assert (folder / "bad.zip").stat().st_size < 100_000
    before = _everything(folder)
    with pytest.raises(Misuse, match="none of a package"):
        recompute(folder / "bad.zip")
    assert _everything(folder) == before


@pytest.mark.parametrize(
    ("content", "what"),
    [
        (b"", "cannot be read"),
        (b"\xff\xfe", "cannot be read"),
        (b"[" * 200_000, "cannot be read"),
        (b"1" + b"0" * 100_000, "cannot be read"),
        (b"[]", "none of a package"),
        (b'{"resources": 5}', "none of a package"),
        (b'{"resources": []}', "none of Coatbench"),
        (b'{"resources": [], "coatbench": {"trial": 7}}', "none of Coatbench"),
        (b'{"resources": [], "coatbench": {"trial": "a", "format": 99, "schema_steps": []}}',
         "another Coatbench"),
        (b'{"resources": [], "coatbench": {"trial": "a", "format": 1, "schema_steps": ["m999"]}}',
         "another Coatbench"),
        (b'{"resources": [{"path": "../x"}], "coatbench": {"trial": "a", "format": 1, '
         b'"schema_steps": []}}', "outside of itself"),
        (b'{"resources": [5], "coatbench": {"trial": "a", "format": 1, "schema_steps": []}}',
         "a resource without a path"),
    ],
)  # fmt: skip
def test_a_descriptor_that_is_none_is_told(content: bytes, what: str, folder: Path) -> None:
    with pytest.raises(Misuse, match=what) as caught:
        recompute(_zipped(folder, ("datapackage.json", content), ("SHA256SUMS", b"")))
    assert len(str(caught.value)) < 700


def test_what_is_no_package_at_all_is_told(folder: Path, capsys: Captured) -> None:
    (folder / "x.zip").write_bytes(b"PK\x03\x04 and no more")
    assert run(["recompute", str(folder / "x.zip")]) == 1
    assert "is no zip file that can be read" in capsys.readouterr().err
    with pytest.raises(NotFound, match="there is no package"):
        recompute(folder / "none.zip")
    with pytest.raises(Misuse, match=r"there is no datapackage\.json"):
        recompute(folder)
    twice = io.BytesIO()
    with zipfile.ZipFile(twice, "w") as file:
        file.writestr("a.csv", "1")
        with pytest.warns(UserWarning, match="Duplicate name"):
            file.writestr("a.csv", "2")
    (folder / "x.zip").write_bytes(twice.getvalue())
    with pytest.raises(Misuse, match="is in the package twice"):
        recompute(folder / "x.zip")


_READING = "store/reading.csv"


@pytest.mark.parametrize(
    ("path", "change", "wanted"),
    [
        (_READING, with_cell(0, "id", "0"), "a number from 1 on"),
        (_READING, with_cell(0, "id", "2"), "each number once"),
        (_READING, with_cell(0, "at_utc_ns", "9" * 40), "an integer of 64 bits"),
        (_READING, with_cell(0, "value_real", "1e999"), "a finite number"),
        (_READING, with_cell(0, "value", "1E+999999999"), "a decimal number"),
        (_READING, with_cell(0, "value", "=HYPERLINK(1)"), "a decimal number"),
        (_READING, with_cell(0, "raw", "***"), "bytes in base64"),
        (_READING, lambda text: text.replace("connection_id", "surprise", 1), "connection_id"),
        (_READING, lambda text: text + "1,2\n", "as the header has"),
        (_READING, lambda text: text + '"', "RFC 4180"),
        (_READING, lambda text: "id\n" + "9" * 40 + "\n", "connection_id"),
        ("datapackage.json", lambda text: text.replace('"table": "note"', '"table": "sqlite"'),
         "a table of the store"),
    ],
)  # fmt: skip
def test_rows_of_a_wrong_form_are_told_with_their_place(
    path: str, change: Callable[[str], str], wanted: str, package: Path, folder: Path
) -> None:
    bad = repacked(package, folder / "bad.zip", {path: change}, sums=True)
    with pytest.raises(SettingsError) as caught:
        recompute(bad)
    assert wanted in str(caught.value)
    assert len(caught.value.faults) <= 20
    assert len(str(caught.value)) < 6000


def test_a_plan_that_is_none_and_a_table_that_is_gone_are_told(package: Path, folder: Path) -> None:
    bad = repacked(
        package, folder / "bad.zip", {"store/trial.csv": with_cell(1, "text", "x = 1")}, sums=True
    )
    with pytest.raises(Misuse, match="cannot be computed"):
        recompute(bad)
    bad = repacked(
        package, folder / "bad.zip", {"store/connection.csv": lambda _: None}, sums=False
    )
    found = recompute(bad)
    assert "store/connection.csv is missing" in found.files
    assert "connection 1 is missing" in found.rows
    assert found.refused


def test_an_extra_file_is_named_and_a_page_of_somebody_elses_is_not_replaced(
    package: Path, folder: Path
) -> None:
    with zipfile.ZipFile(package) as file:
        members = [(name, file.read(name)) for name in file.namelist()]
    said = json.loads(dict(members)["datapackage.json"])
    assert said["coatbench"]["trial"] == "small"
    bad = _zipped(folder, *members, ("store/extra.csv", b"1"))
    (folder / "mine.html").write_text("my own notes")
    with pytest.raises(Misuse, match="cannot be written"):
        recompute(bad, folder / "mine.html")
    assert (folder / "mine.html").read_text() == "my own notes"
    assert sorted(os.listdir(folder)) == ["bad.zip", "mine.html"]
    with opened(bad) as found:
        assert "store/extra.csv" in found.sizes
