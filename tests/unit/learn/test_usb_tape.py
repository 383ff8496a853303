"""`coatbench learn` on the tape of a USB device: said to be one, with what to do instead."""

from __future__ import annotations

from pathlib import Path

import pytest

from acquire.cli.entry import run
from acquire.link.tape import RECEIVED, Passed, Tape, Whose
from acquire.link.tape_file import write_tape
from acquire.model import Instant
from acquire.settings import config_dir
from acquire.wire.transfer import Description, Pipe, record

Captured = pytest.CaptureFixture[str]
HID = Description(0, 0, 0, 0x81, 16, 0, "G-7")
TEST = Description(0, 0x02, 0x82, 0, 0, 64, "G-7")
SHOWN = ["--shown", "91.4", "--shown", "45.2", "--shown", "12.0"]
WHOSE = Whose("strand", "gloss", "G-7", "hid", "hid-gloss", "", "")


def taped(path: Path, opened: Description, whose: Whose | None, presses: int) -> Path:
    """A device's tape: its opening, and reports at a steady rate."""
    records = [record(Pipe.OPENED, opened.to_bytes())]
    records += [record(Pipe.INTERRUPT_IN, bytes((1, n % 256, 0, 7))) for n in range(presses)]
    passed, offset = [], 0
    for place, data in enumerate(records):
        ns = place * 100_000_000
        passed.append(Passed(RECEIVED, offset, Instant(10**18 + ns, 10**12 + ns), data))
        offset += len(data)
    write_tape(path, Tape(Instant(10**18, 10**12), "usb 1a2b:0001", tuple(passed), whose))
    return path


@pytest.mark.parametrize("presses", [3, 60])
@pytest.mark.parametrize("whose", [WHOSE, None])
@pytest.mark.parametrize(("opened", "driver"), [(HID, "hid"), (TEST, "usbtmc")])
def test_a_tape_of_a_usb_device_is_said_to_be_one_with_its_driver_and_profiles(
    tmp_path: Path, capsys: Captured, opened: Description, driver: str, whose: Whose | None,
    presses: int,
) -> None:  # fmt: skip
    whose = None if whose is None else whose._replace(driver=driver)
    path = taped(tmp_path / "t.tape", opened, whose, presses)
    assert run(["learn", "--tape", str(path), *SHOWN, "--kind", "gloss", "--geometry", "60"]) == 1
    told = " ".join(capsys.readouterr().err.split())
    assert "is the tape of a USB device, and only what comes over a line can be learned" in told
    assert "got transfers with usb 1a2b:0001" in told
    assert ("of strand" in told) == (whose is not None)
    assert f'next use the driver "{driver}": ' in told
    shipped = [path.name for path in (config_dir() / "profiles").glob(f"{driver}-*.toml")]
    assert shipped
    assert all(name in told for name in shipped)
    assert f"coatbench tape show {path} --hex" in told
    assert "sends all the time" not in told


def test_the_rest_of_a_cut_tape_is_known_by_whose_it_is(tmp_path: Path, capsys: Captured) -> None:
    report = record(Pipe.INTERRUPT_IN, bytes((1, 2, 0, 7)))[3:]
    at = Instant(10**18, 10**12)
    path = tmp_path / "t.tape"
    tape = Tape(at, "usb 1a2b:0001", (Passed(RECEIVED, 40, at, report),), WHOSE)
    write_tape(path, tape._replace(received_before=40))
    assert run(["learn", "--tape", str(path), "--shown", "91.4"]) == 1
    assert "is the tape of a USB device" in capsys.readouterr().err


def test_frames_of_a_line_that_begin_as_the_record_of_an_opening_are_learned_from(
    tmp_path: Path, capsys: Captured
) -> None:
    values = {"91.4": "0914", "45.2": "0452", "12.0": "0120"}
    path, passed = tmp_path / "t.tape", []
    for place, digits in enumerate(values.values()):
        at = Instant(10**18 + place * 5 * 10**9, 10**12 + place * 5 * 10**9)
        passed.append(Passed(RECEIVED, 4 * place, at, b"\x10\x00" + bytes.fromhex(digits)))
    write_tape(path, Tape(Instant(10**18, 10**12), "bench", tuple(passed)))
    says = ["--kind", "gloss", "--geometry", "60", "--most", "200", "--least", "0"]
    assert run(["learn", "--tape", str(path), *SHOWN, *says]) == 0
    assert "USB" not in capsys.readouterr().err
