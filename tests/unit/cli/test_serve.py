"""What the daemon's terminal is told, where somebody reads and where nobody does."""

from __future__ import annotations

import io
import os
import sys

import pytest

from acquire.cli.serve import is_read

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="needs POSIX pipes")


def test_a_pipe_that_nobody_empties_holds_nobody_up() -> None:
    reads, writes = os.pipe()
    with os.fdopen(reads, "rb"), os.fdopen(writes, "w", buffering=1) as stream:
        assert is_read(stream)
        count = 0
        while is_read(stream):
            stream.write("x" * 1000 + "\n")
            count += 1
            assert count < 10_000
        assert count > 0


def test_a_stream_that_is_no_file_of_the_system_is_written_to_and_none_is_not() -> None:
    assert is_read(io.StringIO())
    assert not is_read(None)


def test_a_terminal_that_was_closed_is_not_written_to() -> None:
    master, slave = os.openpty()
    with os.fdopen(slave, "w", buffering=1) as terminal:
        assert is_read(terminal)
        os.close(master)
        assert not is_read(terminal)
