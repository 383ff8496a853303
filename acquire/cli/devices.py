"""`coatbench devices`: what is plugged in, which instrument it is, what could speak to it."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping, Sequence
from contextlib import closing
from dataclasses import asdict, replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from acquire.cli.faults import DONE
from acquire.cli.reach import bench_file, bench_option
from acquire.cli.spoken import say
from acquire.cli.unasked import unasked_lines
from acquire.errors import CoatbenchError, NotFound
from acquire.visible import json_visible

if TYPE_CHECKING:
    from acquire.link.inventory import Plugged
    from acquire.model import Bench, InstrumentSpec, ProbeSpec

Drivers = dict[str, tuple[str, ...]]
"""What each driver reaches its devices by."""


@click.command()
@click.option("--all", "everything", is_flag=True, help="Also what no driver could speak to.")
@click.option("--json", "as_json", is_flag=True, help="The list as one JSON array.")
@click.option(
    "--simulated-usb",
    metavar="HOST:PORT",
    help="Look for USB devices on the bus of coatbench simulate.",
)
@bench_option
def devices(everything: bool, as_json: bool, simulated_usb: str | None, bench: Path | None) -> int:
    """List what is plugged in: its identity, which instrument it is, which driver could speak to
    it, and why it could not be opened. Of the instruments of the bench also those that are not
    plugged in.

    Opens nothing, so it disturbs no meter and needs no daemon.

    \b
    Example:  coatbench devices
    Next:     write the link it shows into bench.toml; for a meter nobody knows, coatbench learn
    """
    from acquire.link import inventory  # noqa: PLC0415 - slow

    there, missing = inventory.everything(list_usb=_usb_at(simulated_usb))
    drivers = reaching()
    own, faults = _bench(bench)
    there += named_ports(there, own)
    there = [alone(by_name(one, own), there, own, drivers) for one in there]
    if simulated_usb is not None:
        # No file of the system's says who has a device of such a bus open.
        there = opened_here(there, own, connected(own))
    found = there
    if not everything:
        likely = [one for one in there if speakers(one, drivers) and is_likely(one)]
        there = [one for one in there if one in likely or instruments(one, own)]
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
        return _done(faults, missing, simulated=simulated_usb is not None)
    lines: list[str] = []
    for one in there:
        lines += [*device_lines(one, own, drivers, found), ""]
    if not there:
        what = "nothing" if missing is None else "no serial device"
        lines += [f"{what} is plugged in that a driver could speak to", ""]
        plug = "plug the meter in; " if missing is None else ""
        lines += [f"next: {plug}coatbench devices --all lists what is left out", ""]
    unseen = {} if missing is None else dict.fromkeys(usb_alone(own, drivers), missing.next_step)
    lines += absent_lines(there, own, by_daemon(there, own), unseen)
    say(lines[:-1])
    return _done(faults, missing, simulated=simulated_usb is not None)


def _done(faults: CoatbenchError | None, missing: CoatbenchError | None, *, simulated: bool) -> int:
    """The list was shown; what could not be read or looked at is told behind it.

    A computer may do without USB, but whoever names a bus wants what is on it.
    """
    if missing is not None and (faults is not None or not simulated):
        say(str(missing).splitlines(), err=True)
        missing = None
    if (fault := faults or missing) is not None:
        raise fault
    return DONE


def _usb_at(address: str | None) -> Callable[[list[Plugged]], list[Plugged]] | None:
    """The USB devices of a simulated bus, where one was named."""
    if address is None:
        return None
    from acquire.link.inventory import usb_devices  # noqa: PLC0415 - slow
    from acquire.testkit.far_usb import bus_at  # noqa: PLC0415 - for trying only

    bus = bus_at(address)

    def listed(ports: list[Plugged]) -> list[Plugged]:
        with closing(bus):
            return usb_devices(ports, bus, files=None, texts=bus.texts)

    return listed


def named_ports(there: Sequence[Plugged], bench: Bench | None) -> list[Plugged]:
    """Ports that the bench file names and that no list of the system has."""
    from acquire.link.inventory import named_port  # noqa: PLC0415 - slow

    found: dict[str, Plugged] = {}
    for spec in bench.connected if bench else ():
        path = spec.address.port
        if path is not None and not any(one.is_at(spec.address) for one in there):
            one = named_port(path)
            if one is not None:
                found.setdefault(one.where, one)
    return list(found.values())


OPEN_HERE = "in use: the daemon of this bench has it open"
_FREE = "coatbench stop ends it, if the port is to be free"


def by_name(one: Plugged, bench: Bench | None) -> Plugged:
    """What is plugged in, with the bench's own daemon by name where it is that which has it open.

    Opened it is as it should be then, and there is nothing to be ended.
    """
    from acquire.control.door import door_path, read_door  # noqa: PLC0415 - slow
    from acquire.errors import ControlError  # noqa: PLC0415

    if bench is None or not one.trouble:
        return one
    try:
        pid = read_door(door_path(bench.store)).pid
    except ControlError:
        return one
    own = re.sub(rf"[^,:]* \(process {pid}\)", " the daemon of this bench", one.trouble)
    if own == one.trouble:
        return one
    return replace(one, trouble=own, next_step=_FREE)


def opened_here(
    there: Sequence[Plugged], bench: Bench | None, opened: Mapping[str, str]
) -> list[Plugged]:
    """What is there; of USB devices with whether they are one that the bench's daemon has open."""
    return [
        replace(one, trouble=OPEN_HERE, next_step=_FREE)
        if not one.trouble
        and one.reached_by != ("serial",)
        and opened.keys() & set(instruments(one, bench))
        else one
        for one in there
    ]


def alone(one: Plugged, there: Sequence[Plugged], bench: Bench | None, drivers: Drivers) -> Plugged:
    """What is plugged in, with the trouble if an instrument's link leads elsewhere or is no use."""
    for spec in bench.connected if bench else ():
        fitting = [
            other.where
            for other in there
            if other.is_at(spec.address) and spec.driver in speakers(other, drivers)
        ]
        if one.is_at(spec.address) and spec.driver in drivers and not fitting:
            return replace(
                one,
                trouble=f"it is {spec.id} by its link, whose driver {spec.driver} cannot speak to "
                f"it: it is reached by {', '.join(one.reached_by)}",
                next_step=f"mend the link of {spec.id} in bench.toml, or name a driver that can",
            )
        if one.where in fitting and len(fitting) > 1:
            others = ", ".join(where for where in fitting if where != one.where)
            return replace(
                one,
                trouble=f"{others} is {spec.id} as well by its link, so it is opened at none",
                next_step=f"name in bench.toml what tells it: {link_words(one, there)}",
            )
        if spec.address.port in one.links and (twins := _nameless(one, there)):
            return replace(
                one,
                trouble=f"{twins} says the same of itself, and the name in the link of {spec.id} "
                "leads to one of them by chance",
                next_step=f"name in bench.toml the socket that it is in: {link_words(one, there)}",
            )
    return one


def _nameless(one: Plugged, there: Sequence[Plugged]) -> str:
    """The twins of a port that have no name of their own by what is plugged in.

    A port that says nothing of itself has none: its names were not made of what it says.
    """
    twins = [
        o for o in there if o.where != one.where and one.identity and o.identity == one.identity
    ]
    return ", ".join(twin.where for twin in twins if not twin.links)


def absent(there: Sequence[Plugged], bench: Bench | None) -> list[InstrumentSpec | ProbeSpec]:
    """The instruments of the bench that are none of what is there."""
    return [
        spec
        for spec in (bench.connected if bench else ())
        if not spec.address.typed and not any(one.is_at(spec.address) for one in there)
    ]


def by_daemon(there: Sequence[Plugged], bench: Bench | None) -> dict[str, str]:
    """Of the absent ones those that the bench's own daemon has open, and as what.

    Simulated USB devices are on a bus that only the daemon sees, which was told of it or is part of
    the program that simulates them.
    """
    names = [spec.id for spec in absent(there, bench) if spec.address.url is None]
    opened = connected(bench) if names else {}
    return {name: opened[name] for name in names if name in opened}


def connected(bench: Bench | None) -> dict[str, str]:
    """The instruments that the bench's own daemon has open, and as what; none where none runs."""
    from acquire.control.client import Client  # noqa: PLC0415 - slow
    from acquire.live.words import clean  # noqa: PLC0415

    if bench is None:
        return {}
    try:
        with Client.of_store(bench.store) as client:
            found = client.call("status")
    except CoatbenchError:
        return {}
    known = [*found["instruments"], *found["probes"]]
    return {
        one["id"]: clean(one["message"].partition("\n")[0]) for one in known if one["connected"]
    }


def absent_lines(
    there: Sequence[Plugged],
    bench: Bench | None,
    opened: Mapping[str, str] | None = None,
    unseen: Mapping[str, str] | None = None,
) -> list[str]:
    """The absent ones for a person; `opened`: those that the daemon has open all the same,
    `unseen`: those that nobody could look for, and what to do about it.
    """
    from acquire.link.find import PLUG  # noqa: PLC0415 - slow

    lines: list[str] = []
    for spec in absent(there, bench):
        address = spec.address
        lines.append(f"{spec.id}: {address}")
        if opened and spec.id in opened:
            lines += [
                f"  is        {opened[spec.id]}, by the daemon of this bench; not seen from here",
                "  next      nothing, if it is simulated: such USB devices are on a bus of their "
                "own, listed by --simulated-usb where the simulation tells an address",
            ]
        elif address.url is not None:
            lines += ["  is        on the network, where nothing was looked for"]
            lines += unasked_lines(bench, [spec.id])
        elif unseen and spec.id in unseen:
            lines.append("  is        not known: USB could not be looked at")
            lines.append(f"  next      {unseen[spec.id]}")
        else:
            lines += ["  is        not plugged in", f"  next      {PLUG}"]
        lines.append("")
    return lines


def usb_alone(bench: Bench | None, drivers: Mapping[str, Sequence[str]]) -> list[str]:
    """The instruments of the bench whose driver reaches none but USB devices."""
    return [
        spec.id
        for spec in (bench.connected if bench else ())
        if (ways := drivers.get(spec.driver)) and all(way.startswith("usb") for way in ways)
    ]


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
    return [spec.id for spec in bench.connected if one.is_at(spec.address)] if bench else []


def device_lines(
    one: Plugged, bench: Bench | None, drivers: Drivers, there: Sequence[Plugged] = ()
) -> list[str]:
    """One device of what is there for a person."""
    identity = ", ".join(f"{key} {value}" for key, value in one.identity.items())
    name = f" {one.name}" if one.name else ""
    lines = [f"{one.where}:{name}", f"  identity  {identity or 'none'}"]
    lines += [f"  also      {link}" for link in one.links]
    own = instruments(one, bench)
    if own:
        lines.append(f"  is        {', '.join(own)}")
        lines += unasked_lines(bench, own) if one.reached_by == ("serial",) else []
    elif bench is not None:
        lines.append(f"  is        no instrument of {bench.name}")
    named = speakers(one, drivers)
    lines.append(f"  speaks    {', '.join(named) or 'to no driver that is installed'}")
    if not own and named:
        lines.append(f"  link      {link_words(one, there)}")
    if one.trouble:
        # As it is while the daemon works, so it is called no trouble.
        label = "state" if one.trouble == OPEN_HERE else "trouble"
        lines.append(f"  {label:<10}{one.trouble}")
        lines.append(f"  next      {one.next_step}")
    return lines


def link_words(one: Plugged, there: Sequence[Plugged] = ()) -> str:
    """What to write into ``bench.toml``: the serial number alone where it tells it from the rest of
    what is there, and the port where nothing else does.
    """
    from acquire.link.find import fits  # noqa: PLC0415 - slow

    others = [other for other in there if other.where != one.where]
    numbered = "serial_number" in one.identity
    for keys in ["serial_number"], ["vid", "pid", *["serial_number"] * numbered]:
        pairs = {key: one.identity[key] for key in keys if key in one.identity}
        if pairs and not any(fits(other.identity, pairs) for other in others):
            break
    else:
        if one.identity and one.reached_by != ("serial",):
            twins = ", ".join(other.where for other in others if fits(other.identity, pairs))
            return f"none: nothing tells it from {twins}; leave one of them plugged in"
        return _by_port(one, [other for other in others if fits(other.identity, pairs)])
    return _link(pairs)


def _by_port(one: Plugged, twins: Sequence[Plugged]) -> str:
    """The link to a port that nothing but its name tells from its twins.

    By what is plugged in udev has one name for all that say the same of themselves, and it leads to
    one of them: to which is chance.
    """
    if one.links and all(twin.links for twin in twins):
        return _link({"port": one.links[0]})
    if one.sockets:
        words = "   # as long as it is plugged in there" if twins else ""
        return _link({"port": one.sockets[0]}) + words
    words = "   # its name changes with the order in which they are plugged in" if twins else ""
    return _link({"port": one.where}) + words


def _link(pairs: Mapping[str, str]) -> str:
    # JSON's escapes are those of TOML's basic strings, but for the delete character.
    told = ", ".join(f"{key} = {json.dumps(value)}" for key, value in pairs.items())
    return f"link = {{ {told} }}".replace("\x7f", "\\u007f")


def _bench(given: Path | None) -> tuple[Bench | None, CoatbenchError | None]:
    """The bench to compare with, none where none was named and none is here; and its faults."""
    from acquire.settings import load_bench  # noqa: PLC0415 - slow

    try:
        file = bench_file(given)
    except NotFound:
        return None, None
    try:
        return load_bench(file), None
    except CoatbenchError as error:
        # What is plugged in is wanted all the more to mend the file.
        return None, error
