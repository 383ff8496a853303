"""What `coatbench learn` tells of what it has learned, and what to do with it next."""

from __future__ import annotations

import contextlib
import json
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from acquire.cli.faults import DONE
from acquire.cli.spoken import say
from acquire.errors import CoatbenchError, Misuse
from acquire.model import channel_labels
from acquire.schema import load_toml

if TYPE_CHECKING:
    from acquire.learn import About, Finding

_LINE_UNKNOWN = (
    "the tape does not say at which speed the meter sends: look it up, and mend [line] in the "
    "profile; or learn again with --baud and --format"
)


def told(
    found: Finding, about: About, out: Path | None, port: str, *, is_line_known: bool,
    adapter: str = "",
) -> int:  # fmt: skip
    """Show what was learned and write it; `adapter` is the serial number of that at the port.

    Raises `Misuse` where it is not sure.
    """
    from acquire.learn import Outcome  # noqa: PLC0415

    if found.outcome is not Outcome.SURE:
        raise _unsure(found, about)
    words = "explanation is" if len(found.left) == 1 else "explanations are"
    *open_, always = found.unseen
    of_what = "sure of the number" if open_ else "sure"
    say(
        [
            f"{of_what}: {len(found.left)} {words} left, and every press is read as it was shown",
            *(f"  {line}" for line in found.believed),
            *(["not sure that presses to come are read, for none has shown:"] if open_ else []),
            *(f"  {line}" for line in open_),
            "what no press has shown is never read as a value; and nobody has shown:",
            f"  {always}",
        ]
    )
    if out is None:
        click.echo(f"\n{found.profile}", nl=False)
        say(["next: the same with --out FILE writes it"])
        return DONE
    from acquire.report.files.wholefile import whole_file  # noqa: PLC0415

    try:
        # What does not work here whole_file tells, with the next step.
        with contextlib.suppress(OSError):
            out.parent.mkdir(parents=True, exist_ok=True)
        with whole_file(out) as file:
            file.write(found.profile)
    except CoatbenchError:
        # Whoever pressed and typed need not do it again.
        click.echo(f"\n{found.profile}", nl=False)
        raise
    is_there = out.absolute().parent.name == "profiles"
    move = "" if is_there else "move it to the folder profiles beside bench.toml, and "
    say(
        [
            f"written: {out}, for the driver {found.family!r} at {about.line}",
            *([] if is_line_known else [_LINE_UNKNOWN]),
            f"next: {move}name it in bench.toml (README, Describe the bench):",
            *(f"  {line}" for line in bench_lines(found, out.stem, port, adapter)),
            "then: coatbench serve bench.toml (coatbench stop ends one that runs), and in another "
            "terminal coatbench check NAME",
        ]
    )
    return DONE


def bench_lines(found: Finding, profile: str, port: str, adapter: str = "") -> list[str]:
    """What bench.toml says of the instrument, as far as it is known here."""
    table = tomllib.loads(found.profile)
    kind = table["kind"]
    channels = channels_of(table)
    words = channel_labels(channels) or kind
    policy = policy_for(kind, channels)
    checks = f'policy = "{policy}"   # it checks {words}'
    if not policy:
        copied, changed = policy_to_copy(kind, channels)
        checks = (
            f'policy = "..."   # none that ships checks {words}: copy '
            f"config/policies/{copied}.toml to a name of yours in the folder policies beside "
            f"bench.toml, write {changed} there, and name it here"
        )
    address, where = ("port" if "://" not in port else "url"), port or "..."
    if "/" in port and Path(port).exists():
        # A bench file in another folder finds it, too.
        where = str(Path(port).absolute())
    if adapter:
        # Whatever the port is called tomorrow.
        address, where = "serial_number", adapter
    return [
        "[[instrument]]",
        'id = "NAME"   # as you call it',
        f'kind = "{kind}"',
        'serial = "..."   # its own serial number',
        f'driver = "{found.family}"',
        f'profile = "{profile}"',
        checks,
        "[instrument.link]",
        f"{address} = {json.dumps(where)}",
    ]


def channels_of(table: Mapping[str, Any]) -> list[str]:
    """The geometries or bands that a learned profile gives, as policies name them."""
    found = table.get("geometry") or table.get("band") or {}
    values = found.get("tokens", {}).values() or [found.get("default")]
    return sorted({str(value) for value in values if value is not None})


def policy_for(kind: str, channels: Sequence[str]) -> str:
    """The policy that ships and checks just these channels; empty if none does."""
    from acquire.settings import config_dir  # noqa: PLC0415 - slow

    for path in sorted((config_dir() / "policies").glob("*.toml")):
        table = load_toml(path)
        wanted = table.get("geometry", table.get("band", []))
        given = wanted if isinstance(wanted, list) else [wanted]
        if table.get("quantity") == kind and sorted(map(str, given)) == list(channels):
            return path.stem
    return ""


def policy_to_copy(kind: str, channels: Sequence[str]) -> tuple[str, str]:
    """The policy that ships and is nearest to one for these channels, and its line to change."""
    if kind == "gloss":
        copied = "gloss-60" if len(channels) == 1 else "gloss-20-60-85"
        angles = ", ".join(channels)
        return copied, f"geometry = {angles if len(channels) == 1 else f'[{angles}]'}"
    return "transmission-uva", f"band = {json.dumps(channels[0])}"


def _unsure(found: Finding, about: About) -> CoatbenchError:
    from acquire.cli.lessonwords import telling  # noqa: PLC0415
    from acquire.cli.mistyped import BY_HAND  # noqa: PLC0415
    from acquire.learn import Outcome  # noqa: PLC0415
    from acquire.units import units_of  # noqa: PLC0415

    got = "\n".join([*found.believed, *(f"left: {one}" for one in found.left[:8])])
    if found.is_meagre:
        return Misuse(
            "with what is known of this meter most presses to come would be noise, and nothing is "
            "written",
            got=f"{found.unseen[0]}\n{got}",
            wanted="presses of which fewer have something beside the number that no other had",
            next_step="press some more times, on things that read differently, and learn from all "
            "presses together; or learn without --shown: a person may take it as it is",
        )
    if found.against is not None and found.against.part in ("least", "most"):
        return Misuse(
            "a press showed what the display was said not to reach, and nothing is written",
            got=f"{found.against.sent}; said: {found.against.said}",
            wanted="the least and the largest number that its display can show",
            next_step=found.next_step,
        )
    if found.against is not None and found.against.part == "strange":
        return Misuse(
            "the meter sends a unit that its readings cannot be kept in, and nothing is written",
            got=f"{found.against.sent}; said: {found.against.said}",
            wanted="a unit of this kind of meter beside the number, or none",
            next_step=found.next_step,
        )
    if found.against is not None:
        return Misuse(
            "what was said of the meter goes against what it sends, and nothing is written",
            got=f"said: {found.against.said}; sent: {found.against.sent}",
            wanted="what the bytes say, or nothing said where they say it",
            next_step=found.next_step,
        )
    if found.outcome is Outcome.MORE:
        limits = []
        if found.tell_below is not None and found.tell_below <= 0:
            limits.append("--least 0 if the display never goes below zero")
        if found.tell_above is not None:
            limits.append(f"--most with its largest number if it never reaches {found.tell_above}")
        also = f"; or say {' and '.join(limits)}" if limits else ""
        asked = "; or learn without --shown, and say when asked that these are the geometries of "
        asked = f"{asked}the presses" if found.missing == "angles" else ""
        return Misuse(
            "it is not sure how this meter talks, and nothing is written",
            got=got,
            wanted=telling(found)[-1].removeprefix("wanted: "),
            next_step=f"{found.next_step}{asked}"
            or f"press once more so, and learn from all presses together{also}",
        )
    if found.mistyped:
        from acquire.cli.mistyped import mistyped  # noqa: PLC0415

        return mistyped(found, got)
    if found.missing == "word":
        return Misuse(
            "the number is found, and it is not sure in which unit it is",
            got=got,
            wanted=f"the unit of numbers that have {found.likely!r} in every press",
            next_step=f"look into the meter's menu or manual; then name both, such as --unit "
            f"{json.dumps(f'{found.likely}={units_of(about.kind)[0]}')}, also where "
            f"{found.likely!r} is a mere mark on numbers of this unit; if it is a unit and none of "
            f"{', '.join(units_of(about.kind))}, set the meter to one of these",
        )
    if found.missing == "setting":
        from acquire.learn.profile.setting import WHAT  # noqa: PLC0415

        what = WHAT[about.kind]
        return Misuse(
            f"the number is found, and it is not sure that all presses were of one {what}",
            got=got,
            wanted=f"presses of one {what}, and nothing else",
            next_step=found.next_step,
        )
    if found.outcome is Outcome.UNSAID:
        options = {"unit": "--unit newton", "geometry": "--geometry 60", "band": "--band 315-400"}
        name = f"name it, such as {options[found.missing]}"
        what = f"the {found.missing} is not in the bytes"
        if found.likely and found.missing == "unit":
            what = f"{found.likely} in its bytes is not sure to be the unit of the display"
            name = "name the unit that the display shows, such as --unit newton"
        elif found.likely and found.missing == "band":
            what = f"each press says its band, and {found.likely!r} does not say which it is in nm"
            name = (
                "name each with its word, by the meter's manual, such as --band "
                f"{found.likely}=315-400; or set the meter to one band, and learn from such presses"
            )
        elif found.likely:
            what = f"nothing in the bytes says that {found.likely} is its {found.missing}"
            name = (
                f"name it: {found.likely} stands in every line; if that is what it means, "
                f"--geometry {found.likely}"
            )
        return Misuse(
            f"the number is found, and {what}",
            got=got,
            wanted=f"the {found.missing} of its numbers",
            next_step=name,
        )
    if found.is_unproved:
        return Misuse(
            "the number is found, and no profile of it that was tried is right, and nothing is "
            "written",
            got=got,
            wanted="a profile by which its driver reads each press as it was shown, and nothing "
            "else",
            next_step="press some more times, on things that read differently, and learn from all "
            f"presses together; or {BY_HAND}",
        )
    return Misuse(
        "no way to read these bytes gives what was shown, and nothing is written",
        got=got,
        wanted="bytes in which every number that was shown stands as digits, packed or unpacked "
        "decimals, an integer or a floating-point number, at the same place",
        next_step=found.next_step
        or "look whether each number was typed as it was shown and in the order of the presses; if "
        f"so, {BY_HAND}",
    )
