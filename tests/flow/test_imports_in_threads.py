"""Sessions that begin together import drivers together: none of them is lost by that.

Each test has a process of its own, since a module is imported once.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest

from tests.patience import PATIENCE_S

ROOT = Path(__file__).parents[2]

MEETING = """
import sys
import threading
import time
from importlib.machinery import PathFinder, SourceFileLoader

from acquire.driverapi import registry

families = registry.Registry()
told = []


def load(name):
    try:
        families.family(name)
    except Exception as error:
        told.append(str(error))


second = threading.Thread(target=load, args=("modbus",))


def waits(thread):
    frame = sys._current_frames()[thread.ident]
    by_python = frame.f_code.co_name == "acquire" and "importlib" in frame.f_code.co_filename
    return by_python or (frame.f_code.co_name == "_load" and registry._LOADING.locked())


class Slow(SourceFileLoader):
    # The line family holds the package that it is about to import; the Modbus family, which begins
    # with a module of that package, holds the module and needs the package.
    def create_module(self, spec):
        second.start()
        while not waits(second):
            time.sleep(0)


class Meeting:
    def find_spec(self, name, path=None, target=None):
        if name != "acquire.driverkit" or threading.current_thread() is not first:
            return None
        spec = PathFinder.find_spec(name, path)
        spec.loader = Slow(name, spec.origin)
        return spec


sys.meta_path.insert(0, Meeting())
first = threading.Thread(target=load, args=("line",))
first.start()
first.join()
second.join()
print(told)
"""

SERVING = """
import json
import sys
import threading
from dataclasses import replace
from pathlib import Path

from acquire.daemon import running_daemon
from acquire.link import MemoryOpener
from acquire.model import LinkAddress
from acquire.schema import load_toml
from acquire.settings import config_dir
from tests.benchmarks.wide_bench import bench_of

PROFILES = {
    "line": "gloss-press",
    "frame": "frame-gloss",
    "modbus": "modbus-gloss",
    "usbtmc": "usbtmc-head",
    "hid": "hid-weighing",
    "keyed": "keyed-gloss",
}
bench = bench_of(Path(sys.argv[1]), LinkAddress(port="shore"))
(shore,) = bench.instruments
many = []
for driver, name in PROFILES.items():
    profile = load_toml(config_dir() / "profiles" / f"{name}.toml")
    many.append(replace(shore, id=driver, driver=driver, profile_name=name, profile=profile))
imported = []


class Listener:
    def find_spec(self, name, path=None, target=None):
        thread = threading.current_thread()
        if thread is not threading.main_thread() and name.startswith(("acquire", "drivers")):
            imported.append(f"{thread.name}: {name}")


sys.meta_path.insert(0, Listener())
with running_daemon(
    replace(bench, instruments=tuple(many)),
    make_opener=lambda address, needs: MemoryOpener("nowhere"),
) as daemon:
    troubles = daemon.troubles()
loaded = [name for name in PROFILES if f"drivers.{name}" in sys.modules]
print(json.dumps([troubles, imported, loaded]))
"""


def told_by(script: str, *arguments: str) -> str:
    found = subprocess.run(
        [sys.executable, "-c", script, *arguments],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
        timeout=PATIENCE_S,
    )
    assert found.returncode == 0, found.stderr
    return found.stdout.strip()


@pytest.mark.slow
def test_two_drivers_that_each_hold_what_the_other_needs_are_both_imported() -> None:
    assert told_by(MEETING) == "[]"


@pytest.mark.slow
def test_no_session_imports_anything_of_this_house(tmp_path: Path) -> None:
    troubles, imported, loaded = json.loads(told_by(SERVING, str(tmp_path / "s.sqlite")))
    assert not troubles
    assert loaded == ["line", "frame", "modbus", "usbtmc", "hid", "keyed"]
    assert not imported
