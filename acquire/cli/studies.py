"""What `coatbench study` says of the studies that are stored: all in a table, or one in full."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from acquire.cli.faults import DONE, NOT_DONE
from acquire.cli.listing import Cells, show_table
from acquire.cli.reach import store_of
from acquire.cli.spoken import say
from acquire.errors import NotFound
from acquire.visible import json_visible

if TYPE_CHECKING:
    from acquire.store.reader import StoreReader
    from acquire.study.found import FoundStudy


def list_studies(bench: Path | None, *, as_json: bool) -> int:
    """Every study of the store, and which is in use; gives the exit status."""
    from acquire.store.reader import StoreReader  # noqa: PLC0415 - slow
    from acquire.study.found import studies  # noqa: PLC0415
    from acquire.study.lending import candidates  # noqa: PLC0415
    from acquire.study.overview import overview  # noqa: PLC0415

    with StoreReader(store_of(bench)) as store:
        found = studies(store)
    lists = candidates(found)
    entries = [entry for one in found for entry in overview(one, lists)]
    if as_json:
        click.echo(json_visible(json.dumps(entries, ensure_ascii=False, indent=2)))
        return DONE
    if not found:
        say(
            [
                "no study has been made. In use is the default: each zone is judged by its own "
                "readings alone, and one that was read once has no uncertainty",
                "next: coatbench study INSTRUMENT",
            ]
        )
        return DONE
    show_table(_rows(found, entries))
    return DONE


def _rows(found: list[FoundStudy], entries: list[dict[str, Any]]) -> list[Cells]:
    from acquire.analysis.figures import rounded, suffix  # noqa: PLC0415 - slow
    from acquire.model import channel_label  # noqa: PLC0415

    rows: list[Cells] = [("study", "day", "meter", "serial", "channel", "by", "found", "state")]
    for e in entries:
        sd, seconds = e.get("s_r"), e.get("warm_up_s")
        if e["kind"] == "warm-up":
            says = "warm-up not reached" if seconds is None else f"warm_up_s {seconds}"
        else:
            says = "s_r not known" if sd is None else f"s_r {rounded(sd, sd)}{suffix(e['unit'])}"
            if e.get("s_R") is not None:
                says += f", s_R {rounded(e['s_R'], e['s_R'])}{suffix(e['unit'])}"
        state = "IN USE" if e["in_use"] else "under way" if e["under_way"] else ""
        rows.append(
            (
                e["study"], e["last_reading"][:10], e["instrument"], e["serial"],
                channel_label(e["channel"]), ", ".join(e["people"]), says, state,
            )
        )  # fmt: skip
    rows += [
        (one.id, "", one.instrument, "", "", "", _nothing(one), "")
        for one in found
        if not one.findings
    ]
    return rows


def _nothing(one: FoundStudy) -> str:
    """That no reading counts, and by what most of them are left out."""
    left = [f"{n} {what}" for n, what in ((one.suspect, "suspect"), (one.void, "void")) if n]
    return "no reading counts" + (f" ({', '.join(left)})" if left else "")


def show_study(bench: Path | None, name: str, want: float | None, *, as_json: bool) -> int:
    """The verdict of a study by its number or id. Raises `NotFound`."""
    from acquire.store.reader import StoreReader  # noqa: PLC0415 - slow
    from acquire.study.writing import study_id  # noqa: PLC0415

    with StoreReader(store_of(bench)) as store:
        chosen = study_id(int(name)) if name.isdecimal() and len(name) < 9 else name
        return show_found(store, chosen, want, as_json=as_json)


def show_found(
    store: StoreReader, chosen: str, want: float | None, *, as_json: bool = False
) -> int:
    """The verdict of a study by its id; status 1 where it gave no figure. Raises `NotFound`."""
    from acquire.study.found import studies  # noqa: PLC0415 - slow
    from acquire.study.lending import candidates  # noqa: PLC0415
    from acquire.study.overview import overview  # noqa: PLC0415
    from acquire.study.words import verdict_of  # noqa: PLC0415

    found = studies(store)
    one = next((s for s in found if s.id == chosen), None)
    if one is None:
        raise NotFound(
            f"there is no study {chosen!r}",
            wanted=", ".join(s.id for s in found) or "a study; none has been made",
            next_step="name one of these" if found else "begin one: coatbench study INSTRUMENT",
        )
    lists = candidates(found)
    if as_json:
        entries = list(overview(one, lists))
        click.echo(json_visible(json.dumps(entries, ensure_ascii=False, indent=2)))
        return DONE
    verdict = verdict_of(one, lists, want)
    say(verdict.lines)
    return DONE if verdict.is_usable else NOT_DONE
