"""`coatbench status`."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import click

from acquire.cli.faults import DONE
from acquire.cli.reach import bench_option, reach
from acquire.cli.spoken import say
from acquire.errors import CoatbenchError
from acquire.visible import json_visible


@click.command()
@click.option("--json", "as_json", is_flag=True, help="The whole status as one JSON object.")
@bench_option
def status(as_json: bool, bench: Path | None) -> int:
    """Show how the bench stands: instruments, their checks, the run, what was interrupted.

    \b
    Example:  coatbench status --json
    Next:     coatbench check INSTRUMENT where a check is needed, else coatbench run
    """
    with reach(bench) as client:
        found = client.call("status")
    warned = warnings_of(found)
    if as_json:
        found["drift"] = warned
        click.echo(json_visible(json.dumps(found, ensure_ascii=False, indent=2)))
    else:
        say(status_lines(found, warned))
    return DONE


def warnings_of(found: Mapping[str, Any]) -> dict[str, list[str]]:
    """What the past checks of each instrument warn of, in lines; nothing of those that hold.

    Looked for here and not by the daemon, whose thread records.
    """
    from acquire.clock import SystemClock  # noqa: PLC0415 - slow
    from acquire.drift.asked import told_of  # noqa: PLC0415
    from acquire.store.reader import StoreReader  # noqa: PLC0415

    now_ns = SystemClock().now().utc_ns
    try:
        with StoreReader(Path(found["store"])) as store:
            told = {own["id"]: told_of(store, own["id"], now_ns) for own in found["instruments"]}
    except CoatbenchError:
        return {}  # how the bench stands is told all the same
    return {name: lines for name, lines in told.items() if lines}


def status_lines(
    found: Mapping[str, Any], warned: Mapping[str, Sequence[str]] | None = None
) -> list[str]:
    """The status for a person, with the warnings of instruments that have some."""
    from acquire.live.suspects import words_of  # noqa: PLC0415 - slow
    from acquire.live.watchscreen import run_words  # noqa: PLC0415
    from acquire.live.words import (  # noqa: PLC0415
        check_step,
        check_words,
        clean,
        loose_words,
        reading_words,
        renewal_words,
        serial_words,
        width_words,
    )

    sitting = found["sitting"]
    lines = [
        f"bench    {clean(found['bench'])}",
        f"store    {clean(found['store'])}",
        f"sitting  {sitting if sitting else 'none is open; a check or a run opens one'}",
        *([f"CLOCK    {clean(found['clock'])}"] if found.get("clock") else []),
        "",
    ]
    for own in found["instruments"]:
        check = own["check"]
        serial = serial_words(own)
        if own["serial"] != own["expected_serial"]:
            serial += f" (wanted {clean(own['expected_serial'])})"
        lines.append(f"{clean(own['id'])}: {own['kind']}, {serial}")
        there = "" if own["connected"] else "NOT THERE: "
        lines.append(f"  link   {there}{clean(own['message'])}")
        lines.append(f"  check  {check_words(own).removeprefix('check ')}")
        lines += [f"  limit  {text}" for text in width_words(own)]
        lines += [f"  due    {text}" for text in renewal_words(own)]
        step = check_step(own) or ("" if check["valid"] else clean(check["next_step"]))
        if step:
            lines.append(f"  next   {step}")
        for text in (warned or {}).get(own["id"], ()):
            lines.append(f"  drift  {text.removeprefix('warning: ')}")
        last = own["last"]
        if last is not None:
            fate = {"run": "accepted", "check": "accepted for a check"}.get(
                last["role"], f"loose: {loose_words(last['loose_reason'])}"
            )
            if last["void_reason"]:
                fate = f"void: {clean(last['void_reason'])}"
            lines.append(f"  last   {reading_words(last)} (reading {last['reading_id']}), {fate}")
    lines.append("")
    suspects = found.get("suspects")
    if suspects is not None:
        lines += [f"SUSPECT: {words_of(suspects)}", ""]
    return [*lines, *run_words(found)]
