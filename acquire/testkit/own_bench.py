"""A simulated bench of the shape of a person's own trial: its meters, zones and pieces.

The meters are those that the trial's measures need, each with reference pieces and a policy that
can be passed; beside them a counter at the wash and a climate probe. Nothing drifts unless it is
told to. A blind trial cannot be read without its key, which is in another store and is not looked
at: then a copy of the plan is written with a key of invented names. Any thread.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from acquire.errors import CoatbenchError, Misuse
from acquire.model import Measure, Plan, Quantity
from acquire.schema import load_text, parse_toml
from acquire.settings import parse_plan
from acquire.store.reader import StoreReader
from acquire.testkit.bench_file import quoted
from acquire.testkit.own_panel import ANGLES, OwnPanel
from acquire.testkit.simulated import Simulated, scenario_of
from acquire.testkit.written_files import MARK
from acquire.trial.key import SALT_BYTES, digest_of, key_text
from acquire.trial.washes import strokes_per_wash
from simulators.scenario import Scenario
from simulators.usb.head_hand import HEAD_BANDS
from simulators.wires import LIGHT, WIRES

KEPT = "panel.json"
_NAMES = {
    Quantity.GLOSS: ("shore", "quay", "mole", "pier"),
    Quantity.FORCE: ("pull",),
    Quantity.TRANSMITTANCE: ("light", "lamp", "beam", "ray"),
}
_PIECES = {
    Quantity.GLOSS: (
        ("T1", "gloss = { 20 = 91.4, 60 = 95.2, 85 = 98.0 }"),
        ("T2", "gloss = { 20 = 52.6, 60 = 71.8, 85 = 84.0 }"),
        ("Z0", "gloss = { 20 = 0.0, 60 = 0.0, 85 = 0.0 }"),
    ),
    Quantity.FORCE: (("W0", "mass_g = 0"), ("W200", "mass_g = 200"), ("W500", "mass_g = 500")),
    Quantity.TRANSMITTANCE: (
        ("OPEN", "percent = 100"), ("DARK", "percent = 0"), ("N50", "percent = 50"),
    ),
}  # fmt: skip
COUNTER = "hub"


@dataclass(frozen=True, slots=True)
class _Meter:
    name: str
    wire: str
    measure: Measure


def is_trial(path: Path) -> bool:
    """Whether a file is a trial and no scenario. A file with faults is what its reader says."""
    try:
        table = parse_toml(load_text(path), str(path))
    except CoatbenchError:
        return False
    return isinstance(table.get("trial"), dict)


class OwnBench:
    """The bench of a trial file. Raises `SettingsError`, and `Misuse` where no meter would do."""

    def __init__(self, path: Path, folder: Path, seed: int | None = None) -> None:
        self.path = path
        self.plan = parse_plan(load_text(path), str(path))
        if self.plan.study is not None:
            raise Misuse(
                "no bench is simulated",
                got=f"{path}, a study of an instrument",
                wanted="a trial of products, or a scenario",
                next_step="coatbench simulate boatyard",
            )
        self.seed = int(self.plan.digest[:7], 16) if seed is None else seed
        self._meters = list(_meters(self.plan))
        bands = [
            band
            for band in dict.fromkeys(
                channel
                for meter in self._meters
                if meter.measure.quantity is Quantity.TRANSMITTANCE
                for channel in WIRES[meter.wire].channels
            )
            if band in HEAD_BANDS
        ]
        self.panel = OwnPanel(self.plan, self.seed, bands, folder / KEPT)

    @property
    def scenario(self) -> Scenario:
        """Devices, pieces, and the zones as they are now. Raises `SettingsError`."""
        return scenario_of("\n".join(self._scenario()), f"the bench of {self.path}")

    def _scenario(self) -> Iterator[str]:
        yield f"[scenario]\nname = {quoted(f'Simulated bench of {self.plan.id}')}"
        yield f"seed = {self.seed % 2**31}\n"
        for zone in self.plan.zones:
            words = self.panel.words_of(zone)
            yield f"[[zone]]\nname = {quoted(zone.id)}"
            yield from (f"{key} = {_inline(value)}" for key, value in words.items() if value != {})
            yield ""
        quantities = {meter.measure.quantity for meter in self._meters}
        for quantity in (q for q in Quantity if q in quantities):
            for name, what in _PIECES[quantity]:
                yield f"[[piece]]\nname = {quoted(name)}\n{what}\n"
        for number, meter in enumerate(self._meters, 1):
            yield f"[[device]]\nname = {quoted(meter.name)}\nwire = {quoted(meter.wire)}"
            yield f'serial = "SIM-{number}"'
            if meter.measure.quantity is Quantity.GLOSS:
                yield f"angles = [{', '.join(meter.measure.channels)}]"
            yield ""
        yield f'[[device]]\nname = "{COUNTER}"\nwire = "counter-strokes"\nserial = "SIM-HUB"\n'
        yield '[[device]]\nname = "hygro"\nwire = "climate-asked"\nserial = "SIM-CLIMATE"\n'

    def settle(self, bench: Simulated) -> None:
        """Give the hands the sled of the plan."""
        for meter in self._meters:
            sled = meter.measure.sled
            if meter.measure.quantity is Quantity.FORCE and sled is not None:
                bench.rig.hands.hands[meter.name].pulls = {"mass_g": float(1000 * sled.mass_kg)}

    def do(self, bench: Simulated, line: str) -> list[str]:
        """Do a line for the panel: every meter finds the zones as they are then."""
        told, washes = self.panel.do(line)
        if line.split(maxsplit=1)[0] in ("apply", "strip", "wash"):
            for zone in self.plan.zones:
                bench.do(f"zone {zone.id} {_words(self.panel.words_of(zone))}")
        for _ in range(washes * strokes_per_wash(self.plan)):
            bench.do(f"press {COUNTER}")
        return told

    # -- the trial in the bench's store ------------------------------------------------------------

    def trial(self, bench_file: Path, store: Path) -> tuple[Path, str, str]:
        """The trial file to work by, its text, and its key; a copy where the key is not at hand.

        Raises `Misuse` where a file of somebody else is in the place of the copy.
        """
        plan = self.plan
        if not plan.is_blind or _has_key(store, plan.key_digest):
            return self.path, plan.text, ""
        controls = {t.id for t in plan.treatments if t.is_control}
        names = {
            t.id: f"invented product {t.name}" for t in plan.treatments if t.id not in controls
        }
        salt = hashlib.sha256(f"{self.seed}|{plan.digest}".encode()).digest()[:SALT_BYTES]
        key = key_text(plan.id, names, salt)
        text = f"{MARK}\n\n{plan.text.replace(plan.key_digest, digest_of(key))}"
        copy = bench_file.with_name(f"{plan.id}-simulated.toml")
        if copy.exists() and not load_text(copy).startswith(MARK):
            raise Misuse(
                f"{copy} is not overwritten",
                got="a file that was not written here",
                wanted="a place for the copy of the blind trial",
                next_step="name a bench file in another folder",
            )
        copy.write_text(text, encoding="utf-8")
        return copy, text, key


def _has_key(store: Path, digest: str) -> bool:
    if not store.is_file():
        return False
    with StoreReader(store) as reader:
        return bool(reader.rows("SELECT 1 FROM trial_key WHERE digest = ?", (digest,)))


def _meters(plan: Plan) -> Iterator[_Meter]:
    """One for each quantity in each set of channels. Raises `Misuse` where none could read it."""
    left = {quantity: iter(names) for quantity, names in _NAMES.items()}
    seen: set[tuple[Quantity, tuple[str, ...]]] = set()
    for measure in plan.measures:
        if (measure.quantity, measure.channels) in seen:
            continue
        seen.add((measure.quantity, measure.channels))
        wire, name = _wire(measure), next(left[measure.quantity], "")
        if not wire or not name:
            raise Misuse(
                f"no bench is simulated for measure {measure.id}",
                got=f"{measure.quantity.value} at {', '.join(measure.channels)}"
                if not wire
                else f"more than {len(_NAMES[measure.quantity])} meters of one kind",
                wanted=f"geometries {', '.join(ANGLES)}, force, or bands that one simulated head "
                f"has: {_bands_of_heads()}",
                next_step="try it with a copy of the trial without this measure",
            )
        yield _Meter(name, wire, measure)


def _wire(measure: Measure) -> str:
    if measure.quantity is Quantity.GLOSS:
        return "gloss-press" if set(measure.channels) <= set(ANGLES) else ""
    if measure.quantity is Quantity.FORCE:
        # A steady window lies in the trace of a pull, which a held peak has not.
        is_of_traces = measure.sled is not None and measure.sled.window is not None
        return "force-stream" if is_of_traces else "force-peak"
    wanted = set(measure.channels)
    # Stray light and lamps are taken of spectra, which a head on a bus sends.
    has_spectra = measure.stray_light is not None or bool(measure.lamps)
    return next(
        (name for name, bands in _heads(has_spectra=has_spectra) if wanted <= set(bands)), ""
    )


def _heads(*, has_spectra: bool) -> list[tuple[str, tuple[str, ...]]]:
    """Bands by wire, of those that press by themselves: on a line, or with spectra on a bus."""
    presses = [(n, w) for n, w in WIRES.items() if w.measures == LIGHT and w.presses == "press"]
    return [(name, wire.channels) for name, wire in presses if (wire.kind == "usb") is has_spectra]


def _bands_of_heads() -> str:
    heads = [*_heads(has_spectra=False), *_heads(has_spectra=True)]
    return "; ".join(dict.fromkeys(", ".join(bands) for _, bands in heads))


def _inline(value: Any) -> str:
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{key} = {inner}" for key, inner in value.items()) + " }"
    return str(value)


def _words(words: dict[str, object]) -> str:
    """As the command `zone` takes them."""
    told = []
    for key, value in words.items():
        if isinstance(value, dict):
            told += [f"{key}.{inner}={number}" for inner, number in value.items()]
        else:
            told.append(f"{key}={value}")
    return " ".join(told)
