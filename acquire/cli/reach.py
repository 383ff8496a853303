"""From a bench file to its daemon and its store: the option `--bench` and what it leads to."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from acquire.errors import CoatbenchError, ControlError, NotFound, Refused

if TYPE_CHECKING:
    from acquire.control.client import Client
    from acquire.model import Bench

DEFAULT = Path("bench.toml")

_Command = TypeVar("_Command", bound=Callable[..., Any])


def bench_option(command: _Command) -> _Command:
    """Give a command the option `--bench`; it goes before that of the group and the environment.

    The command gets ``bench``, the path as given or None; `bench_file` makes a file of it.
    """
    return click.option(
        "--bench",
        type=click.Path(path_type=Path),
        metavar="FILE",
        help="The bench file (default: COATBENCH_BENCH, else bench.toml here).",
    )(command)


def bench_file(given: Path | None) -> Path:
    """The bench file to use. Raises `NotFound` where none was named and none is here."""
    if given is None:
        given = click.get_current_context().find_object(Path)
    if given is not None:
        return given
    if not DEFAULT.exists():
        raise NotFound(
            "no bench file is here",
            got=f"no {DEFAULT} in {Path.cwd()}",
            wanted="the file that describes your bench",
            next_step="name one with --bench FILE, go to its folder, or see it all without "
            "one: coatbench demo",
        )
    return DEFAULT


def load(given: Path | None) -> Bench:
    """The bench of the file to use. Raises `NotFound` and `SettingsError`."""
    from acquire.settings import load_bench  # noqa: PLC0415 - slow

    return load_bench(bench_file(given))


def store_of(given: Path | None) -> Path:
    """The store that the bench file to use names. Raises `NotFound` and `SettingsError`.

    Whoever asks the daemon or the store wants no more of the file: its other entries were looked
    through by the daemon, and may be half-way to a change. Where even this one cannot be read, all
    faults of the file are told.
    """
    file = bench_file(given)
    try:
        name = tomllib.loads(file.read_text("utf-8"))["bench"]["store"]
        store = file.absolute().parent / Path(name).expanduser()
        if store.is_file():
            return store
    except (OSError, ValueError, LookupError, TypeError, RuntimeError):
        pass
    return load(given).store


def known_bench(given: Path | None) -> Bench | None:
    """The bench file to use; None where it cannot be read, as one half-way to a change."""
    try:
        return load(given)
    except CoatbenchError:
        return None


def reach(given: Path | None) -> Client:
    """A client of the daemon of the bench file to use. Raises `ControlError` if none runs."""
    from acquire.control.client import Client  # noqa: PLC0415 - slow

    return Client.of_store(store_of(given))


def is_served(given: Path | None) -> bool:
    """Whether a daemon has the bench of the file to use. Raises `NotFound` and `SettingsError`."""
    try:
        with reach(given):
            return True
    except ControlError:
        return False


@contextmanager
def acting(given: Path | None) -> Iterator[Client]:
    """A client for what needs no instrument: of the bench's daemon, or of one that ends with it.

    So a plan can be kept or a wash counted while nobody serves the bench. What is recorded so
    passes the same acts; no instrument is opened, and whatever was open without a daemon is closed
    as at any start. Raises `NotFound`, `SettingsError`, `StoreError`, `ControlError`, and `Refused`
    where that start would judge checks anew, which `coatbench serve` asks about.
    """
    try:
        client = reach(given)
    except ControlError:
        from acquire.cli.judgedanew import before_start  # noqa: PLC0415 - slow
        from acquire.control.client import Client  # noqa: PLC0415
        from acquire.daemon import running_daemon  # noqa: PLC0415

        if found := before_start(bench_file(given)):
            raise Refused(
                "nothing is recorded: checks would be judged anew on the way",
                reason="certificate withdrawn",
                got=found[0],
                wanted="a daemon that was started with the bench file as it is",
                next_step="coatbench serve, which asks about it; then the same command",
            ) from None
        bench = replace(load(given), instruments=(), probes=())
        # Where the daemon is there and does not answer, its store is in use: that is told then.
        with running_daemon(bench), Client.of_store(bench.store) as own:
            yield own
    else:
        with client:
            yield client
