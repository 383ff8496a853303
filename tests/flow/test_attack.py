"""No way round: everything that can be asked, in the wrong order, by hands that edit the files."""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

import click
import pytest

from acquire.cli.entry import coatbench
from acquire.control.calls import NAMES
from tests.attack import calls, commands, hands
from tests.attack.attack import Attack
from tests.attack.audit import audit
from tests.gate.oracle import Rules
from tests.gate.walk import Walker
from tests.gate.world import WIDE

SEED = 3


def test_there_is_something_to_ask_by_every_call_and_every_command() -> None:
    assert set(calls.SENSIBLE) == set(NAMES), "a call is not attacked: tests/attack/calls.py"
    context = click.Context(coatbench)
    assert set(commands.LINES) == set(commands.NAMES) == set(coatbench.list_commands(context)), (
        "a command is not attacked: tests/attack/commands.py"
    )
    for name in commands.NAMES:
        command = coatbench.get_command(context, name)
        if isinstance(command, click.Group):
            tried = {line[0] for line in commands.LINES[name]}
            there = set(command.list_commands(context))
            assert tried == there, f"coatbench {name} has more commands"


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="needs pseudo-terminals")
def test_nothing_that_is_asked_in_any_order_or_edited_by_any_hand_is_a_way_round() -> None:
    # In a folder of its own: what hands have edited there fits no seal.
    with tempfile.TemporaryDirectory() as folder:
        attack = Attack(Path(folder), SEED)
        faults = attack.run()
    assert not faults, "\n".join(faults)
    assert attack.counted > 10
    assert attack.called == set(NAMES)
    assert attack.commanded == set(commands.NAMES)


def _worked(folder: Path) -> Path:
    """A store with a check, two readings that count and one void, and one that came too late."""
    world = Walker(folder, Rules(is_line_held=True))
    try:
        world.get_going(WIDE, 3)
        world.void_last(0)
        world.unplug("shore")
        world.plug("shore")
        world.press("shore", "80.1")
        world.hold_all()
    finally:
        world.close()
    return world.yard.bench.store


AS_RUN = (
    "role = 'run', run_id = 1, zone = 'A1', stage = 'bare', replicate = 77, check_id = 1, "
    "loose_reason = NULL"
)


@pytest.mark.parametrize(
    ("sql", "words"),
    [
        (f"UPDATE reading SET {AS_RUN} WHERE role = 'loose'", "which covers it not"),
        ("UPDATE reading SET value = '95.6' WHERE piece = 'T1'", "mean 95.6"),
        ("UPDATE reading SET value = NULL, value_real = NULL WHERE id = 1", "passed with 1"),
        ("UPDATE reading SET unchecked = 1 WHERE role = 'run'", "unchecked in a checked trial"),
        ("UPDATE reading SET at_utc_ns = at_utc_ns + 4000000000000 WHERE role = 'run'", "covers"),
        ("UPDATE reading SET serial = 'OTHER' WHERE role = 'run'", "which covers it not"),
        ("UPDATE certificate SET due = '2026-05-03' WHERE piece = 'Z0'", "certificate of Z0"),
    ],
)
def test_the_auditor_knows_what_may_not_count(sql: str, words: str, tmp_path: Path) -> None:
    with tempfile.TemporaryDirectory() as folder:
        store = _worked(Path(folder))
        assert audit(store) == []

        def change(conn: object) -> None:
            execute: Callable[[str], object] = conn.execute  # type: ignore[attr-defined]
            execute("PRAGMA ignore_check_constraints = ON")
            execute(sql)

        hands.without_guards(store, change)
        found = audit(store)
    assert any(words in fault for fault in found), found
