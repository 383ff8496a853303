"""The files of a bench whose devices are those of a scenario: bench, policies and a trial.

Everything a bench file says of an instrument follows from its wire; the certificates of the
reference pieces say what the pieces truly are. Any thread.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, timedelta
from pathlib import Path

from acquire.errors import Misuse
from acquire.testkit.written_files import TRIAL, write_files
from simulators.scenario import Device, Scenario
from simulators.things import Thing
from simulators.wires import BESIDE, FORCE, GLOSS, LIGHT

DRIVERS: Mapping[str, str] = {
    "gloss": "line", "force": "line", "transmission": "line",
    "beside": "line", "frames": "frame", "modbus": "modbus", "head": "usbtmc", "weighing": "hid",
}  # fmt: skip
"""The driver family by the program that simulates, or for USB by the layout."""

UNITS = {GLOSS: "gloss_unit", FORCE: "gram_force", LIGHT: "percent"}
RESOLUTIONS = {GLOSS: 0.1, FORCE: 1, LIGHT: 0.1}
SHIPPED = "as in the policies that are shipped"

_VISIBLE_FROM_NM = 400


class BenchFiles:
    """Writes the files for a scenario; `links` has the link of each device as it stands in TOML.

    The certificates are valid on the day `on` and for some months around it.
    """

    def __init__(self, scenario: Scenario, links: Mapping[str, str], on: date) -> None:
        self._scenario = scenario
        self._links = links
        self._on = on

    def write(self, bench_file: Path, *, with_trial: bool = True) -> list[Path]:
        """Write them all into the folder of the bench file; their paths, the bench file first.

        Raises `Misuse`, before any is written, where a file of somebody else is in the place of
        one, or where the bench would be refused.
        """
        folder = bench_file.parent
        for device in self._meters:
            self._refuse_unread(device)
        texts = {bench_file: self.bench(f"{bench_file.stem}.sqlite")}
        for device in self._meters:
            texts[folder / "policies" / f"{device.name}.toml"] = self.policy(device)
        if with_trial and (trial := self.trial()):
            texts[folder / TRIAL] = trial
        return write_files(bench_file, texts)

    def bench(self, store: str) -> str:
        """The bench file."""
        parts = [f"[bench]\nname = {quoted(self._scenario.name)}\nstore = {quoted(store)}\n"]
        for device in self._scenario.devices:
            policy = "" if device.wire.measures in BESIDE else f"policy = {quoted(device.name)}\n"
            parts.append(
                "[[instrument]]\n"
                f"id = {quoted(device.name)}\n"
                f"kind = {quoted(device.wire.measures)}\n"
                f"serial = {quoted(device.serial)}\n"
                f"driver = {quoted(driver_of(device))}\n"
                f"profile = {quoted(device.wire_name)}\n"
                f"{policy}"
                f"link = {self._links[device.name]}\n"
            )
        for piece in self._pieces():
            for part in self._piece(piece):
                parts.append(part)
        return "\n".join(parts)

    def policy(self, device: Device) -> str:
        """The check policy of a device: every piece that it can read, in the order of the file."""
        quantity = device.wire.measures
        lines = [
            f"quantity = {quoted(quantity)}",
            *_channel_line(quantity, self.channels(device)),
            f"unit = {quoted(UNITS[quantity])}",
            f"resolution = {RESOLUTIONS[quantity]}",
            f"valid_for_s = {3600 if quantity == LIGHT else 14400}",
        ]
        for piece in self._pieces():
            if self._reads(device, piece):
                limit, spread = _limits(quantity, piece)
                lines += [
                    "",
                    "[[step]]",
                    f"piece = {quoted(piece.name)}",
                    "readings = 3",
                    f"limit = {limit:g}  # {SHIPPED}",
                    f"spread_limit = {spread:g}",
                ]
        return "\n".join(lines) + "\n"

    def trial(self) -> str:
        """A plan over the zones; empty where no zone is untreated, since a trial has a control."""
        zones = [thing for thing in self._scenario.things.values() if not thing.is_piece]
        if not self._meters or all(zone.treatment for zone in zones):
            return ""
        treatments = list(dict.fromkeys(zone.treatment for zone in zones if zone.treatment))
        ids = {name: f"t{place}-{_id(name)}" for place, name in enumerate(treatments, 1)}
        title = self._scenario.name
        parts = [
            f"[trial]\nid = {quoted(_id(title))}\ntitle = {quoted(title)}\n"
            'stages = ["bare", "applied"]\n',
            '[panel]\nname = "Simulated panel"\n',
            '[[treatment]]\nid = "none"\nname = "Untreated"\ncontrol = true\n',
        ]
        for name, own in ids.items():
            parts.append(f"[[treatment]]\nid = {quoted(own)}\nname = {quoted(name)}\n")
        for zone in zones:
            own = ids.get(zone.treatment, "none")
            parts.append(f"[[zone]]\nid = {quoted(zone.name)}\ntreatment = {quoted(own)}\n")
        for name, (quantity, channels) in self._measures().items():
            lines = [
                "[[measure]]",
                f"id = {quoted(name)}",
                f"quantity = {quoted(quantity)}",
                *_channel_line(quantity, channels),
                f"higher_is_better = {str(_is_more_better(quantity, channels)).lower()}",
                "replicates = 3",
                'order = "by-zone"',
            ]
            parts.append("\n".join(lines) + "\n")
        return "\n".join(parts)

    def channels(self, device: Device) -> tuple[str, ...]:
        """Of the channels of a device those in which all its pieces have a value."""
        pieces = [p for p in self._pieces() if p.is_for(device.wire.measures)]
        return tuple(
            channel
            for channel in device.channels
            if all(_value(piece, device.wire.measures, channel) is not None for piece in pieces)
        )

    def measure_of(self, device: Device) -> str:
        """The measure of the trial that is a device's."""
        own = device.wire.measures, self.channels(device)
        return next(name for name, measured in self._measures().items() if measured == own)

    def _measures(self) -> dict[str, tuple[str, tuple[str, ...]]]:
        """Each quantity in each set of channels once; the channels are in the name where it helps:
        always for gloss, else where there are several sets.
        """
        found = dict.fromkeys((d.wire.measures, self.channels(d)) for d in self._meters)
        quantities = [quantity for quantity, _ in found]
        return {
            f"{quantity}-{'_'.join(channels)}"
            if quantity == GLOSS or quantities.count(quantity) > 1
            else quantity: (quantity, channels)
            for quantity, channels in found
        }

    def _refuse_unread(self, device: Device) -> None:
        """Raises `Misuse` for a device that no check could be made of."""
        quantity = device.wire.measures
        read = [piece for piece in self._pieces() if self._reads(device, piece)]
        if not read or not self.channels(device):
            raise Misuse(
                f"no bench is written: {device.name} could not be checked",
                got=", ".join(piece.name for piece in read) or f"no [[piece]] for {quantity}",
                wanted=f"at least one [[piece]] for {quantity}, and a channel of the device in "
                "which every one of them has a value",
                next_step="give the scenario its pieces, or simulate it without --bench",
            )

    @property
    def _meters(self) -> list[Device]:
        """The devices that measure surfaces."""
        return [d for d in self._scenario.devices if d.wire.measures not in BESIDE]

    def _pieces(self) -> list[Thing]:
        return [thing for thing in self._scenario.things.values() if thing.is_piece]

    def _reads(self, device: Device, piece: Thing) -> bool:
        wire = device.wire
        if not piece.is_for(wire.measures):
            return False
        if wire.measures == FORCE:
            # A pull without force is none.
            return wire.presses != "stream" or bool(piece.mass_g)
        # Its range ends at 100 %: half of the readings of an open beam have no value.
        return device.wire_name != "modbus-transmission" or _kind(piece, LIGHT) != "open-beam"

    def _piece(self, piece: Thing) -> Iterator[str]:
        for quantity in (GLOSS, FORCE, LIGHT):
            # A bench without a device that reads it would have a piece without certificates.
            if piece.is_for(quantity) and self._certified(piece, quantity):
                kind = quoted(_kind(piece, quantity))
                yield f"[[piece]]\nid = {quoted(piece.name)}\nkind = {kind}\n"
                for channel in self._certified(piece, quantity):
                    yield self._certificate(piece, quantity, channel)

    def _certified(self, piece: Thing, quantity: str) -> list[str]:
        wanted = [
            channel
            for device in self._scenario.devices
            if device.wire.measures == quantity
            for channel in device.channels
        ]
        return [c for c in dict.fromkeys(wanted) if _value(piece, quantity, c) is not None]

    def _certificate(self, piece: Thing, quantity: str, channel: str) -> str:
        value = _value(piece, quantity, channel)
        assert value is not None
        doubt = {GLOSS: 0.4 if value else 0.1, FORCE: 0.1, LIGHT: 0.3 if value else 0.1}[quantity]
        lines = [
            "[[piece.certificate]]",
            f"quantity = {quoted(quantity)}",
            *_channel_line(quantity, (channel,)),
            f"value = {value}",
            f"unit = {quoted(UNITS[quantity])}",
            f"expanded_uncertainty = {doubt}",
            "coverage_factor = 2",
            f"issued = {self._on - timedelta(days=90)}",
            f"due = {self._on + timedelta(days=275)}",
            'issuer = "Invented calibration laboratory"',
        ]
        return "\n".join(lines) + "\n"


def _is_more_better(quantity: str, channels: tuple[str, ...]) -> bool:
    """More gloss and more of what is seen; but less pull is slicker, and less ultraviolet guards.

    Common practice, no source; the tester's own trial file says what is wanted.
    """
    if quantity == FORCE:
        return False
    return quantity == GLOSS or not all(c.endswith(f"-{_VISIBLE_FROM_NM}") for c in channels)


def quoted(text: str) -> str:
    """A text as TOML has it: the escapes of JSON are among those of TOML 1.0 (from memory)."""
    return json.dumps(text, ensure_ascii=False)


def driver_of(device: Device) -> str:
    """The driver family that reads a device."""
    wire = device.wire
    return DRIVERS[wire.layout if wire.kind == "usb" else wire.kind]


def _value(piece: Thing, quantity: str, channel: str) -> float | None:
    if quantity == GLOSS:
        return piece.gloss(channel)
    if quantity == FORCE:
        return piece.mass_g
    return None if piece.percent is None else piece.percent.get(channel)


def _kind(piece: Thing, quantity: str) -> str:
    if quantity == GLOSS:
        values = piece.surface.get("gloss")
        dark = isinstance(values, Mapping) and not any(values.values())
        return "black-trap" if dark else "gloss-tile"
    if quantity == FORCE:
        return "check-weight" if piece.mass_g else "no-load"
    values = set((piece.percent or {}).values())
    if values == {100.0}:
        return "open-beam"
    return "dark" if values == {0.0} else "neutral-filter"


def _limits(quantity: str, piece: Thing) -> tuple[float, float]:
    kind = _kind(piece, quantity)
    if quantity == GLOSS:
        return (0.3, 0.2) if kind == "black-trap" else (1.0, 0.5)
    if quantity == FORCE:
        mass_g = piece.mass_g or 0.0
        return (3.0 + mass_g / 100, 2.0 + mass_g / 250)
    return {"open-beam": (1.0, 0.5), "dark": (0.5, 0.3)}.get(kind, (1.5, 0.5))


def _channel_line(quantity: str, channels: Sequence[str]) -> list[str]:
    if quantity == FORCE:
        return []
    shown = [one if quantity == GLOSS else quoted(one) for one in channels]
    word = "geometry" if quantity == GLOSS else "band"
    return [f"{word} = {shown[0] if len(shown) == 1 else '[' + ', '.join(shown) + ']'}"]


def _id(name: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:40] or "bench"
