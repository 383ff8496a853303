"""Scenario files: a whole bench of simulated devices, with what befalls it, in one TOML file.

    [scenario]
    name = "A morning at the yard"
    seed = 7                            # of everything, unless a device has its own

    [[zone]]                            # of the panel, as each kind of meter sees it
    name = "A1"
    treatment = "Plover sealant"
    gloss = { 20 = 79.6, 60 = 88.4 }    # texture_sd, slope, spots, spot_loss, swirl, swirl_deg
    static = 0.3                        # kinetic, ageing, first, texture (`simulators.force`)
    film = { 315-400 = 0.4 }            # clear, edge_nm, edge_width_nm (`simulators.transmission`)

    [[piece]]                           # a reference piece as it truly is
    name = "T1"
    gloss = { 20 = 91.4, 60 = 95.2 }    # or mass_g = 200, or percent = 50 (or by band)

    [[device]]
    name = "shore"
    wire = "gloss-press"                # see `simulators.wires`, also for the options of each
    serial = "SH-0417"
    port = "pty"                        # or "tcp"; left out: pty, where the system has them
    faults = [ { kind = "clean", lines = 9 }, { kind = "split" } ]

    [[script]]                          # in this order; each when its time has come
    do = "drift shore gain=1.02"        # a line as in `simulators.commands`
    after_s = 60                        # since the act before, or after_presses = 20 of a device:
    of = "shore"

Reading a file tries every option, fault and act of it on devices without ports. What is wrong is
told in three steps, each whole: the entries; what devices do not take, which only sound entries
tell; and acts of the script, which need every device. The same file gives the same bytes, device by
device. Pure.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from typing import NamedTuple, TypeVar

from simulators.arguments import ActFault, Arguments, shown
from simulators.bench import SERIAL, SERIAL_WANTED
from simulators.faults import read_faults
from simulators.hand import Doer, Table
from simulators.names import serial_key
from simulators.scenario import Device, Scenario, Step, hands_of
from simulators.things import Thing, read_piece_thing, read_zone_thing
from simulators.usb.backend import SimulatedBackend
from simulators.usb.hands import usb_hand
from simulators.usb.waiting import HurriedWaiting
from simulators.wires import GLOSS, TCP, USB, WIRES, Wire, on_table

MOST_SEED = 2**31 - 1
DEVICE_NAME = r"[A-Za-z0-9][A-Za-z0-9_-]{0,31}"
DEVICE_NAME_WANTED = "1 to 32 letters, digits, - or _, a letter or digit first"
ACT, ACT_WANTED = r"[^\x00-\x1f\x7f]{1,200}", "an act on one line, as put shore T1"
MOST_DEVICES = 64
"""Each is a process, and a bench file has no more."""
TABLES = ("scenario", "zone", "piece", "device", "script")

T = TypeVar("T")


class Wrong(NamedTuple):
    """One fault of a file: where, what was got, what was wanted."""

    path: str
    got: str
    wanted: str


class ScenarioFault(Exception):
    """A file with faults: all of one step of reading, in the order of the file."""

    def __init__(self, source: str, faults: list[Wrong]) -> None:
        lines = [f"{one.path}: got {one.got}, wanted {one.wanted}" for one in faults]
        super().__init__(f"{source}: " + "; ".join(lines))
        self.source = source
        self.faults = faults


def read_scenario(text: str, source: str) -> Scenario:
    """The scenario of a file's text. Raises ScenarioFault with every fault there is."""
    try:
        # Some editors begin a file with a byte order mark; it is no part of the text.
        tables = tomllib.loads(text.removeprefix("\ufeff"))
    except tomllib.TOMLDecodeError as fault:
        raise ScenarioFault(source, [Wrong("file", str(fault), "TOML")]) from fault
    except RecursionError:
        got, wanted = "lists or tables nested too deep to read", "a few levels at most"
        raise ScenarioFault(source, [Wrong("file", got, wanted)]) from None
    except ValueError:
        # Python refuses to read an integer of thousands of digits.
        got, wanted = "a number of thousands of digits", "numbers of a few dozen digits"
        raise ScenarioFault(source, [Wrong("file", got, wanted)]) from None
    reading = _Reading(tables)
    scenario = reading.scenario()
    if reading.faults:
        raise ScenarioFault(source, reading.faults)
    _try(scenario, reading)
    if reading.faults:
        raise ScenarioFault(source, reading.faults)
    return scenario


class _Reading:
    """A file being read; keeps its faults and goes on."""

    def __init__(self, tables: Mapping[str, object]) -> None:
        self.faults: list[Wrong] = []
        self._tables = tables

    def scenario(self) -> Scenario:
        for table, found in self._tables.items():
            if table not in TABLES:
                self.faults.append(Wrong(table, shown(found), "one of " + ", ".join(TABLES)))
        head = self._table(self._tables.get("scenario", {}), "scenario")
        name = self.get(head, "", lambda: head.name("name", "Bench"))
        seed = self.get(head, "", lambda: head.whole("seed", 0, MOST_SEED, 0))
        self._finish(head)
        zones = [self._thing(a, read_zone_thing) for a in self._list("zone")]
        pieces = [self._thing(a, read_piece_thing) for a in self._list("piece")]
        things = [thing for thing in (*zones, *pieces) if thing is not None]
        self._once("zone or piece", [thing.name for thing in things])
        tables = self._list("device")
        if len(tables) > MOST_DEVICES:
            self.faults.append(Wrong("device", f"{len(tables)}", f"at most {MOST_DEVICES}"))
        devices = [self._device(a, seed or 0, things) for a in tables[:MOST_DEVICES]]
        if not devices:
            self.faults.append(Wrong("device", "nothing", "at least one [[device]]"))
        self._once("device", [device.name for device in devices if device])
        self._serials([device for device in devices if device])
        names = [device.name for device in devices if device]
        script = [self._step(a, names) for a in self._list("script")]
        return Scenario(
            name or "",
            seed or 0,
            {thing.name: thing for thing in things},
            tuple(device for device in devices if device),
            tuple(step for step in script if step),
        )

    def _serials(self, devices: list[Device]) -> None:
        first: dict[tuple[str, str], str] = {}
        for device in devices:
            key = serial_key(device.wire.measures, device.serial)
            if key in first:
                wanted = f"one of its own: {first[key]} has this one"
                self.faults.append(Wrong(f"device {device.name}.serial", device.serial, wanted))
            first.setdefault(key, device.name)

    def get(self, args: Arguments, where: str, read: Callable[[], T]) -> T | None:
        """What is read, or None and a fault at ``args.act`` and `where`."""
        try:
            return read()
        except ActFault as fault:
            inner = fault.what.removeprefix(args.act).strip()
            path = ".".join(part for part in (args.act, where, inner) if part)
            self.faults.append(Wrong(path, fault.got, fault.wanted))
            return None

    def _thing(self, args: Arguments, read: Callable[[Arguments], Thing]) -> Thing | None:
        return self.get(args, "", lambda: read(args))

    def _device(self, args: Arguments, seed: int, things: list[Thing]) -> Device | None:
        before = len(self.faults)
        get = self.get
        name = get(args, "", lambda: args.text("name", DEVICE_NAME, DEVICE_NAME_WANTED))
        wire_name = get(args, "", lambda: args.choice("wire", WIRES))
        serial = get(args, "", lambda: args.text("serial", SERIAL, SERIAL_WANTED))
        own = get(args, "", lambda: args.whole("seed", 0, MOST_SEED, seed))
        if wire_name is None:
            return None
        wire = WIRES[wire_name]
        if serial and len(serial) > wire.serial_longest:
            wanted = f"at most {wire.serial_longest} characters on this wire"
            self.faults.append(Wrong(f"{args.act}.serial", serial, wanted))
        port = get(args, "", lambda: args.choice("port", wire.ports)) if args.has("port") else None
        options = {
            option: get(args, "", lambda o=option, r=read: r(args, o))  # type: ignore[misc]
            for option, read in wire.options.items()
            if args.has(option)
        }
        if "format" in options and "baud" not in options:
            self.faults.append(
                Wrong(f"{args.act}.baud", "nothing", "the speed that goes with format")
            )
        if ("fault_kinds" in options) != ("fault_share" in options):
            lacks = "fault_kinds" if "fault_share" in options else "fault_share"
            wanted = "fault_share and fault_kinds, or neither"
            self.faults.append(Wrong(f"{args.act}.{lacks}", "nothing", wanted))
        if "tcp_port" in options and (port or wire.ports[0]) != TCP:
            self.faults.append(Wrong(f"{args.act}.port", port or "nothing", '"tcp" with tcp_port'))
        faults = self._faults(args, wire)
        self._finish(args)
        for thing in things:
            if wire.measures == GLOSS and not thing.is_piece and not thing.is_for(GLOSS):
                wanted = f"gloss, since {name} measures it"
                self.faults.append(Wrong(f"zone {thing.name}", "nothing", wanted))
        if len(self.faults) > before or name is None or serial is None or own is None:
            return None
        return Device(name, wire_name, serial, own, port, options, faults)

    def _faults(self, args: Arguments, wire: Wire) -> tuple[Mapping[str, object], ...]:
        tables = self.get(args, "", lambda: args.tables("faults")) or []
        for number, table in enumerate(tables):
            if USB not in wire.ports:
                one = Arguments(f"{args.act}.faults[{number}]", table)
                self.get(one, "", lambda one=one: read_faults(one))  # type: ignore[misc]
        return tuple(tables)

    def _step(self, args: Arguments, devices: list[str]) -> Step | None:
        before = len(self.faults)
        get = self.get
        do = get(args, "", lambda: args.text("do", ACT, ACT_WANTED))
        after_s = presses = of = None
        if args.has("after_s"):
            after_s = get(args, "", lambda: args.number("after_s", 0, 1e6))
        if args.has("after_presses"):
            presses = get(args, "", lambda: args.whole("after_presses", 1, 1_000_000))
            of = get(args, "", lambda: args.choice("of", devices))
            if after_s is not None:
                self.faults.append(
                    Wrong(args.act, "after_s and after_presses", "one of them, or neither")
                )
        self._finish(args)
        if len(self.faults) > before or do is None:
            return None
        return Step(do, after_s, presses, of or "")

    def _list(self, name: str) -> list[Arguments]:
        found = self._tables.get(name, [])
        if not isinstance(found, list):
            self.faults.append(Wrong(name, shown(found), f"tables, each under [[{name}]]"))
            return []
        return [self._table(table, f"{name}[{n}]") for n, table in enumerate(found)]

    def _table(self, found: object, path: str) -> Arguments:
        if not isinstance(found, Mapping):
            self.faults.append(Wrong(path, shown(found), "a table"))
            return Arguments(path, {})
        return Arguments(path, found)

    def _finish(self, args: Arguments) -> None:
        for name in args.left():
            got = shown(args.given(name))
            self.faults.append(Wrong(f"{args.act}.{name}", got, f"one of {args.known()}"))

    def _once(self, what: str, names: list[str]) -> None:
        for name in dict.fromkeys(n for n in names if names.count(n) > 1):
            self.faults.append(Wrong(what, f"{name} twice", "each name once"))


def _try(scenario: Scenario, reading: _Reading) -> None:
    """Do everything that the scenario is to do, on devices without ports."""
    backend = SimulatedBackend(HurriedWaiting())
    doers: dict[str, Doer] = {}
    for number, device in enumerate(scenario.devices):
        args = Arguments(f"device[{number}]", {})
        doer = reading.get(args, "", lambda d=device: _table(d, backend))  # type: ignore[misc]
        if doer is None:
            continue
        doers[device.name] = doer
        if USB in device.wire.ports:
            for place, fault in enumerate(device.faults):
                reading.get(
                    args, f"faults[{place}]",
                    lambda d=doer, f=fault: d.act("fault", **f),  # type: ignore[misc]
                )  # fmt: skip
    if reading.faults:
        return
    hands = hands_of(scenario, doers)
    for number, step in enumerate(scenario.script):
        args = Arguments(f"script[{number}].do", {})
        reading.get(args, "", lambda s=step: hands.do(s.do))  # type: ignore[misc]


def _table(device: Device, backend: SimulatedBackend) -> Doer:
    wire = device.wire
    if USB in wire.ports:
        return usb_hand(wire.layout, backend, device.serial, device.seed, device.options)
    try:
        return Table(on_table(wire, device.serial, device.seed, device.options))
    except ValueError as fault:
        raise ActFault("", str(fault), "options that go together") from fault
