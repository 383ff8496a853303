"""`coatbench devices`: what is plugged in, which instrument it is, what could speak to it."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

import click

from acquire.cli.faults import DONE
from acquire.cli.reach import bench_file, bench_option
from acquire.cli.spoken import say
from acquire.errors import NotFound
from acquire.visible import json_visible

if TYPE_CHECKING:
    from acquire.link.inventory import Plugged
    from acquire.model import Bench

Drivers = dict[str, tuple[str, ...]]
"""What each driver reaches its devices by."""


@click.command()
@click.option("--all", "everything", is_flag=True, help="Also what no driver could speak to.")
@click.option("--json", "as_json", is_flag=True, help="The list as one JSON array.")
@bench_option
def devices(everything: bool, as_json: bool, bench: Path | None) -> int:
    """List what is plugged in: its identity, which instrument it is, which driver could speak to
    it, and why it could not be opened.

    Opens nothing, so it disturbs no meter and needs no daemon.

    \b
    Example:  coatbench devices
    Next:     write the link it shows into bench.toml; for a meter nobody knows, coatbench learn
    """
    from acquire.link import inventory  # noqa: PLC0415 - slow

    there, missing = inventory.everything()
    drivers = reaching()
    if not everything:
        there = [one for one in there if speakers(one, drivers) and is_likely(one)]
    own = _bench(bench)
    if as_json:
        items = [
            {
                **asdict(one),
                "instruments": instruments(one, own),
                "drivers": list(speakers(one, drivers)),
            }
            for one in there
        ]
        click.echo(json_visible(json.dumps(items, ensure_ascii=False, indent=2)))
        return DONE
    lines: list[str] = []
    for one in there:
        lines += [*device_lines(one, own, drivers), ""]
    if not there:
        lines += ["nothing is plugged in that a driver could speak to", ""]
        lines += ["next: plug the meter in; coatbench devices --all lists what is left out", ""]
    say([*lines[:-1], *([missing] if missing else [])])
    return DONE


def reaching() -> Drivers:
    """The installed drivers and what they reach; one that is unfit is left out."""
    from acquire.driverapi.families import known_families  # noqa: PLC0415 - slow

    return {one.name: one.reaches for one in known_families() if not one.fault}


def speakers(one: Plugged, drivers: Drivers) -> tuple[str, ...]:
    """The drivers that could speak to it."""
    return tuple(
        name
        for name, reached in drivers.items()
        if any(way == own or way.startswith(f"{own}/") for own in reached for way in one.reached_by)
    )


def is_likely(one: Plugged) -> bool:
    """Not one of the ports that a computer has whether or not anything is plugged in."""
    return bool(one.identity) or one.reached_by != ("serial",)


def instruments(one: Plugged, bench: Bench | None) -> list[str]:
    """The instruments of the bench whose link leads here."""
    return [spec.id for spec in bench.instruments if one.is_at(spec.address)] if bench else []


def device_lines(one: Plugged, bench: Bench | None, drivers: Drivers) -> list[str]:
    """One device for a person."""
    identity = ", ".join(f"{key} {value}" for key, value in one.identity.items())
    name = f" {one.name}" if one.name else ""
    lines = [f"{one.where}:{name}", f"  identity  {identity or 'none'}"]
    lines += [f"  also      {link}" for link in one.links]
    own = instruments(one, bench)
    if own:
        lines.append(f"  is        {', '.join(own)}")
    elif bench is not None:
        lines.append(f"  is        no instrument of {bench.name}")
    named = speakers(one, drivers)
    lines.append(f"  speaks    {', '.join(named) or 'to no driver that is installed'}")
    if not own and named:
        lines.append(f"  link      {link_words(one)}")
    if one.trouble:
        lines.append(f"  trouble   {one.trouble}")
        lines.append(f"  next      {one.next_step}")
    return lines


def link_words(one: Plugged) -> str:
    """What to write into ``bench.toml``: the serial number alone where there is one."""
    keys: Sequence[str] = ("serial_number",) if "serial_number" in one.identity else ("vid", "pid")
    pairs = [(key, one.identity[key]) for key in keys if key in one.identity]
    pairs = pairs or [("port", one.links[0] if one.links else one.where)]
    return "link = { " + ", ".join(f"{key} = {json.dumps(value)}" for key, value in pairs) + " }"


def _bench(given: Path | None) -> Bench | None:
    """The bench to compare with; none where none was named and none is here."""
    from acquire.settings import load_bench  # noqa: PLC0415 - slow

    try:
        file = bench_file(given)
    except NotFound:
        return None
    return load_bench(file)
