"""The list of installed drivers comes, whatever a package does while it is loaded."""

from __future__ import annotations

from importlib.metadata import EntryPoint
from pathlib import Path

import pytest

from acquire.driverapi.families import Known, known_families
from acquire.driverapi.registry import GROUP, Registry

STRANGERS = {
    "fits": "class F:\n name, api = 'fits', 1\n def needs(self, profile, source): pass\n"
    " def driver(self, profile, source): pass\n",
    "ends": "import os\nos._exit(7)\n",
    "leaves": "import sys\nsys.exit(3)\n",
    "breaks": "raise KeyboardInterrupt\n",
    "hangs": "import threading\nthreading.Event().wait()\n",
    "prints": "print('hello')\nclass F:\n name, api, reaches = 'prints', 1, 'serial'\n"
    " def needs(self, profile, source): pass\n def driver(self, profile, source): pass\n",
    "raising": "class F:\n name, api = 'raising', 1\n"
    " @property\n def reaches(self): raise OSError('no')\n",
}


def registry(folder: Path, monkeypatch: pytest.MonkeyPatch, *names: str) -> Registry:
    for name, text in STRANGERS.items():
        (folder / f"stranger_{name}.py").write_text(f"{text}FAMILY = F()\n", encoding="utf-8")
    monkeypatch.syspath_prepend(str(folder))
    ours = [EntryPoint("line", "drivers.line:FAMILY", GROUP)]
    return Registry([*ours, *(EntryPoint(n, f"stranger_{n}:FAMILY", GROUP) for n in names)])


def test_a_package_that_ends_or_fills_the_output_takes_no_other_with_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    names = ("breaks", "ends", "fits", "leaves", "prints", "raising")
    found = {one.name: one for one in known_families(registry(tmp_path, monkeypatch, *names))}
    assert list(found) == sorted([*names, "line"])
    assert found["line"] == Known("line", "drivers.line:FAMILY", ("serial",))
    assert found["fits"] == Known("fits", "stranger_fits:FAMILY", ("serial",))
    assert found["ends"].fault == "loading it ended the program with status 7"
    assert "KeyboardInterrupt" in found["breaks"].fault
    assert "SystemExit" in found["leaves"].fault
    assert "its reaches is 'serial' where a tuple of words belongs" in found["prints"].fault
    assert "OSError('no')" in found["raising"].fault
    assert capfd.readouterr() == ("", "")


def test_a_package_that_hangs_is_named_and_the_others_are_listed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = known_families(registry(tmp_path, monkeypatch, "fits", "hangs"), within_s=4)
    assert [(one.name, one.fault) for one in found] == [
        ("fits", ""),
        ("hangs", "loading it did not come back within 4 s"),
        ("line", ""),
    ]
