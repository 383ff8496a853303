"""What README and help tell a person to type is a command that there is, with its options."""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterator
from pathlib import Path

import click
import pytest

from acquire.cli.entry import SECTIONS, coatbench
from acquire.cli.lazy import Entry

README = Path(__file__).parents[2] / "README.md"
_FENCE = re.compile(r"^ *```[a-z]*\n(.*?)^ *```", re.DOTALL | re.MULTILINE)
_INLINE = re.compile(r"`(coatbench [^`]+)`")


def commands() -> dict[str, click.Command]:
    """Every command by its words: ``wash``, ``trial show``."""
    entries: dict[str, Entry] = {n: e for part in SECTIONS.values() for n, e in part.items()}
    found: dict[str, click.Command] = {}
    for name, entry in entries.items():
        command = loaded(entry)
        found[name] = command
        if isinstance(command, click.Group):
            context = click.Context(command)
            for inner in command.list_commands(context):
                one = command.get_command(context, inner)
                assert one is not None
                found[f"{name} {inner}"] = one
    return found


def loaded(entry: Entry) -> click.Command:
    module, _, name = entry.place.partition(":")
    found = getattr(__import__(module, fromlist=[name]), name)
    assert isinstance(found, click.Command)
    return found


COMMANDS = commands()


def fault(line: str, *, in_full: bool) -> str:
    """What is wrong with a line, empty if nothing; `in_full` where no argument may be missing."""
    words = shlex.split(line)[1:]
    words = words[: next((k for k, w in enumerate(words) if w in ("|", ">", "&&")), len(words))]
    if not words or words[0].startswith("-") or words[0].isupper():
        return ""  # of the program itself, or a word that stands for any command
    depth = 2 if " ".join(words[:2]) in COMMANDS else 1
    command = COMMANDS.get(" ".join(words[:depth]))
    if command is None:
        return f"there is no command {words[0]}"
    if isinstance(command, click.Group):
        return f"{words[0]} has no {words[1]}" if len(words) > 1 and words[1][0] != "-" else ""
    context = click.Context(command, info_name=words[0])
    try:
        given, left, _ = command.make_parser(context).parse_args(words[depth:])
    except click.UsageError as error:
        return "" if "requires an argument" in error.message and not in_full else error.message
    if left:
        return f"too many words: {left}"
    # What was not given is of a type of click's own.
    missing = [
        param.name
        for param in command.params
        if isinstance(param, click.Argument)
        and param.required
        and not isinstance(given.get(param.name or "") or None, (str, list, tuple))
    ]
    return f"without {missing}" if missing and in_full else ""


def readme_blocks() -> Iterator[str]:
    for block in _FENCE.findall(README.read_text("utf-8")):
        for line in block.replace("\\\n", " ").splitlines():
            # What stands behind two spaces or more explains the line.
            command = re.split(r" {2,}(?=\S)", line.strip())[0]
            if command.startswith("coatbench "):
                yield command


def test_every_line_to_be_typed_of_the_readme_is_a_whole_command() -> None:
    lines = list(readme_blocks())
    assert len(lines) > 60
    assert [(line, why) for line in lines if (why := fault(line, in_full=True))] == []


def test_every_command_in_the_prose_of_the_readme_is_there() -> None:
    lines = _INLINE.findall(README.read_text("utf-8"))
    assert len(lines) > 30
    assert [(line, why) for line in lines if (why := fault(line, in_full=False))] == []


def test_what_help_gives_as_examples_is_there() -> None:
    wrong = []
    count = 0
    for name, command in COMMANDS.items():
        text = (command.help or "").partition("Example:")[2].partition("Next:")[0]
        for line in text.replace("\\\n", " ").splitlines():
            if line.strip().startswith("coatbench "):
                count += 1
                wrong += [(name, line.strip(), why) for why in [fault(line, in_full=True)] if why]
    assert count > 60
    assert wrong == []


def test_the_way_through_a_trial_in_the_first_help_is_there() -> None:
    lines = [line.strip() for line in (coatbench.help or "").splitlines()]
    told = [re.split(r" {2,}", line)[0] for line in lines if line.startswith("coatbench ")]
    assert [line.split()[1] for line in told] == [
        "demo", "serve", "trial", "check", "run", "check", "next", "report",
    ]  # fmt: skip
    assert [(line, why) for line in told if (why := fault(line, in_full=True))] == []


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ("coatbench wash winter --nosuch", "No such option"),
        ("coatbench wish winter", "there is no command wish"),
        ("coatbench trial draw", "trial has no draw"),
        ("coatbench wash winter summer", "too many words"),
        ("coatbench rescore --scorecard", "requires an argument"),
        ("coatbench captions", "without ['trial']"),
        ("coatbench wash winter --count 5", ""),
        ("coatbench COMMAND --help", ""),
    ],
)
def test_a_line_that_is_no_command_is_found(line: str, why: str) -> None:
    found = fault(line, in_full=True)
    assert why in found if why else found == ""
