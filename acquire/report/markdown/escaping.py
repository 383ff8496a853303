"""Text that may hold anything, written so that Markdown shows it as it is.

By CommonMark 0.31 (2.4: a backslash before any sign of ASCII punctuation makes it a plain sign)
and the tables of GitHub Flavored Markdown (4.10: a bar in a cell is written with a backslash, also
within code). Pure; any thread.
"""

from __future__ import annotations

import re

# What CommonMark, and the strikethrough, tables and formulas of its relatives, give a meaning to.
_SIGNS = re.compile(r"[\\`*_\[\]<>&|~#$]")
# What some renderers make a link of by itself (GitHub Flavored Markdown, 6.9).
_LINKS = re.compile(r"://|\bwww\.", re.IGNORECASE)
# At the start of a block: a list, a rule, a heading underlined (CommonMark 4.1, 4.3, 5.2).
_HEAD = re.compile(r"(\d{1,9})([.)])|([-+=:])")
_RUNS = re.compile("`+")


def escaped(text: str) -> str:
    """A text within a line. White space, line feeds among it, becomes single spaces."""
    plain = re.sub(r"\s+", " ", text)
    return _LINKS.sub(_unlinked, _SIGNS.sub(r"\\\g<0>", plain))


def at_start(line: str) -> str:
    """An escaped line, such that it begins no list, rule or heading."""
    found = _HEAD.match(line)
    if found is None:
        return line
    if found[1] is not None:
        return f"{found[1]}\\{line[len(found[1]) :]}"
    return f"\\{line}"


def code(text: str, in_table: bool) -> str:
    """A code span (CommonMark 6.1): as many backticks around it as are nowhere in it."""
    plain = " ".join(text.split())
    if not plain:
        return ""
    fence = "`" * (1 + max((len(run) for run in _RUNS.findall(plain)), default=0))
    room = " " if plain.startswith("`") or plain.endswith("`") else ""
    if in_table:
        plain = plain.replace("|", "\\|")
    return f"{fence}{room}{plain}{room}{fence}"


def fenced(text: str) -> str:
    """A block of code (CommonMark 4.5) as it is written, line by line."""
    lines = text.strip("\n").splitlines()
    longest = max((len(run) for line in lines for run in _RUNS.findall(line)), default=0)
    fence = "`" * max(3, longest + 1)
    return "\n".join((fence, *lines, fence))


def _unlinked(found: re.Match[str]) -> str:
    return "\\://" if found[0] == "://" else f"{found[0][:-1]}\\."
