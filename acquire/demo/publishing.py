"""The end of the demo: the key is opened, points are reckoned, and all is published."""

from __future__ import annotations

from pathlib import Path

from acquire.clock import SystemClock
from acquire.demo import scenario
from acquire.demo.plan import RATERS, TRIAL
from acquire.demo.story import Story
from acquire.demo.typed import Typed

REPORT, DRIFT = "report.html", "drift.html"


def publish(story: Story, typed: Typed, store: Path, clap: str, folder: Path) -> tuple[Path, Path]:
    """All of it; gives the page of results and that of the drifts. `clap` is a clap mark."""
    story.chapter("All is read and rated: the key is unsealed, which is recorded, too")
    typed.type("trial", "unseal", TRIAL, "--by", RATERS[0], "--why", "all washes done", "--yes")
    story.chapter("Points by the yard's own scorecard, and the table of all years")
    typed.type("rescore", TRIAL, "--scorecard", scenario.SCORECARD.name, shows=slice(0, 12))
    typed.type("import", "past.csv", "--mapping", scenario.MAPPING.name, shows=slice(0, 1))
    typed.type("alltime")
    story.chapter("Who won what, and how sure that is")
    typed.type("results", TRIAL, "--short")
    story.chapter("Published: the page, captions for the film, and the data for others")
    typed.type("report", TRIAL, "--out", REPORT)
    typed.type("captions", TRIAL, "--clap", clap, "--out", "film.vtt", "--chapters", "film.txt")
    typed.type("package", TRIAL, "--out", f"{TRIAL}.zip")
    story.tell("another copy of Coatbench, which has no store of this bench, computes it anew:")
    typed.type("recompute", f"{TRIAL}.zip")
    return folder / REPORT, _drift_page(store, folder)


def _drift_page(store: Path, folder: Path) -> Path:
    from acquire.drift.reading import histories  # noqa: PLC0415 - heavy
    from acquire.report.driftpage import write_drift_page  # noqa: PLC0415
    from acquire.store import StoreReader  # noqa: PLC0415

    now_ns = SystemClock().now().utc_ns
    with StoreReader(store) as reader:
        seen = [history.seen(now_ns) for history in histories(reader, "shore")]
    return write_drift_page(store, seen, now_ns, folder / DRIFT, scenario.CLOCK)
