"""Runs the demo: devices and daemon as processes of their own, then the story, then the report."""

from __future__ import annotations

import os
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
from acquire.demo.story import Story
from acquire.demo.tester import Tester
from acquire.errors import ControlError, Misuse, Refused
from acquire.settings import load_bench, load_plan
from simulators.handle import DeviceProcess

PACE_S = 0.05
# A sending meter's readings right after connection pass for echoes of old ones.
ECHO_WINDOW_S = 1.7


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
        devices = _devices(folder, seed, has_terminals, stack)
        bench_file, trial_file = scenario.write_bench(
            folder, devices["shore"].port, devices["deck"].port
        )
        store = load_bench(bench_file).store
        stack.enter_context(_daemon(bench_file))
        with Client.of_store(store) as client, client.watch() as items:
            tester = Tester(client, items, devices, story, 0.0 if fast else PACE_S)
            tester.await_devices()
            story.tell("two gloss meters, each a process behind a line of its own; the daemon runs")
            time.sleep(ECHO_WINDOW_S)
            _play(story, client, tester, devices, trial_file)
            client.call("close_sitting")
        report = _report(story, store, load_plan(trial_file).id, folder)
    if keep is None:
        for left in folder.iterdir():
            if left != report:
                left.unlink()
    else:
        story.tell(f"everything is kept in {folder}: store, bench.toml, trial.toml, report")
    return 0


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
    return folder


def _play(
    story: Story,
    client: Client,
    tester: Tester,
    devices: dict[str, DeviceProcess],
    trial_file: Path,
) -> None:
    text = trial_file.read_text(encoding="utf-8")
    shore = devices["shore"]

    def check(name: str, purpose: str, by_asking: bool = False) -> None:
        found = tester.check(name, by_asking)
        good = found["outcome"] == "pass"
        story.tell(
            f"{purpose} of {name}: {found['outcome'].upper()}, {found['message']}",
            "" if good else "bold",
        )

    story.chapter("Opening checks: two tiles and the black trap")
    check("shore", "opening check")
    check("deck", "opening check")

    story.chapter("Bare zones: the tester presses the meter's button, zone by zone")
    _lay(devices, "bare")
    tester.fill(text, "gloss-20", "bare", "shore")
    story.tell("deck, the second meter, sends nothing by itself: the daemon asks it")
    tester.fill(text, "gloss-60", "bare", "deck", by_asking=True)
    check("shore", "closing check")
    check("deck", "closing check", by_asking=True)

    story.chapter("The protectants are applied by their labels; the gelcoat cures")
    client.call(
        "note", text="protectants applied by their labels", trial="gelcoat-1", stage="applied"
    )
    _lay(devices, "applied")
    tester.fill(text, "gloss-20", "applied", "shore", slip_at=9)
    check("shore", "closing check")

    story.chapter("Overnight the meter has drifted; the panel has been washed five times")
    _lay(devices, "wash-5")
    shore.act("drift", gain=scenario.DRIFT_GAIN)
    check("shore", "opening check")
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
    tester.adjust("shore", "Z0", {"20": 0.0})
    tester.adjust("shore", "T1", {"20": scenario.TRUE_PIECES["T1"]["20"]})
    check("shore", "check after re-adjustment")
    tester.fill(text, "gloss-20", "wash-5", "shore")
    check("shore", "closing check")


def _lay(devices: dict[str, DeviceProcess], stage: str) -> None:
    """Put the panel on the bench as it is at a stage."""
    for zone, by_stage in scenario.TRUE_GLOSS_20.items():
        gloss = {"20": by_stage[stage], "60": scenario.TRUE_GLOSS_60_BARE[zone]}
        for device in devices.values():
            device.act("surface", name=zone, gloss=gloss, texture_sd=scenario.TEXTURE_SD_GU)


def _devices(
    folder: Path, seed: int, has_terminals: bool, stack: ExitStack
) -> dict[str, DeviceProcess]:
    """Start the two meters and lay their reference pieces within reach."""
    devices = {}
    for name, layout, serial in (("shore", "press", "SH-0417"), ("deck", "asked", "DK-2205")):
        device = stack.enter_context(
            DeviceProcess(
                "gloss",
                layout=layout,
                serial=serial,
                seed=seed,
                host="pty" if has_terminals else "tcp",
                link=str(folder / f"{name}-port") if has_terminals else None,
            )
        )
        for piece, gloss in scenario.TRUE_PIECES.items():
            device.act("surface", name=piece, gloss=gloss, texture_sd=0.0)
        device.act("surface", name="Z0", gloss={"20": 0.0, "60": 0.0}, texture_sd=0.0)
        device.act("surface", name="edge", gloss=scenario.EDGE_GLOSS, texture_sd=1.0)
        devices[name] = device
    return devices


@contextmanager
def _daemon(bench_file: Path) -> Iterator[None]:
    """``coatbench serve`` as a process of its own; asked to stop on leaving."""
    log = (bench_file.parent / "serve.log").open("w+", encoding="utf-8")
    process = subprocess.Popen(  # noqa: S603 - our own program
        [sys.executable, "-m", "acquire.cli", "serve", str(bench_file)],
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
