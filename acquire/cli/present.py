"""What check, run and watch share: the options of a screen, and the bench behind it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, TypeVar

import click

_Command = TypeVar("_Command", bound=Callable[..., Any])


def screen_options(command: _Command) -> _Command:
    """Give a command ``--plain`` and ``--quiet``."""
    plain = click.option(
        "--plain",
        is_flag=True,
        help="Plain lines instead of a screen; so it is where the output is no terminal.",
    )
    quiet = click.option("--quiet", is_flag=True, help="Without the bell.")
    return plain(quiet(command))


def caution_page(reply: dict[str, Any]) -> Sequence[str]:
    """The page shown once a sitting: the cautions that came with the reply that opened it."""
    return page_of(reply.get("cautions") or ())


def page_of(found: Sequence[object]) -> Sequence[str]:
    """Cautions as a page; none where there are none."""
    if not found:
        return ()
    return ["BEFORE YOU BEGIN", "", *(line for text in found for line in (str(text), ""))]
