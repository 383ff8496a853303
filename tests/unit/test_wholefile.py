"""A file that is written takes the place of a file or of nothing, and of nothing else."""

from __future__ import annotations

import os
import socket
import stat
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import pytest

from acquire.errors import Misuse
from acquire.report.files.wholefile import whole_file


def refusal(out: Path) -> Misuse:
    with pytest.raises(Misuse, match="cannot be written") as found, whole_file(out) as file:
        file.write("new")
    assert str(out) in found.value.what
    assert found.value.got
    assert "--out" in found.value.next_step
    return found.value


@contextmanager
def terminal() -> Iterator[Path]:
    """A device in a folder that holds nothing else: no fault of ours could put a file there."""
    ends = os.openpty()
    try:
        yield Path(os.ttyname(ends[1]))
    finally:
        for end in ends:
            os.close(end)


def test_a_pipe_a_socket_a_folder_and_a_device_are_refused_and_stay(tmp_path: Path) -> None:
    pipe, door, folder = tmp_path / "pipe", tmp_path / "socket", tmp_path / "folder"
    os.mkfifo(pipe)
    folder.mkdir()
    with closing(socket.socket(socket.AF_UNIX)) as listener, terminal() as device:
        listener.bind(str(door))
        found = {path: refusal(path).got for path in (pipe, door, folder, device)}
        assert device.is_char_device()
    assert found == {pipe: "a pipe", door: "a socket", folder: "a folder", device: "a device"}
    assert pipe.is_fifo()
    assert sorted(p.name for p in tmp_path.iterdir()) == ["folder", "pipe", "socket"]


def test_a_link_stays_and_the_file_it_leads_to_is_written(tmp_path: Path) -> None:
    real, link = tmp_path / "pages" / "real.html", tmp_path / "link.html"
    real.parent.mkdir()
    link.symlink_to(Path("pages") / "real.html")
    for text in ("first", "second"):
        with whole_file(link) as file:
            file.write(text)
        assert link.is_symlink()
        assert real.read_text() == text
    assert [p.name for p in real.parent.iterdir()] == ["real.html"]


def test_a_link_to_a_device_or_in_a_circle_is_refused_and_stays(tmp_path: Path) -> None:
    device, circle = tmp_path / "device", tmp_path / "circle"
    circle.symlink_to(circle)
    with terminal() as real:
        device.symlink_to(real)
        assert refusal(device).got == "a device"
    assert refusal(circle).got
    assert device.is_symlink()
    assert circle.is_symlink()


def test_a_file_keeps_its_permissions_and_its_other_name_the_old_text(tmp_path: Path) -> None:
    out, other = tmp_path / "out.csv", tmp_path / "other.csv"
    out.write_text("old")
    out.chmod(0o600)
    other.hardlink_to(out)
    with whole_file(out) as file:
        file.write("new")
    assert stat.S_IMODE(out.stat().st_mode) == 0o600
    assert (out.read_text(), other.read_text()) == ("new", "old")


def test_a_name_as_long_as_the_system_allows_is_no_trouble(tmp_path: Path) -> None:
    out = tmp_path / ("x" * 250 + ".csv")
    with whole_file(out) as file:
        file.write("new")
    assert out.read_text() == "new"
    assert refusal(tmp_path / ("x" * 300)).got


def test_a_path_that_no_system_could_have_is_refused() -> None:
    refusal(Path("a\0b"))


def test_what_another_process_left_is_not_written_through(tmp_path: Path) -> None:
    treasure = tmp_path / "treasure"
    treasure.write_text("dear")
    # Whatever number the next file gets.
    for number in range(1, 500):
        (tmp_path / f".{os.getpid()}-{number}.part").symlink_to(treasure)
    with whole_file(tmp_path / "out") as file:
        file.write("new")
    assert treasure.read_text() == "dear"
    assert (tmp_path / "out").read_text() == "new"
    assert not (tmp_path / "out").is_symlink()


def test_a_fault_in_the_middle_leaves_the_old_file_and_nothing_else(tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.write_text("old")
    with pytest.raises(TypeError), whole_file(out) as file:
        file.writelines(["ne", 1])  # type: ignore[list-item]
    assert [p.name for p in tmp_path.iterdir()] == ["out"]
    assert out.read_text() == "old"
