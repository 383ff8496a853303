"""``bench.toml`` and the files it names, from TOML to a `Bench`.

The file is documented, line by line, in ``config/boatyard/bench.toml``. Faults of the bench file,
of the profiles and of the policies, and of how they fit one another, are told together. Reads
files, and looks whether the store's folder is there; opens no link. Any thread.
"""

from __future__ import annotations

import ipaddress
import os
from collections.abc import Iterator, Mapping
from contextlib import suppress
from decimal import Decimal
from pathlib import Path
from typing import Annotated

from pydantic import AfterValidator, BeforeValidator, Field

from acquire.errors import Fault, SettingsError
from acquire.model import (
    MEASURED,
    UNKNOWN_SERIAL,
    Bench,
    CertificateFile,
    InstrumentSpec,
    ProbeSpec,
    Quantity,
)
from acquire.schema import (
    Id,
    Name,
    Number,
    Schema,
    Unsound,
    in_file_order,
    is_whole,
    load_toml,
    rule,
    show,
    sound,
    survey,
)
from acquire.settings.certificate_file import LARGEST_WORDS, look_at
from acquire.settings.companion import NO_PROFILE, POLICIES, PROFILES, Companions, split_label
from acquire.settings.fields import AnyKind, path_text, repeated_ids
from acquire.settings.fit import fit_faults, shelf
from acquire.settings.link import LinkTable, may_be_same, same_link_words
from acquire.settings.pieces import PieceTable
from acquire.settings.shipped import config_dir

_CONTROL_WORDS = '"127.0.0.1:0", or another port; the daemon is controlled from this computer only'


def _control(value: object) -> tuple[str, int]:
    if not isinstance(value, str):
        raise ValueError(_CONTROL_WORDS)
    host, _, port = value.rpartition(":")
    if not (port.isascii() and port.isdecimal() and len(port) <= 5 and int(port) <= 65535):
        raise ValueError(_CONTROL_WORDS)
    host = "127.0.0.1" if host == "localhost" else host.removeprefix("[").removesuffix("]")
    try:
        is_here = ipaddress.ip_address(host).is_loopback
    except ValueError:
        is_here = False
    if not is_here:
        raise ValueError(_CONTROL_WORDS)
    return host, int(port)


def _serial(value: str) -> str:
    is_one = value == value.strip() and value.isprintable() and value != UNKNOWN_SERIAL
    if not is_one or not value or len(value) > 64:
        raise ValueError("the serial number as the instrument itself bears it, 1 to 64 characters")
    return value


class BenchTable(Schema):
    name: Name
    store: Annotated[str, AfterValidator(path_text)]
    control: Annotated[
        tuple[str, int], BeforeValidator(_control), Field(description=_CONTROL_WORDS)
    ] = ("127.0.0.1", 0)
    due_soon_days: Annotated[int, Field(ge=0, le=366)] = 30
    # From the equator's 9.780 to the poles' 9.832 (WGS 84 ellipsoid, from memory), less on heights.
    gravity: Annotated[Number, Field(ge=Decimal("9.76"), le=Decimal("9.84"))] | None = None


class InstrumentTable(Schema):
    id: Id
    kind: AnyKind
    serial: Annotated[str, AfterValidator(_serial)]
    driver: Id
    # A driver of somebody else's may need none; one that does says so itself.
    profile: Id | None = None
    policy: Id | None = None
    link: LinkTable

    @rule
    def what_measures_is_checked(self) -> Iterator[Fault]:
        if self.kind in MEASURED and self.policy is None:
            wanted = f"the check policy by which this meter of {self.kind} is checked"
            yield Fault("policy", "nothing", wanted)
        elif self.kind not in MEASURED and self.policy is not None:
            wanted = f"none: a {self.kind} measures no surface and is not checked"
            yield Fault("policy", show(self.policy), wanted)


class BenchFile(Schema):
    bench: BenchTable
    instrument: Annotated[list[InstrumentTable], Field(min_length=1, max_length=64)]
    piece: Annotated[list[PieceTable], Field(max_length=200, default_factory=list)]

    @rule
    def instrument_ids_are_unique(self) -> Iterator[Fault]:
        yield from repeated_ids(self.instrument, "instrument")

    @rule
    def piece_ids_are_unique(self) -> Iterator[Fault]:
        yield from repeated_ids(self.piece, "piece")

    @rule
    def each_instrument_has_its_serial_number(self) -> Iterator[Fault]:
        # Two of one kind could answer in each other's place. Makers of different kinds number
        # their instruments for themselves, and a reading of another quantity is no danger.
        first: dict[tuple[str, str], int] = {}
        for index, instrument in sound(self.instrument, "kind", "serial"):
            key = (instrument.kind, instrument.serial.casefold())
            if key in first:
                owner = f"instrument[{first[key]}] ({instrument.kind}) has this one"
                wanted = f"the serial number that this instrument itself bears: {owner}"
                yield Fault(f"instrument[{index}].serial", show(instrument.serial), wanted)
            first.setdefault(key, index)

    @rule
    def each_instrument_has_its_link(self) -> Iterator[Fault]:
        addresses = []
        for index, instrument in sound(self.instrument, "link"):
            if is_whole(instrument.link):
                addresses.append((index, instrument.link.address()))
        for place, (index, address) in enumerate(addresses):
            for earlier, other in addresses[:place]:
                if may_be_same(address, other):
                    got, wanted = show(str(address)), same_link_words(earlier, other)
                    yield Fault(f"instrument[{index}].link", got, wanted)
                    break


def load_bench(path: Path, *, shipped: Path | None = None) -> Bench:
    """The bench of a file, with the profiles and policies it names read in.

    They are looked up beside the file first (``profiles/NAME.toml``, ``policies/NAME.toml``), then
    in `shipped`, by default the configuration that comes with Coatbench, and profiles in the
    packages that bring drivers. Raises `SettingsError` with every fault of all these files.
    """
    source, beside = str(path), path.absolute().parent
    table = load_toml(path)
    files = Companions(beside, shipped or config_dir())
    file, faults = survey(BenchFile, table)
    kept: dict[str, CertificateFile] = {}
    for check in (_store_faults, _companion_faults, _piece_faults):
        # Each goes as far as the bench file is sound.
        with suppress(Unsound):
            faults.extend(check(file, files))
    with suppress(Unsound):
        faults.extend(_file_faults(file, beside, kept))
    if faults or files.faults:
        raise _error(source, [*faults, *files.faults], table, files)
    host, port = file.bench.control
    return Bench(
        name=file.bench.name,
        store=_store(file.bench, beside),
        control_host=host,
        control_port=port,
        instruments=tuple(
            _instrument(table, files) for table in file.instrument if table.kind in MEASURED
        ),
        pieces=tuple(table.piece(kept, file.bench.gravity) for table in file.piece),
        due_soon_days=file.bench.due_soon_days,
        probes=tuple(
            _probe(table, files) for table in file.instrument if table.kind not in MEASURED
        ),
    )


def _error(
    source: str, faults: list[Fault], table: Mapping[str, object], files: Companions
) -> SettingsError:
    """All faults in the order of their files, under the name of the file that has them."""
    own = in_file_order((f for f in faults if not split_label(f.path)[0]), table)
    others = files.in_order(f for f in faults if split_label(f.path)[0])
    labels = {split_label(fault.path)[0] for fault in others}
    if not labels:
        return SettingsError(source, own)
    if not own and len(labels) == 1 and (lies_at := files.beside_of(*labels)) is not None:
        bare = [fault._replace(path=split_label(fault.path)[1]) for fault in others]
        return SettingsError(str(lies_at), bare)
    return SettingsError(
        f"{source} with the files it names",
        own + others,
        next_step="mend the files named and try again",
    )


def _store(table: BenchTable, beside: Path) -> Path:
    # A home that is not known raises RuntimeError.
    return beside / Path(table.store).expanduser()


def _store_faults(file: BenchFile, files: Companions) -> Iterator[Fault]:
    shown = show(file.bench.store)
    try:
        store = _store(file.bench, files.beside)
        # A link that leads nowhere yet leads to where the store will be made.
        place = Path(os.path.realpath(store))
        if store.is_dir():
            yield Fault("bench.store", f"{shown}, a folder", "the path of a file")
        elif not place.parent.is_dir():
            yield Fault("bench.store", shown, "a path in a folder that is there")
        elif (store.exists() and not store.is_file()) or place.is_symlink():
            got = f"{shown}, which is no regular file"
            yield Fault("bench.store", got, "the path of a file: a store is never a device or pipe")
    except (OSError, RuntimeError):
        yield Fault("bench.store", shown, "the path of a file")


def _companion_faults(file: BenchFile, files: Companions) -> Iterator[Fault]:
    for index, instrument in sound(file.instrument, "profile"):
        name = instrument.profile
        if name is not None:
            path = f"instrument[{index}].profile"
            if not files.has(PROFILES, name):
                yield Fault(path, show(name), f"a profile: {files.names(PROFILES)}")
            elif rivals := files.rivals(name):
                got = f"{show(name)}, which {' and '.join(rivals)} bring"
                yield Fault(path, got, "one of them, copied into profiles beside the bench file")
            elif (profile := files.profile(name)) is not None:
                kind = profile.table.get("kind")
                # A mistyped one is a fault of the profile, which its driver tells with all others.
                if kind in [*Quantity]:
                    yield from _kind_faults(path, instrument, "profile", kind)
    for index, instrument in sound(file.instrument, "policy"):
        path = f"instrument[{index}].policy"
        if instrument.policy is None:
            continue
        if not files.has(POLICIES, instrument.policy):
            yield Fault(path, show(instrument.policy), f"a policy: {files.names(POLICIES)}")
        elif (draft := files.draft(instrument.policy)) is not None:
            for _, policy in sound([draft.file], "quantity"):
                yield from _kind_faults(path, instrument, "policy", policy.quantity)


def _kind_faults(
    path: str, instrument: InstrumentTable, what: str, found: object
) -> Iterator[Fault]:
    for _ in sound([instrument], "kind"):
        if isinstance(found, str) and found != instrument.kind:
            name = getattr(instrument, what)
            yield Fault(path, f"{show(name)}, which is for {found}", f"one for {instrument.kind}")


def _piece_faults(file: BenchFile, files: Companions) -> Iterator[Fault]:
    pieces, seen = shelf(file.piece), set()
    for _, instrument in sound(file.instrument, "policy"):
        name = instrument.policy
        if name is None:
            continue
        draft = files.draft(name)
        if draft is not None and name not in seen:
            seen.add(name)
            yield from fit_faults(f"{files.label(POLICIES, name)}: ", name, draft.file, pieces)


def _file_faults(
    file: BenchFile, beside: Path, kept: dict[str, CertificateFile]
) -> Iterator[Fault]:
    """Files of certificates that cannot be kept; the others go into `kept`, by their names."""
    for index, piece in sound(file.piece, "certificate"):
        for number, certificate in sound(piece.certificate, "file"):
            name = certificate.file
            if name is None or name in kept:
                continue
            try:
                kept[name] = look_at(beside, name)
            except ValueError as fault:
                path = f"piece[{index}].certificate[{number}].file"
                yield Fault(path, f"{show(name)}, {fault}", f"{LARGEST_WORDS}, beside this one")


def _instrument(table: InstrumentTable, files: Companions) -> InstrumentSpec:
    profile = files.profile(table.profile) if table.profile else NO_PROFILE
    policy = files.policy(table.policy) if table.policy else None
    assert profile is not None
    assert policy is not None
    return InstrumentSpec(
        id=table.id,
        kind=table.kind,
        serial=table.serial,
        driver=table.driver,
        profile_name=table.profile or "",
        profile=profile.table,
        profile_text=profile.text,
        address=table.link.address(files.beside),
        policy=policy,
    )


def _probe(table: InstrumentTable, files: Companions) -> ProbeSpec:
    profile = files.profile(table.profile) if table.profile else NO_PROFILE
    assert profile is not None
    return ProbeSpec(
        id=table.id,
        kind=table.kind,
        serial=table.serial,
        driver=table.driver,
        profile_name=table.profile or "",
        profile=profile.table,
        profile_text=profile.text,
        address=table.link.address(files.beside),
    )
