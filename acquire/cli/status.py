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

_NEXT = "Next: "


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
    withdrawn = _withdrawn(Path(found["store"]))
    if as_json:
        found["drift"] = warned
        found["withdrawn"] = withdrawn
        click.echo(json_visible(json.dumps(found, ensure_ascii=False, indent=2)))
    else:
        told = ["", *(f"WITHDRAWN: {text}" for text in withdrawn)] if withdrawn else []
        say([*status_lines(found, warned), *told])
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


def _withdrawn(store: Path) -> list[str]:
    """Readings that are suspect since a certificate was withdrawn, and not taken again."""
    from acquire.report.record.withdrawn import suspected_lines  # noqa: PLC0415 - slow

    try:
        return suspected_lines(store)
    except CoatbenchError:
        return []  # how the bench stands is told all the same


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
        *_climate_lines(found.get("climate")),
        "",
    ]
    for own in found["instruments"]:
        check = own["check"]
        serial = serial_words(own)
        if own["serial"] != own["expected_serial"]:
            serial += f" (wanted {clean(own['expected_serial'])})"
        lines.append(f"{clean(own['id'])}: {own['kind']}, {serial}")
        lines += _link_lines(own)
        if own.get("unread"):
            lines.append(f"  noise  {clean(own['unread'])}")
        if own.get("other_rate"):
            lines.append(f"  rate   {clean(own['other_rate'])}")
        lines.append(f"  check  {check_words(own).removeprefix('check ')}")
        lines += [f"  limit  {text}" for text in width_words(own)]
        lines += [f"  due    {text}" for text in renewal_words(own)]
        step = check_step(own) or ("" if check["valid"] else clean(check["next_step"]))
        if not own["connected"] and (mending := _next_of(own["message"])):
            # What keeps it away is known, and it is not that somebody forgot to plug it in.
            # A file is read when the daemon starts.
            again = (
                "; then coatbench stop and coatbench serve" if mending.startswith("mend") else ""
            )
            step = mending + again
        # No press counts before the rate is mended, and that line has its own next step.
        if step and not own.get("other_rate"):
            lines.append(f"  next   {step}")
        for text in (warned or {}).get(own["id"], ()):
            lines.append(f"  drift  {text.removeprefix('warning: ')}")
        last = own["last"]
        if last is not None:
            fate = {"run": "accepted", "check": "accepted for a check"}.get(
                last["role"], f"loose: {loose_words(last['loose_reason'], typed=own['typed'])}"
            )
            if last["void_reason"]:
                fate = f"void: {clean(last['void_reason'])}"
            lines.append(f"  last   {reading_words(last)} (reading {last['reading_id']}), {fate}")
    for own in found.get("probes", ()):
        lines += _probe_lines(own)
    lines.append("")
    suspects = found.get("suspects")
    if suspects is not None:
        lines += [f"SUSPECT: {words_of(suspects)}", ""]
    return [*lines, *run_words(found)]


def _climate_lines(climate: Mapping[str, Any] | None) -> list[str]:
    """How the room is, who says so, and since when; nothing where nobody has said."""
    from acquire.live.words import clean, duration  # noqa: PLC0415 - slow
    from acquire.model.room import room_words  # noqa: PLC0415 - slow

    if climate is None:
        return []
    told = room_words(climate["temperature_c"], climate["humidity_percent"])
    by = f"by {clean(climate['source'])}" if climate["source"] else "as it was typed in"
    return [f"room     {told}, {by} {duration(climate['age_s'])} ago"]


def _link_lines(own: Mapping[str, Any]) -> list[str]:
    """How an instrument is connected, and who reads there, or every reason why not, a line each."""
    from acquire.live.words import clean, shared_words  # noqa: PLC0415 - slow

    first, *more = own["message"].splitlines() or [""]
    there = "" if own["connected"] else "NOT THERE: "
    told = [line for line in more if not line.startswith(_NEXT)]
    lines = [f"  link   {there}{clean(first)}", *(f"         {clean(line)}" for line in told)]
    return [*lines, f"  {shared}"] if (shared := shared_words(own)) else lines


def _next_of(message: str) -> str:
    """What a message says to do next; empty where it says nothing."""
    from acquire.live.words import clean  # noqa: PLC0415 - slow

    return clean(message.rpartition(_NEXT)[2]) if _NEXT in message else ""


def _probe_lines(own: Mapping[str, Any]) -> list[str]:
    """A wash counter or a climate probe: whether it is there, what it told last, what it counts."""
    from acquire.live.words import clean, figure  # noqa: PLC0415 - slow

    serial = f"serial {clean(own['serial'])}"
    if own["serial"] != own["expected_serial"]:
        serial += f" (wanted {clean(own['expected_serial'])})"
    lines = [f"{clean(own['id'])}: {own['kind']}, {serial}; measures no surface, needs no check"]
    lines += _link_lines(own)
    last = own["last"]
    # What a climate probe tells is how the room is, and stands above.
    if last is not None and last["value"] is not None and own["kind"] == "counter":
        what = "a stroke" if last["channel"] == "stroke" else f"count {figure(last['value'])}"
        lines.append(f"  last   {what} (reading {last['reading_id']})")
    counting = own["counting"]
    if counting is not None:
        each = counting["strokes_per_wash"]
        more = f", {counting['over']} of {each} strokes of the next one made" if each > 1 else ""
        zones = ", ".join(map(clean, counting["zones"]))
        lines.append(f"  counts washes of {clean(counting['trial'])}: {zones}{more}")
    elif own["kind"] == "counter":
        lines.append(f"  next   coatbench wash TRIAL --counter {clean(own['id'])}")
    return lines
