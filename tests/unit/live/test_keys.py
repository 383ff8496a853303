"""Keys: what the terminal sends becomes keys, and the terminal is left as it was found."""

from __future__ import annotations

import os
import signal
import sys

import pytest

from acquire.live.keys import BACKSPACE, ENTER, ESCAPE, KeyDecoder, keyboard


def keys(data: bytes) -> list[str]:
    return KeyDecoder().feed(data)


def test_letters_are_keys_and_the_others_have_names() -> None:
    assert keys(b"sv?\r\n\x7f\x08") == ["s", "v", "?", ENTER, ENTER, BACKSPACE, BACKSPACE]


def test_escape_alone_is_a_key_and_sequences_are_swallowed_whole() -> None:
    assert keys(b"\x1b") == [ESCAPE]
    assert keys(b"\x1b[Aa\x1b[1;5Cb\x1bOPc\x1b[200~d") == ["a", "b", "c", "d"]
    assert keys(b"\x1b[") == []


def test_control_characters_without_a_meaning_are_no_keys() -> None:
    assert keys(b"\x00\x01\x0c\x15") == []


def test_a_character_cut_in_two_is_one_key_and_broken_bytes_are_none() -> None:
    decoder = KeyDecoder()
    assert decoder.feed("ü".encode()[:1]) == []
    assert decoder.feed("ü".encode()[1:]) == ["ü"]
    assert keys(b"a\xffb") == ["a", "b"]


@pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")
class TestTerminal:
    def test_keys_come_at_once_without_enter_and_the_terminal_is_put_back(self) -> None:
        import termios

        near, far = os.openpty()
        with os.fdopen(far, "r") as stream:
            before = termios.tcgetattr(far)
            with keyboard(stream) as board:
                assert not termios.tcgetattr(far)[3] & (termios.ICANON | termios.ECHO)
                assert board.read(0) is None
                os.write(near, b"sv")
                assert (board.read(5), board.read(5), board.read(0)) == ("s", "v", None)
            assert termios.tcgetattr(far) == before
        os.close(near)

    def test_the_terminal_is_put_back_after_an_error_and_after_sigterm(self) -> None:
        import termios

        near, far = os.openpty()
        handler = signal.getsignal(signal.SIGTERM)
        with os.fdopen(far, "r") as stream:
            before = termios.tcgetattr(far)
            with pytest.raises(ZeroDivisionError), keyboard(stream):
                raise ZeroDivisionError
            assert termios.tcgetattr(far) == before

            def ended_from_outside() -> None:
                with keyboard(stream) as board:
                    os.kill(os.getpid(), signal.SIGTERM)
                    board.read(5)

            with pytest.raises(SystemExit) as left:
                ended_from_outside()
            assert left.value.code == 128 + signal.SIGTERM
            assert termios.tcgetattr(far) == before
        assert signal.getsignal(signal.SIGTERM) is handler
        os.close(near)

    def test_a_terminal_that_is_gone_is_the_end_of_keys(self) -> None:
        near, far = os.openpty()
        with os.fdopen(far, "r") as stream, keyboard(stream) as board:
            os.close(near)
            with pytest.raises(EOFError):
                board.read(5)
