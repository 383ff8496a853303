"""`coatbench driver`: the installed driver families listed, and one held against the rules."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from acquire.cli.faults import DONE, NOT_DONE
from acquire.cli.listing import Cells, show_table
from acquire.cli.spoken import say
from acquire.errors import NotFound

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from acquire.driverapi.families import Known
    from acquire.settings.packaged import Packaged


@click.group()
def driver() -> None:
    """The installed drivers: list them, and test one.

    \b
    Example:  coatbench driver list
              coatbench driver test line
    Next:     mend a rule that is broken, or write a profile for the driver
    """


@driver.command("list")
def list_() -> int:
    """List the installed drivers: where each comes from, and what it reaches its devices by.

    Profiles that packages bring along are listed below; a bench file names them as any other.

    \b
    Example:  coatbench driver list
    Next:     coatbench driver test NAME
    """
    from acquire.driverapi.families import known_families  # noqa: PLC0415 - slow
    from acquire.driverapi.registry import Registry  # noqa: PLC0415 - slow

    registry = Registry()
    show_table(list_rows(known_families(registry)))
    if registry.broken:
        say(["", *broken_lines(registry.broken)])
    from acquire.settings import config_dir  # noqa: PLC0415 - slow
    from acquire.settings.packaged import packaged_profiles  # noqa: PLC0415 - slow

    shipped = {path.stem for path in (config_dir() / "profiles").glob("*.toml")}
    if packaged := packaged_profiles():
        say([""])
        show_table(profile_rows(packaged, shipped))
    return DONE


def broken_lines(packages: Sequence[str]) -> list[str]:
    """What is told of packages whose drivers are not known."""
    return [
        f"{name}: its entry_points.txt cannot be read, so that its drivers are not known; "
        "install it anew, or uninstall it"
        for name in packages
    ]


def is_profile(path: Path) -> bool:
    """Whether a file is a table that says what kind of meter it is for; a driver says more."""
    from acquire.errors import SettingsError  # noqa: PLC0415
    from acquire.schema import load_toml  # noqa: PLC0415 - slow

    try:
        return isinstance(load_toml(path).get("kind"), str)
    except (SettingsError, OSError):
        return False


def profile_rows(packaged: Sequence[Packaged], shipped: Collection[str]) -> list[Cells]:
    """Headings and a row a profile; one whose name others have says who."""
    rows: list[Cells] = [("profile", "brought by", "file", "state")]
    for name, origin, path in packaged:
        others = [one.origin for one in packaged if one.name == name and one.path != path]
        brings = "bring" if len(others) > 1 else "brings"
        state = "can be named" if is_profile(path) else "is no profile: no TOML with a kind"
        if name in shipped:
            state = "not used: Coatbench brings one of this name; copy it beside the bench file"
        elif others:
            state = f"copy it beside the bench file: {' and '.join(others)} {brings} one, too"
        rows.append((name, origin, str(path), state))
    return rows


def list_rows(families: Sequence[Known]) -> list[Cells]:
    """Headings and a row a driver; one that is unfit says why."""
    rows: list[Cells] = [("driver", "brought by", "reaches by", "state")]
    for name, origin, reaches, fault, left_out in families:
        state = f"cannot be used: {fault}" if fault else "fits"
        if left_out:
            state += f"; one of this name by {left_out} is not used: uninstall it"
        rows.append((name, origin, ", ".join(reaches) or "-", state))
    return rows


@driver.command()
@click.argument("name")
@click.option(
    "--profile", "profiles", type=click.Path(path_type=Path), multiple=True, metavar="FILE",
    help="Test it with this profile (else: with every one that is found).",
)  # fmt: skip
@click.option(
    "--captures", type=click.Path(path_type=Path), multiple=True, metavar="FILE",
    help="A capture, or a folder of them; can be given more than once.",
)  # fmt: skip
@click.argument("more_captures", metavar="[CAPTURES]...", nargs=-1, type=click.Path(path_type=Path))
@click.option("--seed", type=click.IntRange(0), default=1, help="Draws other bytes (1).")
@click.option(
    "--bytes", "spoilt_bytes", type=click.IntRange(1, 10**10), default=100_000, metavar="N",
    help="So many spoiled bytes (100000).",
)  # fmt: skip
@click.option(
    "--limit", "limit_s", type=click.FloatRange(0.1, 3600), default=30.0, metavar="S",
    help="Seconds after which a driver that does not come back counts as hung (30).",
)  # fmt: skip
def test(
    name: str, profiles: tuple[Path, ...], captures: tuple[Path, ...],
    more_captures: tuple[Path, ...], seed: int, spoilt_bytes: int, limit_s: float,
) -> int:  # fmt: skip
    """Hold a driver against the rules that every driver keeps.

    NAME is an installed driver, or module:OBJECT for one that is not installed yet. It is tried
    with every profile found that it takes: those that come with Coatbench, and those in the folder
    profiles of its own package. A capture belongs to the profile that its entry "profile" names,
    else to that of its folder's name. Where neither a profile nor captures are given it is held
    against the captures that come with Coatbench, and those in the folder captures of its own
    package; python -m pydoc acquire.driverapi.capture says how one is written.

    The driver runs in a process of its own: it may raise, hang or end the program. That process
    runs in an empty folder, its home and its place for temporary files; a driver that writes or
    reads files, or reaches for anything else outside of its package, shares it with others.

    Exit status 1 if a rule was broken, or could not be tried.

    \b
    Example:  coatbench driver test line
              coatbench driver test plumb --captures captures --bytes 1000000
    Next:     mend the first rule that is broken, then test again with the same seed
    """
    from acquire.driverapi.examined import examined  # noqa: PLC0415 - slow
    from acquire.driverapi.registry import Registry  # noqa: PLC0415 - slow
    from acquire.driverapi.verdict import report_lines  # noqa: PLC0415 - slow
    from acquire.settings import captures_dir, config_dir  # noqa: PLC0415 - slow

    def waits(where: str, silent_s: float) -> None:
        say(
            [
                f"wait    {silent_s:.3g} s so far for the driver, in {where}; "
                f"after {limit_s:g} s it counts as hung"
            ],
            err=True,
        )

    registry = Registry()
    if ":" not in name and name not in registry.names:
        raise NotFound(
            "there is no such driver",
            got=name,
            wanted=", ".join(registry.names) or "an installed driver",
            next_step="install the package that brings it; coatbench driver list shows them all",
        )
    report = examined(
        name,
        profiles=profiles,
        folders=[config_dir() / "profiles"],
        captures=[*captures, *more_captures],
        shipped=captures_dir(),
        seed=seed,
        spoilt_bytes=spoilt_bytes,
        limit_s=limit_s,
        waits=waits,
    )
    if report.nowhere is not None:
        raise report.nowhere
    say(report_lines(name, report, seed))
    return DONE if report.is_kept else NOT_DONE
