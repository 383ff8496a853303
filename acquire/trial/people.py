"""People by their names: one person however it is spelled, in a line, and in a command. Pure."""

from __future__ import annotations

import re

from acquire.visible import shortened, visible

NAME = "NAME"
"""Stands in a command for whoever is to say their name."""

_MOST = 60
_BARE = re.compile(r"[\w.-]+")
_QUOTED = re.compile(r"[\w .,'()&-]+")
"""What every shell takes as it stands, and what it takes between double quotes."""


def plain_name(name: str) -> str:
    """A person's name without what differs from day to day: letter case and spaces."""
    return " ".join(name.split()).casefold()


def shown_name(name: str) -> str:
    """The name for a line: on one line, in signs that can be seen, cut where it is long."""
    return shortened(visible(" ".join(name.split())), _MOST)


def typed_name(name: str) -> str:
    """The name as it is typed in a command; NAME where it is too long or odd to be typed."""
    if len(name) > _MOST or name.startswith("-"):
        return NAME
    if _BARE.fullmatch(name):
        return name
    return f'"{name}"' if _QUOTED.fullmatch(name) else NAME
