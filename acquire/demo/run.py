"""Runs the demo: devices and daemon as processes of their own, then the story, then the report."""

from __future__ import annotations

import os
import shlex
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
from acquire.demo.day import Day, opening_checks
from acquire.demo.handwork import Handwork
from acquire.demo.plan import TRIAL, make_plan, make_study
from acquire.demo.pocket import Pocket
from acquire.demo.publishing import publish
from acquire.demo.story import Story
from acquire.demo.tester import Tester
from acquire.demo.truth import Truth
from acquire.demo.typed import Shell, Typed
from acquire.demo.weeks import play_weeks
from acquire.errors import ControlError, Misuse
from acquire.settings import load_bench
from acquire.store import StoreReader
from acquire.testkit.simulated import Simulated

PACE_S = 0.002
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
    shell: Shell,
    *,
    fast: bool = False,
    keep: Path | None = None,
    seed: int = 1,
    has_terminals: bool = os.name == "posix",
    publishes: bool = True,
) -> int:
    """Show the main job on simulated devices; gives the exit status.

    `shell` runs the command lines that the tester types; `fast` leaves the pauses out; `keep` is a
    folder for everything the demo makes; the same `seed` gives the same numbers. Where the system
    has no pseudo-terminals the devices are on TCP. Without `publishes` it ends when all is read.
    """
    folder = _made(keep) if keep is not None else Path(tempfile.mkdtemp(prefix="coatbench-demo-"))
    with ExitStack() as stack, Story(Console()) as story:
        story.chapter("A boatyard compares five protectants on dark gelcoat (all invented)")
        day = scenario.scenario(seed)
        bench = stack.enter_context(Simulated(day, folder, has_terminals=has_terminals))
        pockets = {"pocket": Pocket("PK-0088", seed, bench.rig.hands.things)}
        links = {place.name: place.link for place in bench.places}
        bench_file = scenario.write_bench(folder, links)
        store = load_bench(bench_file).store
        play_weeks(bench_file, bench, "shore", story)
        bus = stack.enter_context(bench.usb_bus())
        stack.enter_context(_daemon(bench_file, bus.address))
        with Client.of_store(store) as client, client.watch() as items:
            tester = Tester(client, items, bench, pockets, story, 0.0 if fast else PACE_S)
            tester.await_devices()
            story.tell("six instruments, simulated, each on its own kind of wire; the daemon runs:")
            for line in INSTRUMENTS:
                story.tell(line)
            time.sleep(ECHO_WINDOW_S)
            typed = Typed(shell, folder, story)
            opening_checks(story, tester, store)
            story.chapter("A study first: how much does the meter scatter on this panel?")
            make_study(tester, typed)
            story.chapter("The plan: products are dealt to zones by a draw and hidden behind codes")
            plan_file = make_plan(typed, folder)
            typed.type("trial", "show", TRIAL, shows=slice(0, 16))
            with StoreReader(store) as reader:
                truth = Truth(reader, TRIAL, bench.rig.hands.things)
            hands = Handwork(story, client, typed, bench, truth)
            (clap,) = typed.type("note", "--clap")
            Day(story, client, tester, bench, hands, plan_file, store).play()
            client.call("close_sitting")
            if not publishes:
                return 0
            pages = publish(story, typed, store, clap.split()[2], folder)
        _leave(story, folder, store, pages, is_kept=keep is not None)
    return 0


def _leave(
    story: Story, folder: Path, store: Path, pages: tuple[Path, Path], *, is_kept: bool
) -> None:
    """Name what was made and how to look further; without --keep only the pages stay."""
    report, drift = pages
    story.chapter("What is left to look at")
    story.say(f"    report: {report}", "bold")
    story.say(f"    drift:  {drift}", "bold")
    if not is_kept:
        leave_only(*pages)
        story.tell("the rest is cleared away; coatbench demo --keep DIR keeps store and files")
        return
    story.say(f"    store:  {store}", "bold")
    story.tell("look further:")
    bench = f"--bench {shlex.quote(str(folder / 'bench.toml'))}"
    for command, what in (
        ("drift shore", "how the meter held, and what was foreseen"),
        ("readings --loose", "what arrived and counts for nothing"),
        (f"results {TRIAL}", "every decision, pair and life with its figures"),
        (f"report {TRIAL} --out {TRIAL}.md", "the page as Markdown, with its figures as files"),
        ("proof 40", "a reading from the bytes that came down the line"),
        ("store verify", "that nothing in the store was changed"),
    ):
        story.say(f"      coatbench {command} {bench}   ({what})")


def leave_only(*pages: Path) -> None:
    """Take everything but these pages out of their folder."""
    for left in pages[0].parent.iterdir():
        if left.is_dir() and not left.is_symlink():
            shutil.rmtree(left)
        elif left not in pages:
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
