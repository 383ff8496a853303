"""TOML made to cost a parser dear: told before the parser sees it, and nothing else is refused."""

from __future__ import annotations

import pytest

from acquire.errors import SettingsError
from acquire.schema import parse_toml

PARTS = "a key of more than 16 parts, wanted a key of a few parts at most"
LEVELS = "lists or tables nested too deep to read, wanted a few levels at most"
LONG_KEY = ".".join(["a"] * 20_000)


def test_a_text_of_more_than_1_mb_never_reaches_the_parser() -> None:
    with pytest.raises(SettingsError, match="at most 1 MB of TOML"):
        parse_toml("#" * 1_000_001, "chart.toml")


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("x = 1\n" + ".".join(["a"] * 17) + " = 1\n", f"line 2: got {PARTS}"),
        (f"{LONG_KEY} = 1\n", f"line 1: got {PARTS}"),
        (" . ".join(["a"] * 20_000) + " = 1\n", f"line 1: got {PARTS}"),
        (".".join(['"a.b"', "'c'"] * 10_000) + " = 1\n", f"line 1: got {PARTS}"),
        (f"[{LONG_KEY}]\n", f"line 1: got {PARTS}"),
        (f"[[{LONG_KEY}]]\n", f"line 1: got {PARTS}"),
        (f"x = {{{LONG_KEY} = 1}}\n", f"line 1: got {PARTS}"),
        ('x = """\n"\\""""\n' + LONG_KEY, f"line 3: got {PARTS}"),
        ("x = '''\n''''' # '\n" + LONG_KEY, f"line 3: got {PARTS}"),
        ("x = [\n" + "[" * 40, f"line 2: got {LEVELS}"),
        ("x = " + "[" * 300_000, f"line 1: got {LEVELS}"),
        ("x = " + "{a = " * 100_000, f"line 1: got {LEVELS}"),
        ("x = " + "{a = [" * 100_000, f"line 1: got {LEVELS}"),
    ],
)
def test_a_text_that_goes_too_deep_is_told_with_its_line(text: str, fault: str) -> None:
    with pytest.raises(SettingsError) as caught:
        parse_toml(text, "chart.toml")
    assert [str(f) for f in caught.value.faults] == [fault]


@pytest.mark.parametrize(
    "text",
    [
        ".".join(["a"] * 16) + " = 1",
        'x = "' + "a." * 100 + '"',
        "x = '" + "[" * 100 + "'",
        'x = """' + '\na." \\" ""[{' * 100 + '"""',
        "x = '''" + "\na.' ''[{" * 100 + "'''",
        "x = 1 # " + "a." * 100 + "[" * 100 + '""" \'',
        "x = [" + "1.5, " * 1000 + "]",
        "x = [" + "[1.5], " * 1000 + "]",
        '"' + "a." * 100 + '" = 1',
        "x = " + "[" * 32 + "]" * 32,
    ],
)
def test_what_only_looks_deep_is_read(text: str) -> None:
    assert len(parse_toml(text + "\ny = 2", "chart.toml")) == 2


@pytest.mark.parametrize("text", ['x = "a', "x = 'a", "x = '''a", 'x = """a\\'])
def test_text_without_its_closing_quote_is_left_to_the_parser(text: str) -> None:
    with pytest.raises(SettingsError) as caught:
        parse_toml(f"{text}\n{LONG_KEY}", "chart.toml")
    assert "parts" not in str(caught.value)
