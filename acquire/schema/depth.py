"""How deep a TOML text goes, found before the parser sees it. Pure; any thread.

A parser's time and memory grow with the square of the parts of a dotted key, and its stack with
every list inside a list; no settings file needs more than a few of either. The signs that count
are those outside of strings and comments (TOML 1.0.0, "Keys", "String", "Comment").
"""

from __future__ import annotations

import re

from acquire.errors import Fault

MOST_PARTS = 16
MOST_LEVELS = 32

_SIGN = re.compile(r"\"\"\"|'''|[\"'#\n.=,\[\]{}]")
# What follows an opening quote, up to and with the closing one.
_REST = {
    '"""': re.compile(r'(?:[^"\\]|\\.|"(?!""))*+"""', re.DOTALL),
    "'''": re.compile(r"(?:[^']|'(?!''))*+'''"),
    '"': re.compile(r'(?:[^"\\\n]|\\.)*+"'),
    "'": re.compile(r"[^'\n]*+'"),
}


def too_deep(text: str) -> Fault | None:
    """The first key of too many parts, or list or table nested too deep, with its line.

    A text that is no TOML is looked through as far as the parser would get.
    """
    at = dots = levels = 0
    while (found := _SIGN.search(text, at)) is not None:
        sign, at = found[0], found.end()
        if sign in _REST:
            end = _REST[sign].match(text, at)
            if end is None:
                return None
            at = end.end()
            continue
        if sign == "#":
            at = text.find("\n", at)
            if at < 0:
                return None
            continue
        dots = dots + 1 if sign == "." else 0
        if sign in "[{":
            levels += 1
        elif sign in "]}":
            levels = max(0, levels - 1)
        if dots >= MOST_PARTS:
            got, wanted = f"a key of more than {MOST_PARTS} parts", "a key of a few parts at most"
        elif levels > MOST_LEVELS:
            got, wanted = "lists or tables nested too deep to read", "a few levels at most"
        else:
            continue
        return Fault(f"line {text.count(chr(10), 0, at) + 1}", got, wanted)
    return None
