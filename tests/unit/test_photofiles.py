"""Recorded photos: whether they are still there and the same, and how they go into a package."""

from __future__ import annotations

import hashlib
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from acquire.cli.entry import run
from acquire.report.files.photofiles import State, look_at
from acquire.report.package.recompute import recompute
from acquire.report.package.writing import write_package
from tests.unit.worked_yard import PLAN, WorkedYard

Captured = pytest.CaptureFixture[str]


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[WorkedYard]:
    found = WorkedYard(tmp_path)
    (tmp_path / "pictures").mkdir()
    for name in ("a.jpg", "b.jpg", "c.jpg", "d.jpg"):
        path = tmp_path / "pictures" / name
        path.write_bytes(name.encode() * 100)
        found.call(
            "photo", trial="quay-1", zone="A1", stage="wash-5", path=str(path),
            sha256=hashlib.sha256(path.read_bytes()).hexdigest(), size_bytes=500,
        )  # fmt: skip
    pictures, elsewhere = tmp_path / "pictures", tmp_path / "elsewhere" / "deep"
    elsewhere.mkdir(parents=True)
    (pictures / "b.jpg").write_bytes(b"x" * 500)
    (pictures / "c.jpg").rename(elsewhere / "renamed.jpg")
    (pictures / "d.jpg").unlink()
    yield found
    found.close()


def test_each_photo_is_said_to_be_as_it_was_changed_moved_or_gone(
    yard: WorkedYard, tmp_path: Path
) -> None:
    rows = yard.shelf.worked.photos("quay-1")
    assert [one.state for one in look_at(rows)] == [
        State.SAME, State.CHANGED, State.GONE, State.GONE,
    ]  # fmt: skip
    found = look_at(rows, [tmp_path / "elsewhere"])
    assert [one.state for one in found] == [State.SAME, State.CHANGED, State.MOVED, State.GONE]
    assert found[2].file == tmp_path / "elsewhere" / "deep" / "renamed.jpg"
    assert "CHANGED since it was recorded" in found[1].words
    assert "moved to" in found[2].words
    assert "coatbench photo quay-1 --check --in FOLDER" in found[3].words


def test_a_package_takes_along_the_pictures_that_are_as_they_were(
    yard: WorkedYard, tmp_path: Path
) -> None:
    yard.plug("shore")
    yard.check("shore")
    yard.begin(text=PLAN)
    yard.press("shore", "82.1")
    out = tmp_path / "quay.zip"
    bare = write_package(yard.bench.store, "quay-1", out)
    assert (bare.photos, bare.lost) == (0, ())
    packed = write_package(
        yard.bench.store, "quay-1", out, photos=True, folders=[tmp_path / "elsewhere"]
    )
    assert packed.photos == 2
    assert ["CHANGED" in packed.lost[0], "GONE" in packed.lost[1]] == [True, True]
    with zipfile.ZipFile(out) as file:
        kept = [name for name in file.namelist() if name.startswith("photos/")]
        assert {file.read(name)[:5] for name in kept} == {b"a.jpg", b"c.jpg"}
    assert recompute(out).is_same
    # A folder of an earlier package with pictures gives way to the next one.
    folder = tmp_path / "quay-data"
    write_package(yard.bench.store, "quay-1", folder, photos=True)
    write_package(yard.bench.store, "quay-1", folder)
    assert not (folder / "photos").exists()


def test_the_command_ends_with_1_where_a_photo_is_no_more_as_it_was(
    yard: WorkedYard, tmp_path: Path, capsys: Captured
) -> None:
    bench = tmp_path / "bench.toml"
    bench.write_text('[bench]\nname = "Quay"\nstore = "bench.sqlite"\n', encoding="utf-8")
    command = ["--bench", str(bench), "photo", "quay-1"]
    assert run([*command, "--check"]) == 1
    told = capsys.readouterr().out
    assert [told.count(word) for word in ("as it was recorded", "CHANGED", "GONE")] == [1, 1, 2]
    assert run(command) == 2
    assert run([*command, str(bench), "--check"]) == 2
