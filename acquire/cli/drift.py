"""`coatbench drift`: how the meters of a bench hold, from their past checks."""

from __future__ import annotations

import json
import shutil
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from acquire.cli.faults import DONE
from acquire.cli.listing import Cells, show_table
from acquire.cli.reach import bench_option, store_of
from acquire.cli.spoken import say
from acquire.errors import NotFound
from acquire.visible import json_visible, visible

if TYPE_CHECKING:
    from acquire.drift.history import Seen
    from acquire.store.reader import StoreReader

_PIPED_COLUMNS = 80


@click.command()
@click.argument("instrument", required=False)
@click.option("--piece", default="", help="Only this reference piece.")
@click.option("--channel", help="Only this angle or band: 20, 315-400.")
@click.option("--json", "as_json", is_flag=True, help="As a JSON list, an object a history.")
@click.option(
    "--out",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="PATH",
    help="Write the charts as one HTML page that needs no network.",
)
@bench_option
def drift(
    instrument: str | None,
    piece: str,
    channel: str | None,
    as_json: bool,
    out: Path | None,
    bench: Path | None,
) -> int:
    """Show how the meters drift, from all their checks, and when they will reach a limit.

    Without INSTRUMENT a line for each piece of every meter; with it, or with --piece, all there is
    to say, with a small chart. May be used at any time, also while the daemon records.

    A chart only warns: whether a reading counts is decided by the checks alone.

    \b
    Example:  coatbench drift
              coatbench drift shore --piece T1
              coatbench drift shore --out shore.html
    Next:     what each warning says; a re-adjustment is followed by coatbench check INSTRUMENT
    """
    from acquire.clock import SystemClock  # noqa: PLC0415 - slow
    from acquire.store.reader import StoreReader  # noqa: PLC0415

    now_ns = SystemClock().now().utc_ns
    store = store_of(bench)
    with StoreReader(store) as reader, reader.snapshot():
        found = seen_of(reader, instrument or "", piece, channel, now_ns)
    if out is not None:
        from acquire.report.driftpage import write_drift_page  # noqa: PLC0415 - slow

        say([f"written: {write_drift_page(store, found, now_ns, out)}"])
        return DONE
    if as_json:
        items = [item_of(seen) for seen in found]
        click.echo(json_visible(json.dumps(items, ensure_ascii=False, indent=2)))
    elif not found:
        say(["no check has been judged yet. Next: coatbench check INSTRUMENT"])
    elif instrument or piece:
        columns = shutil.get_terminal_size().columns if sys.stdout.isatty() else _PIPED_COLUMNS
        say(line for seen in found for line in detail_lines(seen, columns))
    else:
        show_table(overview_rows(found))
        say(overview_foot(found))
    return DONE


def seen_of(
    reader: StoreReader, instrument: str, piece: str, channel: str | None, now_ns: int
) -> list[Seen]:
    """What the store says of what was asked for. Raises `NotFound` where nothing of it is there."""
    from acquire.drift.reading import histories  # noqa: PLC0415 - slow

    found = histories(reader, instrument, piece, channel)
    if not found and (instrument or piece or channel is not None):
        known = histories(reader)
        own = [h for h in known if h.instrument == instrument]
        named = [f"{h.key.piece} {h.key.channel}".rstrip() for h in own]
        asked = " ".join(x for x in (instrument, piece, channel) if x)
        raise NotFound(
            f"no judged check has read {asked}",
            wanted=", ".join(dict.fromkeys(named or [h.instrument for h in known]))
            or "an instrument with a judged check; none has one yet",
            next_step="name one of these" if known else "make a check: coatbench check INSTRUMENT",
        )
    return [history.seen(now_ns) for history in found]


def overview_rows(found: Sequence[Seen]) -> list[Cells]:
    """Headings and a row a history."""
    from acquire.drift.sketch import course  # noqa: PLC0415 - slow
    from acquire.drift.words import latest, left, state  # noqa: PLC0415

    rows: list[Cells] = [
        ("meter", "piece", "checks", "last", "limit", "left", "state", "course"),
    ]
    for seen in found:
        rows.append(
            (
                _meter(seen),
                visible(seen.history.place),
                str(len(seen.history.series)),
                latest(seen),
                f"{seen.history.limit:.3g}",
                left(seen) if seen.outlook.days_left is not None else "-",
                state(seen),
                course(seen),
            )
        )
    return rows


def overview_foot(found: Sequence[Seen]) -> list[str]:
    """What the signs mean, and the warnings."""
    from acquire.drift.early import early  # noqa: PLC0415 - slow
    from acquire.drift.foreseen import block_words, blocks, latest_blocks  # noqa: PLC0415
    from acquire.drift.sketch import LEGEND  # noqa: PLC0415

    told = [early(seen) for seen in found if seen.history.is_present]
    warned = [f"warning: {e.text}" for e in told if e is not None]
    past = [f"past: {block_words(b)}" for b in latest_blocks(blocks(s.history) for s in found)]
    return ["", LEGEND, *warned, *past, "more: coatbench drift INSTRUMENT"]


def detail_lines(seen: Seen, columns: int) -> list[str]:
    """All there is to say of a history, for a person."""
    from acquire.drift.foreseen import block_words, blocks  # noqa: PLC0415 - slow
    from acquire.drift.sketch import chart  # noqa: PLC0415
    from acquire.drift.words import adjustments, ahead, cuts, last, state, trend  # noqa: PLC0415

    lines = [
        f"{_meter(seen)}, {seen.history.place}: {state(seen)}",
        f"  last     {last(seen)}",
        f"  trend    {trend(seen)}",
        *(f"  limit    {text}" for text in ahead(seen)),
        *(f"  since    {text}" for text in cuts(seen)[:3]),
    ]
    lines += [
        f"  adjusted {day}: as found {before}, as left {after}"
        for day, before, after in adjustments(seen)[-3:]
    ]
    lines += [f"  past     {block_words(block)}" for block in blocks(seen.history)]
    lines += [f"  {text}" for text in chart(seen, columns - 2)]
    for warning in seen.warnings:
        lines += [f"  warning  {warning.what}", f"  next     {warning.next_step}"]
    return [*lines, ""]


def item_of(seen: Seen) -> dict[str, object]:
    """A history as plain data. Moments are ns of UTC, figures in `unit`."""
    from acquire.history.lack import Lack  # noqa: PLC0415 - slow

    history, found, series = seen.history, seen.outlook, seen.history.series
    line = found.line
    return {
        "instrument": history.instrument,
        "serial": history.key.serial,
        "in_use": history.is_present,
        "quantity": history.key.quantity,
        "piece": history.key.piece,
        "channel": history.key.channel,
        "unit": history.key.unit,
        "checks": len(series),
        "state": found.control.value,
        "out_since_utc_ns": found.since_ns,
        "last": {
            "check_id": series.checks[-1],
            "at_utc_ns": int(series.at_ns[-1]),
            "deviation": float(series.deviation[-1]),
            "expanded_uncertainty": history.guard,
        },
        "limit": history.limit,
        "undecided_from": found.edge,
        "trend": None
        if isinstance(line, Lack)
        else {
            "slope_a_day": line.slope,
            "slope_interval": list(line.slope_interval),
            "checks": line.count,
            "is_resolved": line.is_resolved,
        },
        "limits": [
            {
                "limit": r.limit,
                "state": r.state.value,
                "reached_utc_ns": _moment(seen, r.day),
                "earliest_utc_ns": _moment(seen, r.earliest),
                "latest_utc_ns": _moment(seen, r.latest),
                "a_check_may_from_utc_ns": _moment(seen, r.predicted),
            }
            for r in found.reaches
        ],
        "days_left": found.days_left,
        "checks_left": found.checks_left,
        "segments": [
            {
                "reason": s.cut.value,
                "from_utc_ns": int(series.at_ns[s.start]),
                "checks": len(s),
            }
            for s in found.segments
        ],
        "warnings": [
            {"about": w.concern.value, "what": w.what, "next_step": w.next_step}
            for w in seen.warnings
        ],
    }


def _moment(seen: Seen, day: float | None) -> int | None:
    return None if day is None else seen.history.series.moment(day)


def _meter(seen: Seen) -> str:
    history = seen.history
    earlier = "" if history.is_present else f" (earlier {history.key.serial or 'unknown'})"
    return visible(history.instrument + earlier)
