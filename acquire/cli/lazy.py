"""A group of commands that imports a command's module only when the command is used."""

from __future__ import annotations

import importlib
from collections.abc import Mapping
from typing import Any, NamedTuple

import click


class Entry(NamedTuple):
    """Where a command is (``module:name``), and its help in one line."""

    place: str
    line: str


class LazyGroup(click.Group):
    """Shows its commands by section, in the order given, from the table alone."""

    def __init__(
        self, *arguments: Any, sections: Mapping[str, Mapping[str, Entry]], **options: Any
    ) -> None:
        super().__init__(*arguments, **options)
        self._sections = sections
        self._entries = {n: e for section in sections.values() for n, e in section.items()}

    def list_commands(self, _ctx: click.Context) -> list[str]:
        return list(self._entries)

    def get_command(self, _ctx: click.Context, cmd_name: str) -> click.Command | None:
        entry = self._entries.get(cmd_name)
        if entry is None:
            return None
        module, _, name = entry.place.partition(":")
        command = getattr(importlib.import_module(module), name)
        assert isinstance(command, click.Command)
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        name = args[0]
        if name not in self._entries and not name.startswith("-"):
            import difflib  # noqa: PLC0415 - only for who has mistyped

            near = difflib.get_close_matches(name, self._entries, n=3)
            hint = f"; is it {' or '.join(near)}" if near else ""
            raise click.UsageError(f"there is no command {name!r}{hint}", ctx)
        return super().resolve_command(ctx, args)

    def format_commands(self, _ctx: click.Context, formatter: click.HelpFormatter) -> None:
        for title, entries in self._sections.items():
            with formatter.section(title):
                formatter.write_dl([(name, entry.line) for name, entry in entries.items()])
