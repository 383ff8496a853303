"""The colours of the drawings, as roles that the page's style sheet fills.

A drawing is made with one placeholder colour a role. In the finished SVG a role is an attribute
with its colour for white paper, which any program can print; the page's style sheet knows the
attribute and puts the variable of the role in its place where there are variables, so that the same
drawing is right on light and on dark screens. Pure; any thread.
"""

from __future__ import annotations

import re
from enum import StrEnum


class Ink(StrEnum):
    """Roles; the value is the placeholder, a colour that nothing else uses."""

    TEXT = "#010101"
    SOFT = "#010102"
    LINE = "#010103"
    CONTROL = "#010104"
    TREATED = "#010105"
    LEFT_OUT = "#010106"
    BAND = "#010107"
    PAPER = "#010108"

    @property
    def variable(self) -> str:
        return f"var(--{self.name.lower().replace('_', '-')})"

    @property
    def on_paper(self) -> str:
        """The colour on white paper; each role has its own, since the style sheet goes by it."""
        return _ON_PAPER[self]


_ON_PAPER = {
    Ink.TEXT: "#000001",
    Ink.SOFT: "#444445",
    Ink.LINE: "#c9cfcc",
    Ink.CONTROL: "#5c6468",
    Ink.TREATED: "#0c5f86",
    Ink.LEFT_OUT: "#b2470d",
    Ink.BAND: "#e6eceb",
    Ink.PAPER: "#fffffe",
}
_BY_PLACEHOLDER = {ink.value: ink for ink in Ink}
_STYLE = re.compile(r' style="([^"]*)"')
_INKED = re.compile(r"\s*\b(fill|stroke): (#01010[1-8]);?")


def coloured(svg: str) -> str:
    """The drawing with the colours of the roles as attributes in the place of the placeholders."""
    return _STYLE.sub(lambda m: _attributes(m[1]), svg)


def style_rules() -> str:
    """What the page's style sheet says of the roles: `var()` where the attribute names a colour."""
    return "".join(
        f'svg [{what}="{ink.on_paper}"]{{{what}:{ink.variable}}}\n'
        for ink in Ink
        for what in ("fill", "stroke")
    )


def _attributes(style: str) -> str:
    inks = "".join(
        f' {what}="{_BY_PLACEHOLDER[colour].on_paper}"' for what, colour in _INKED.findall(style)
    )
    rest = _INKED.sub("", style).strip().rstrip(";")
    return inks + (f' style="{rest}"' if rest else "")
