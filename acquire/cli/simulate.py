"""`coatbench simulate`: a bench of simulated devices, worked by lines that are typed or piped in.

Main thread.
"""

from __future__ import annotations

import os
import sys
import tempfile
import threading
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from acquire.cli.faults import DONE, NOT_DONE
from acquire.cli.listing import show_table
from acquire.cli.serve import attend
from acquire.cli.spoken import say
from acquire.errors import CoatbenchError, Refused
from acquire.signals import ended_by_signals

if TYPE_CHECKING:
    from acquire.daemon import Daemon
    from acquire.testkit.own_bench import OwnBench
    from acquire.testkit.simulated import Simulated, TypedLines

LOOK_EVERY_S = 0.05
ATTEND_EVERY = 20
POLICIES = "policies"
END = ("quit", "exit")
HELP = """\
put DEVICE THING         set it on a tile or zone, hang the weight on it, lay the slide into it
press DEVICE [TIMES]     press its button, pull the sled, load a gauge that streams with what was
                         put on it, or stroke a counter; "shown" is what its display shows then
lift DEVICE              nothing beneath it, on it or in its beam
adjust DEVICE            its adjust key, by the certificate of the piece it is on
zone ZONE gloss.20=78.3  how a zone is from now on: gloss, static, kinetic, film ... of the scenario
room DEVICE temperature_c=24.5 humidity_percent=50    what a climate probe has around it
count DEVICE to=200      a counter's running count from now on
drift DEVICE gain=1.02   it drifts; so with other acts: power on=false, lamp works=false, wait
                         seconds=60, battery presses=5, swap serial=XX-1, unplug, plug, state
                         (with "shown", what its display shows)
fault DEVICE kind=split  what befalls its next message: garbage cut stalled torn lost late glued
                         split corrupted repeated wrong_speed ... (python -m pydoc simulators)
list                     the devices and things
quit                     end, as Ctrl-C does""".splitlines()


@click.command()
@click.argument("scenario", metavar="SCENARIO|TRIAL")
@click.option(
    "--bench",
    "bench_file",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE",
    help="Write the bench file for these devices, its policies and a trial beside it.",
)
@click.option(
    "--seed", type=click.IntRange(0, 2**31 - 1), help="Of a trial: draws what its products do."
)
@click.option(
    "--serve", "serves", is_flag=True, help="Run the daemon of that bench in this program, too."
)
def simulate(scenario: str, bench_file: Path | None, seed: int | None, serves: bool) -> int:
    """Serve the simulated devices of a scenario file until Ctrl-C.

    SCENARIO is a file, or the name of one that comes with Coatbench: boatyard, wires, trouble.
    Each device is a program of its own on a serial port (where there are none, on the network);
    what a tester's hand would do is typed in here, or piped in: "help" lists it. Simulated USB
    devices are on a bus of this program: the daemon is told where (--simulated-usb) or runs in it
    (--serve).

    With a trial file of your own it is the bench of that trial: the meters that its measures need,
    their pieces and policies, a wash counter, a climate probe, and a panel with your zones. What
    your products do is invented, by --seed; "apply A1", "wash 5" and "look A1" are typed in here,
    and "truth" tells it when you ask. Of a blind trial whose key is in another store a copy is
    written, with a key of invented names. What is on the panel is kept beside the bench file.

    \b
    Example:  coatbench simulate boatyard --bench try/bench.toml
              coatbench simulate wires --bench try/bench.toml --serve
              coatbench simulate winter.toml --bench try/bench.toml
    Next:     coatbench serve try/bench.toml in another terminal, then check, run
    """
    from acquire.testkit.simulated import Simulated, TypedLines, load_scenario  # noqa: PLC0415

    if serves and bench_file is None:
        raise click.UsageError("--serve needs a bench to serve: add --bench FILE")
    own = _own(Path(scenario), bench_file, seed)
    read = load_scenario(scenario) if own is None else own.scenario
    with ExitStack() as leaving:
        ending = threading.Event()
        leaving.enter_context(ended_by_signals(ending.set))
        if bench_file is None:
            folder = Path(leaving.enter_context(tempfile.TemporaryDirectory(prefix="coatbench-")))
        else:
            # Beside the file, so that the ports have the same names the next time.
            folder = bench_file.absolute().parent
            folder.mkdir(parents=True, exist_ok=True)
            leaving.enter_context(_alone(folder))
        bench = leaving.enter_context(Simulated(read, folder))
        bench.rig.hands.pause = ending.wait
        show_table(place_rows(bench))
        daemon = None
        usb = ""
        if not serves and any(place.is_usb for place in bench.places):
            usb = f" --simulated-usb {leaving.enter_context(bench.usb_bus()).address}"
        if bench_file is not None and own is not None:
            own.settle(bench)
            say(_own_lines(own, bench, bench_file, serves, usb))
        elif bench_file is not None:
            say(written_lines(bench.write(bench_file), serves, usb))
        elif usb:
            say([f"USB devices are found by: coatbench serve FILE{usb}"])
        if bench_file is not None and serves:
            daemon = leaving.enter_context(_served(bench, bench_file))
        lines = leaving.enter_context(TypedLines())
        return _work(bench, lines, daemon, ending, own)


def _own(path: Path, bench_file: Path | None, seed: int | None) -> OwnBench | None:
    """The bench of a trial file; None where the file is a scenario, or a shipped one."""
    from acquire.testkit.own_bench import OwnBench, is_trial  # noqa: PLC0415 - slow

    if not path.is_file() or not is_trial(path):
        if seed is not None:
            raise click.UsageError("--seed goes with a trial; a scenario has its own seed")
        return None
    if bench_file is None:
        raise click.UsageError("a trial is simulated with a bench: add --bench FILE")
    return OwnBench(path, bench_file.absolute().parent, seed)


def _own_lines(
    own: OwnBench, bench: Simulated, bench_file: Path, serves: bool, usb: str
) -> Iterator[str]:
    """The files of the bench, the trial kept in its store, and what comes next."""
    from acquire.cli.reach import acting, load  # noqa: PLC0415 - slow

    yield from written_lines(bench.write(bench_file, with_trial=False), serves, usb)
    trial, text, key = own.trial(bench_file, load(bench_file).store)
    if key:
        yield f"the key of {own.plan.id} is in another store; a copy with invented names: {trial}"
    try:
        with acting(bench_file) as client:
            client.call("keep_trial", text=text, source=str(trial), key=key)
    except CoatbenchError as error:
        yield f"the trial is not kept yet: {' '.join(str(error).split())}"
    if any(state.is_applied or state.washes for state in own.panel.states.values()):
        yield 'the panel is as it was left; "strip all" makes it bare'
    first = own.plan.measures[0]
    yield (
        f"the trial: coatbench run {trial} {own.plan.stages[0]} --measure {first.id} "
        f"--with {bench.places[0].name} --bench {bench_file}, after a check"
    )


def place_rows(bench: Simulated) -> list[tuple[str, ...]]:
    """Headings and a row a device."""
    head = ("name", "wire", "driver", "where it is, as written into bench.toml")
    rows = [(p.name, p.wire, p.driver, f"link = {p.link}") for p in bench.places]
    return [head, *rows]


def written_lines(paths: list[Path], serves: bool, usb: str = "") -> Iterator[str]:
    """Which files were written, and what comes next."""
    policies = [path for path in paths if path.parent.name == POLICIES]
    named = [str(path) for path in paths if path not in policies]
    folder = f", {policies[0].parent}{os.sep} ({len(policies)} files)" if policies else ""
    yield f"written: {', '.join(named)}{folder}"
    if not serves:
        yield f"next, in another terminal: coatbench serve {paths[0]}{usb}"
        yield f"what is plugged in: coatbench devices --bench {paths[0]}{usb}"


@contextmanager
def _served(bench: Simulated, bench_file: Path) -> Iterator[Daemon]:
    """The daemon of the bench, in this program."""
    from acquire.daemon import running_daemon  # noqa: PLC0415 - slow
    from acquire.settings import load_bench  # noqa: PLC0415

    running = running_daemon(load_bench(bench_file), make_opener=bench.opener, attend=attend)
    with running as daemon:
        say([f"serving {bench_file}"])
        say([f"next, in another terminal: coatbench status --bench {bench_file}"])
        say(daemon.troubles())
        yield daemon
    if daemon.failure is not None:
        raise daemon.failure


def _work(
    bench: Simulated,
    lines: TypedLines,
    daemon: Daemon | None,
    ending: threading.Event,
    own: OwnBench | None = None,
) -> int:
    """Do the lines and the script until the end; 1 if lines were piped in and one failed."""
    is_typed = sys.stdin is not None and sys.stdin.isatty()
    if is_typed:
        say(['type what a tester would do; "help" lists it, Ctrl-C ends'])
    look = _attending(daemon)
    failed = False
    turns = 0
    while not ending.is_set():
        if daemon is not None and daemon.is_ending:
            # Asked to from elsewhere, or recording has failed, which is told on leaving.
            break
        say(bench.tick())
        if turns % ATTEND_EVERY == 0:
            look()
        turns += 1
        for line in lines.next(LOOK_EVERY_S):
            if line.strip() in END:
                ending.set()
                break
            failed |= not _done(bench, line.strip(), own)
    return NOT_DONE if failed and not is_typed else DONE


def _attending(daemon: Daemon | None) -> Callable[[], None]:
    """What is called once a second: tells what has changed at the bench."""
    if daemon is None:
        return lambda: None
    from acquire.clock import SystemClock  # noqa: PLC0415 - slow

    clock = SystemClock()
    return lambda: daemon.look(clock.now())


def _done(bench: Simulated, line: str, own: OwnBench | None = None) -> bool:
    """Do one line and say what came of it."""
    from acquire.testkit.own_panel import HELP as OWN_HELP  # noqa: PLC0415 - slow
    from acquire.testkit.simulated import told  # noqa: PLC0415

    if line in ("help", "?"):
        say([*(OWN_HELP if own is not None else ()), *HELP])
    elif line == "list":
        show_table(place_rows(bench))
        say(["things: " + ", ".join(bench.scenario.things)])
    elif line:
        try:
            if own is not None and own.panel.knows(line):
                say(own.do(bench, line))
            else:
                say([f"{line}: {told(bench.do(line))}"])
        except CoatbenchError as error:
            say([f"not done: {error}"], err=True)
            return False
    return True


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """One simulation a folder: a second one would take the ports and the trial of the first."""
    from filelock import FileLock, Timeout  # noqa: PLC0415 - slow

    # The system lets go of the lock of a program that was killed. Who has it stands in a file of
    # its own, since not every system lets a locked one be read.
    holder = folder / "simulated"
    lock = FileLock(f"{holder}.lock", blocking=False)
    try:
        lock.acquire()
    except Timeout as error:
        raise Refused(
            f"a bench in {folder} is simulated already",
            reason="simulated already",
            got=f"another coatbench simulate{_who(holder)}",
            wanted="one simulation a folder, which holds its ports and its trial",
            next_step="end that one (quit, or Ctrl-C), or name a file in another folder",
        ) from error
    try:
        holder.write_text(f"{os.getpid()}\n", encoding="utf-8")
        yield
    finally:
        holder.unlink(missing_ok=True)
        lock.release()


def _who(holder: Path) -> str:
    """Which process it says it is; nothing where it has not come to say so."""
    try:
        pid = holder.read_text(encoding="utf-8")[:20].strip()
    except (OSError, ValueError):
        return ""
    return f", process {pid}" if pid.isdecimal() else ""
