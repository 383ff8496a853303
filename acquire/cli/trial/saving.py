"""A planned trial into its file and the store of its bench: both, or neither. Main thread."""

from __future__ import annotations

import contextlib
from pathlib import Path
from typing import TYPE_CHECKING

from acquire.cli.meters import fitting
from acquire.cli.reach import acting, load
from acquire.cli.spoken import say
from acquire.cli.trial.planning import Home
from acquire.errors import CoatbenchError, Misuse, NotFound
from acquire.trial.dealing import layout_words

if TYPE_CHECKING:
    from acquire.model import Plan
    from acquire.trial.drafting import Drafted


def found_bench(given: Path | None) -> Home:
    """The bench at hand. A plan can be made without one; one that was named is meant."""
    from acquire.store.reader import StoreReader  # noqa: PLC0415 - slow

    try:
        bench = load(given)
    except NotFound:
        if given is not None:
            raise
        return Home(None, frozenset())
    try:
        with StoreReader(bench.store) as store:
            taken = {row["trial"] for row in store.rows("SELECT DISTINCT trial FROM trial")}
    except CoatbenchError:
        # No store yet, or one that the daemon will speak of when the plan is to be kept.
        taken = set()
    return Home(bench, frozenset(taken))


def save(drafted: Drafted, home: Home, bench: Path | None, out: Path | None) -> None:
    """Write the file, keep the plan in the store, and say what is next.

    Raises `Misuse` where a file is there already, and what the daemon says; then there is no file.
    """
    path = out if out is not None else Path(f"{drafted.plan.id}.toml")
    _write(path, drafted.plan.text)
    kept = "kept in no store yet, since no bench file is here: its first run keeps it"
    if home.bench is not None:
        try:
            with acting(bench) as client:
                client.call("keep_trial", text=drafted.plan.text, source=str(path), key=drafted.key)
        except BaseException:
            with contextlib.suppress(OSError):
                path.unlink()
            raise
        kept = f"kept in {home.bench.store}"
        if drafted.key:
            kept += ", with the sealed key"
    say([f"written: {path}; {kept}", *plan_words(drafted.plan), *_next(drafted.plan, path, home)])


def plan_words(plan: Plan) -> list[str]:
    """The plan in a few lines."""
    on = [zone.treatment for zone in plan.zones]
    counts = sorted({on.count(t.id) for t in plan.treatments})
    each = " to ".join(str(n) for n in (counts if len(counts) == 1 else (counts[0], counts[-1])))
    readings = sum(
        len(plan.zones) * m.replicates * len(m.channels) * len(m.stages) for m in plan.measures
    )
    return [
        f"zones   {len(plan.zones)}, {each} a treatment; {layout_words(plan)}",
        f"stages  {', '.join(plan.stages)}",
        f"work    {readings} readings in all, "
        + ", ".join(f"{m.replicates} of each zone at a stage by {m.id}" for m in plan.measures),
        *_slides(plan),
        *(
            ["recipe  not written down yet: say in the file how a wash is done, before the first"]
            if plan.washes and not plan.recipe
            else []
        ),
        *(
            ["blind   treatments are codes; the key tells one person (trial key) or all (unseal)"]
            if plan.is_blind
            else []
        ),
    ]


def _slides(plan: Plan) -> list[str]:
    """That films are read through slides, and at which stages where that is not at all of them."""
    through = [m for m in plan.measures if m.quantity.value == "transmittance"]
    return [
        f"slides  {m.id}: read through slides, so each zone is one"
        + (f"; at {' and '.join(m.stages)} alone" if len(m.stages) < len(plan.stages) else "")
        + f"; {_example().with_name('trial.toml')} says how"
        for m in through
    ]


def _next(plan: Plan, path: Path, home: Home) -> list[str]:
    first = plan.measures[0]
    found = fitting(home.bench, first)
    meter = found[0] if found else "INSTRUMENT"
    if home.bench is None:
        return [
            f"next: try it on simulated devices: coatbench simulate {path} --bench try/bench.toml",
            f"next: or describe your bench in bench.toml, by a copy of {_example()}; "
            f"then coatbench run {path} {first.stages[0]} --measure {first.id} --with {meter}",
        ]
    missing = [] if found else [f"next: add what measures {first.id} to the bench file"]
    return [
        f"next: coatbench trial show {plan.id}",
        *missing,
        f"next: coatbench check {meter}, then coatbench run {plan.id} {first.stages[0]} "
        f"--measure {first.id} --with {meter}",
    ]


def _example() -> Path:
    from acquire.settings.shipped import config_dir  # noqa: PLC0415 - slow

    return config_dir() / "boatyard" / "bench.toml"


def _write(path: Path, text: str) -> None:
    try:
        with path.open("x", encoding="utf-8", newline="") as file:
            file.write(text)
    except FileExistsError:
        raise Misuse(
            f"{path} is not written over",
            got="a file is there",
            wanted="a new file for the trial",
            next_step="give the trial another --id, or the file another name with --out",
        ) from None
    except OSError as error:
        raise Misuse(
            f"{path} cannot be written",
            got=error.strerror or str(error),
            wanted="a new file in a folder that is there",
            next_step="name another file with --out",
        ) from None
