"""Runs the demo: devices and daemon as processes of their own, then the story, then the report."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

from rich.console import Console

from acquire.control.client import Client
from acquire.demo import scenario
from acquire.demo.pocket import Pocket
from acquire.demo.story import Story
from acquire.demo.tester import Tester, shown
from acquire.errors import ControlError, Misuse, Refused
from acquire.settings import load_bench, load_plan
from acquire.testkit.simulated import Simulated

PACE_S = 0.012
# What comes right after connection passes for an echo of old: with the balance for 3 s.
ECHO_WINDOW_S = 3.2
INSTRUMENTS = (
    "  shore   gloss, lines of text on a serial line, sent at the press of its button",
    "  deck    gloss at three geometries, Modbus, asked by the daemon",
    "  pocket  gloss, no port: what it shows is typed",
    "  hook    force, binary frames on a serial line: the peak of a pull",
    "  scale   force, USB human interface device: a balance",
    "  light   transmittance, USB test and measurement class: spectra",
)


def run_demo(
    *,
    fast: bool = False,
    keep: Path | None = None,
    seed: int = 1,
    has_terminals: bool = os.name == "posix",
) -> int:
    """Show the main job on simulated devices; gives the exit status for the shell.

    `fast` leaves the pauses out; `keep` is a folder for everything the demo makes; the same `seed`
    gives the same numbers. Where the system has no pseudo-terminals the devices are on TCP.
    """
    folder = _made(keep) if keep is not None else Path(tempfile.mkdtemp(prefix="coatbench-demo-"))
    with ExitStack() as stack, Story(Console()) as story:
        story.chapter("A boatyard compares five protectants on dark gelcoat (all invented)")
        day = scenario.scenario(seed)
        bench = stack.enter_context(Simulated(day, folder, has_terminals=has_terminals))
        pockets = {"pocket": Pocket("PK-0088", seed, bench.rig.hands.things)}
        links = {place.name: place.link for place in bench.places}
        bench_file, trial_file = scenario.write_bench(folder, links)
        store = load_bench(bench_file).store
        bus = stack.enter_context(bench.usb_bus())
        stack.enter_context(_daemon(bench_file, bus.address))
        with Client.of_store(store) as client, client.watch() as items:
            tester = Tester(client, items, bench, pockets, story, 0.0 if fast else PACE_S)
            tester.await_devices()
            story.tell("six instruments, simulated, each on its own kind of wire; the daemon runs:")
            for line in INSTRUMENTS:
                story.tell(line)
            time.sleep(ECHO_WINDOW_S)
            _play(story, client, tester, bench, trial_file)
            client.call("close_sitting")
        report = _report(story, store, load_plan(trial_file).id, folder)
    if keep is None:
        leave_only(report)
    else:
        story.tell(f"everything is kept in {folder}: store, bench.toml, trial.toml, report")
    return 0


def leave_only(report: Path) -> None:
    """Take everything but the report out of its folder."""
    for left in report.parent.iterdir():
        if left.is_dir() and not left.is_symlink():
            shutil.rmtree(left)
        elif left != report:
            left.unlink()


def _made(folder: Path) -> Path:
    """The folder to keep things in, empty and fit to be written to. Raises `Misuse`."""
    try:
        is_empty = not folder.exists() or not any(folder.iterdir())
        if is_empty:
            folder.mkdir(parents=True, exist_ok=True)
            # A folder may be there and yet take no files: better known now than half-way.
            with tempfile.TemporaryFile(dir=folder):
                pass
    except OSError as error:
        raise Misuse(
            f"{folder} cannot be made or written to",
            got=error.strerror or str(error),
            wanted="a new or empty folder that takes files",
            next_step="name another folder with --keep",
        ) from error
    if not is_empty:
        raise Misuse(
            f"{folder} is not empty",
            wanted="a new or empty folder",
            next_step="name another folder with --keep",
        )
    # What is written into the files is read from other folders than this one.
    return folder.resolve()


def _play(story: Story, client: Client, tester: Tester, bench: Simulated, trial_file: Path) -> None:
    text = trial_file.read_text(encoding="utf-8")

    def check(purpose: str, *names: str) -> None:
        for name in names:
            found = tester.check(name)
            good = found["outcome"] == "pass"
            story.tell(
                f"{purpose} of {name}: {found['outcome'].upper()}, {found['message']}",
                "" if good else "bold",
            )

    def lay(stage: str) -> None:
        for line in scenario.lay_lines(stage):
            bench.do(line)

    story.chapter("Opening checks: tiles and black trap, weights, open beam, dark and filter")
    check("opening check", "shore", "deck", "pocket", "hook", "scale", "light")
    sled = tester.press_idly("scale", "sled")
    story.tell(
        f"the sled of hook lies on the balance: {shown([sled])}. No run is open, so reading "
        f"{sled['id']} is kept loose"
    )

    story.chapter("Bare zones: the tester presses the meter's button, zone by zone")
    tester.fill(text, "gloss-20", "bare", "shore")
    story.tell("deck sends nothing by itself: the daemon asks it, and one press has three values")
    tester.fill(text, "geometry", "bare", "deck")
    tester.fill(text, "slickness", "bare", "hook")
    tester.fill(text, "uva", "bare", "light")
    check("closing check", "shore", "deck")

    story.chapter("The protectants are applied by their labels; the gelcoat cures")
    client.call(
        "note", text="protectants applied by their labels", trial="gelcoat-1", stage="applied"
    )
    lay("applied")
    tester.fill(text, "gloss-20", "applied", "shore", slip_at=9)
    story.tell("pocket has no port: the tester types what it shows, twice")
    tester.fill(text, "pocket", "applied", "pocket")
    tester.fill(text, "slickness", "applied", "hook")
    tester.fill(text, "uva", "applied", "light")
    check("closing check", "shore", "pocket", "hook", "light")

    story.chapter("Overnight the meter has drifted; the panel has been washed five times")
    lay("wash-5")
    bench.do(f"drift shore gain={scenario.DRIFT_GAIN}")
    check("opening check", "shore")
    try:
        tester.fill(text, "gloss-20", "wash-5", "shore")
    except Refused as refused:
        story.tell(f"{refused.what} ({refused.reason})", "bold")
        story.tell(f"why:   {refused.got}")
        story.tell(f"next:  {refused.next_step}")
    else:
        raise ControlError("a drifted meter started a run", next_step="report this fault")
    loose = tester.press_idly("shore", "A1")
    story.tell(
        f"a press on zone A1 all the same: reading {loose['id']} is kept loose and counts for "
        f"nothing ({loose['loose_reason']})"
    )

    story.chapter("The meter is re-adjusted by its own button and checked again")
    tester.adjust("shore", "Z0")
    tester.adjust("shore", "T1")
    check("check after re-adjustment", "shore")
    tester.fill(text, "gloss-20", "wash-5", "shore")
    check("closing check", "shore")


@contextmanager
def _daemon(bench_file: Path, bus: str) -> Iterator[None]:
    """``coatbench serve`` as a process of its own; asked to stop on leaving."""
    log = (bench_file.parent / "serve.log").open("w+", encoding="utf-8")
    process = subprocess.Popen(  # noqa: S603 - our own program
        [sys.executable, "-m", "acquire.cli", "serve", str(bench_file), "--simulated-usb", bus],
        stdout=subprocess.PIPE,
        stderr=log,
        text=True,
        encoding="utf-8",
        stdin=subprocess.DEVNULL,
    )
    assert process.stdout is not None
    try:
        if not process.stdout.readline():
            process.wait(10)
            log.seek(0)
            raise ControlError(
                "the daemon of the demo did not start",
                got=log.read().strip()[-500:] or "no word",
                next_step="see the message",
            )
        yield
    finally:
        process.terminate()
        process.communicate(timeout=20)
        log.close()


def _report(story: Story, store: Path, trial: str, folder: Path) -> Path:
    """Results in words, and the page."""
    from acquire.report import summary_lines, write_report  # noqa: PLC0415 - heavy

    story.chapter("Results")
    for line in summary_lines(store, trial):
        story.tell(line)
    report = write_report(store, trial, folder / "report.html")
    story.say(f"    report: {report}", "bold")
    return report
