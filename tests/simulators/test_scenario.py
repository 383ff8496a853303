"""Scenario files: read with all faults of a step, run by file and seed, acted on by lines."""

from __future__ import annotations

import os
import signal
import tempfile
from pathlib import Path
from typing import Any

import pytest
import serial as ports
import usb.core

from simulators import commands
from simulators.arguments import ActFault
from simulators.commands import pairs
from simulators.handle import DeviceGone, DeviceProcess
from simulators.rig import Rig
from simulators.scenario_file import ScenarioFault, read_scenario
from simulators.things import Thing, changed
from simulators.usb.backend import SimulatedBackend
from simulators.usb.hands import usb_hand
from simulators.usb.hid import INTERRUPT_IN
from simulators.usb.waiting import HurriedWaiting
from simulators.wires import BESIDE, WIRES
from tests.patience import PATIENCE_S

EXAMPLES = sorted((Path(__file__).parents[2] / "config" / "scenarios").glob("*.toml"))
HEAD = """
[scenario]
name = "test"
seed = 3
[[zone]]
name = "A1"
gloss = { 20 = 80.0, 60 = 85.0, 85 = 95.0 }
texture_sd = 0.4
[[piece]]
name = "T1"
gloss = { 20 = 91.4, 60 = 95.2, 85 = 98.0 }
[[piece]]
name = "W200"
mass_g = 200
[[piece]]
name = "N50"
percent = 50
"""


ALSO_21 = '{"20": 80.0, "60": 85.0, "85": 95.0, "21": 1}'


ZONES = """
[[zone]]
name = "B1"
treatment = "{}"
gloss = {{ 20 = 80.0, 60 = 85.0, 85 = 95.0 }}
"""


def device(wire: str, name: str = "it", more: str = "", serial: str = "SN-0417") -> str:
    return f'[[device]]\nname = "{name}"\nwire = "{wire}"\nserial = "{serial}"\n{more}\n'


def faults_of(text: str) -> list[tuple[str, str, str]]:
    with pytest.raises(ScenarioFault) as raised:
        read_scenario(text, "it.toml")
    return [tuple(fault) for fault in raised.value.faults]


@pytest.mark.parametrize(
    ("text", "path", "got"),
    [
        (f"seed = {'9' * 5000}", "file", "a number of thousands of digits"),
        (f"a = {'[' * 3000}", "file", "lists or tables nested too deep to read"),
        (HEAD + f"a = 0x{'f' * 5000}", "piece[2].a", "a value too large to be shown"),
        (HEAD + f"a{'.a' * 1200} = 1", "piece[2].a", "a value too large to be shown"),
    ],
)
def test_what_nobody_would_write_is_one_fault(text: str, path: str, got: str) -> None:
    assert faults_of(text)[0][:2] == (path, got)


def test_a_byte_order_mark_is_no_part_of_the_text() -> None:
    assert read_scenario("\ufeff" + HEAD + device("gloss-press"), "it.toml").devices


def test_devices_are_bounded_and_those_of_a_kind_have_serial_numbers_of_their_own() -> None:
    many = "".join(device("gloss-press", f"d{n}", serial=f"SN-{n}") for n in range(70))
    assert faults_of(HEAD + many) == [("device", "70", "at most 64")]
    twice = device("gloss-press", "a") + device("gloss-press", "b", serial="sn-0417")
    wanted = "one of its own: a has this one"
    assert faults_of(HEAD + twice) == [("device b.serial", "sn-0417", wanted)]
    assert read_scenario(HEAD + device("gloss-press", "a") + device("force-peak", "b"), "it.toml")


@pytest.mark.parametrize("name", ["a\\u009bb", "\\u202eabc", "  "])
@pytest.mark.parametrize("path", ["scenario.name", "zone[1].treatment"])
def test_a_name_is_one_that_a_bench_takes(name: str, path: str) -> None:
    text = HEAD + ZONES.format(name) + device("gloss-press")
    if path == "scenario.name":
        text = HEAD.replace('name = "test"', f'name = "{name}"') + device("gloss-press")
    assert [fault[0] for fault in faults_of(text)] == [path]


def test_entries_devices_and_script_are_told_one_after_the_other_each_with_all_its_faults() -> None:
    # As the shipped file says: what only sound entries tell comes once these are right.
    acts = "".join(f'[[script]]\ndo = "{do}"\n' for do in ("dance it", "put it T9"))
    usb = 'faults = [ { kind = "split" }, { kind = "wet" } ]'
    typed = device("gloss-press") + device("hid-weighing", "scale", usb, serial="SG-0031")
    steps = [
        (typed.replace('"scale"', '"it"'), ["device"]),
        (typed, ["device[1].faults[0].fault kind", "device[1].faults[1].fault kind"]),
        (typed.replace(usb, ""), ["script[0].do.act", "script[1].do.put it"]),
    ]
    for devices, told in steps:
        assert [fault[0] for fault in faults_of(HEAD + devices + acts)] == told
    words = " ".join(line.strip("# ") for line in EXAMPLES[0].read_text("utf-8").splitlines())
    assert "All faults of its entries are told at once" in words
    assert "and then every act of the script that cannot be done" in words


def test_every_fault_of_the_entries_is_told_at_once_with_its_place() -> None:
    text = """
    surprise = 1
    [scenario]
    seed = -1
    [[zone]]
    name = "A1"
    gloss = { 21 = 80.0 }
    [[piece]]
    name = "X"
    [[device]]
    name = "shore"
    wire = "gloss-pres"
    serial = "SH-0417"
    [[device]]
    name = "deck"
    wire = "gloss-press"
    serial = "DK 2205"
    latency_s = 61
    colour = "red"
    faults = [ { kind = "cut" }, { kind = "torm" }, { kind = "late", delay_s = "long" } ]
    [[script]]
    do = "put deck A1"
    after_s = 1
    after_presses = 2
    of = "dock"
    """
    told = {path: (got, wanted) for path, got, wanted in faults_of(text)}
    assert list(told) == [
        "surprise",
        "scenario.seed",
        "zone[0].gloss",
        "piece[0].name",
        "device[0].wire",
        "device[1].serial",
        "device[1].latency_s",
        "device[1].faults[1].kind",
        "device[1].faults[2].delay_s",
        "device[1].colour",
        "script[0].of",
        "script[0]",
    ]
    assert told["scenario.seed"] == ("-1", "a whole number from 0 to 2147483647")
    assert told["device[1].latency_s"] == ("61", "a number from 0 to 60")
    assert told["device[0].wire"][1].startswith("one of gloss-press, gloss-asked")
    assert "latency_s" in told["device[1].colour"][1]


@pytest.mark.parametrize(
    ("line", "path", "got"),
    [
        ("put it T9", "script[0].do.put it", '"T9"'),
        ("press them", "script[0].do.press", '"them"'),
        ("press it 0", "script[0].do.press it", '"0"'),
        ("drift it gain=9", "script[0].do.drift gain", "9"),
        ("dance it", "script[0].do.act", '"dance"'),
        ("fault it kind=wet", "script[0].do.fault kind", '"wet"'),
        ("zone A9 gloss.20=1", "script[0].do.zone", '"A9"'),
        ("zone A1 gloss.21=1", "script[0].do.zone gloss", ALSO_21),
        ("put it 'T1", "script[0].do.command", "\"put it 'T1\""),
    ],
)  # fmt: skip
def test_an_act_that_cannot_be_done_is_told_before_anything_runs(
    line: str, path: str, got: str
) -> None:
    text = HEAD + device("gloss-press") + f'[[script]]\ndo = "{line}"\n'
    assert [(fault[0], fault[1]) for fault in faults_of(text)] == [(path, got)]


@pytest.mark.parametrize(
    ("more", "path"),
    [
        ("angles = [20, 20]", "device[0].angles"),
        ('format = "7E1"', "device[0].baud"),
        ("baud = 9600\nformat = '9E1'", "device[0].format"),
        ("tcp_port = 4001", "device[0].port"),
        ('port = "usb"', "device[0].port"),
        ("faults = 3", "device[0].faults"),
    ],
)
def test_options_that_do_not_fit_are_told(more: str, path: str) -> None:
    assert [f[0] for f in faults_of(HEAD + device("gloss-press", more=more))] == [path]


def test_names_that_come_twice_and_texts_that_are_no_toml_are_told() -> None:
    text = HEAD + device("gloss-press") + device("gloss-asked", serial="SN-0418")
    assert [f[:2] for f in faults_of(text)] == [("device", "it twice")]
    assert [f[0] for f in faults_of("a = = 1")] == ["file"]
    assert [f[0] for f in faults_of(HEAD)] == ["device"]
    assert [f[0] for f in faults_of('device = "x"')] == ["device", "device"]


def test_a_gloss_meter_wants_zones_that_have_gloss() -> None:
    text = '[[zone]]\nname = "A1"\n' + device("gloss-press")
    assert faults_of(text) == [("zone A1", "nothing", "gloss, since it measures it")]


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda path: path.stem)
def test_every_example_is_sound(example: Path) -> None:
    scenario = read_scenario(example.read_text(encoding="utf-8"), example.name)
    assert scenario.devices


def test_words_become_a_table() -> None:
    assert pairs("x", ["a=1", "b.c=2.5", "b.d=text", 'e={"f": true}']) == {
        "a": 1, "b": {"c": 2.5, "d": "text"}, "e": {"f": True},
    }  # fmt: skip
    for wrong in (["a"], ["=1"], ["a=1", "a.b=2"]):
        with pytest.raises(ActFault):
            pairs("x", wrong)


needs_terminals = pytest.mark.skipif(os.name != "posix", reason="needs pseudo-terminals")


def play(text: str, lines: list[str]) -> tuple[bytes, list[Any]]:
    """What a device of a scenario sends while lines are done, and the answers."""
    with (
        tempfile.TemporaryDirectory() as folder,
        Rig(read_scenario(text, "it.toml"), Path(folder)) as rig,
        ports.serial_for_url(rig.devices["it"].port, timeout=PATIENCE_S) as port,
    ):
        sent, answers = 0, []
        for line in lines:
            answers.append(rig.do(line))
            for done in rig.tick(0):
                answers.append(done.answer)
        sent = sum(answer.get("sent_bytes", 0) for answer in answers)
        return port.read(sent), answers


@needs_terminals
def test_the_same_file_and_seed_give_the_same_bytes_and_another_seed_others() -> None:
    script = '[[script]]\ndo = "drift it gain=1.5"\nafter_presses = 2\nof = "it"\n'
    more = 'faults = [ { kind = "clean" }, { kind = "corrupted" } ]\nchatter = 0.3'
    text = HEAD + device("gloss-press", more=more) + script
    lines = ["put it A1", "press it", "press it", "press it", "put it T1", "press it"]
    first, answers = play(text, lines)
    assert play(text, lines)[0] == first
    assert play(text.replace("seed = 3", "seed = 4"), lines)[0] != first
    shown = [answer["shown"]["20"] for answer in answers if "shown" in answer]
    # 80 GU twice, then half as much again; 91.4 x 1.5 is above the range.
    assert shown[:2] == pytest.approx([80, 80], abs=2)
    assert shown[2] == pytest.approx(120, abs=3) or shown[2] is None
    assert shown[3] is None


@needs_terminals
def test_faults_are_drawn_by_the_seed_of_the_file() -> None:
    text = HEAD + device("gloss-press", more='fault_share = 0.5\nfault_kinds = ["corrupted"]')
    lines = ["put it A1", *["press it"] * 8]
    first, _ = play(text, lines)
    plain, _ = play(HEAD + device("gloss-press"), lines)
    spoilt = [a != b for a, b in zip(first.split(b"\r\n"), plain.split(b"\r\n"), strict=True)]
    assert 1 <= sum(spoilt) <= 7
    assert play(text, lines)[0] == first


def test_drawn_faults_want_a_share_and_kinds_that_befall_the_wire() -> None:
    share = "fault_share = 0.5"
    assert faults_of(HEAD + device("gloss-press", more=share)) == [
        ("device[0].fault_kinds", "nothing", "fault_share and fault_kinds, or neither")
    ]
    for wire, kind in (("usbtmc-head", "corrupted"), ("gloss-press", "wrong_tag")):
        (found,) = faults_of(HEAD + device(wire, more=f'{share}\nfault_kinds = ["{kind}"]'))
        assert found[:2] == ("device[0].fault_kinds", f'["{kind}"]')
        assert found[2].startswith("a list of ")


def test_faults_of_a_usb_device_are_drawn_too() -> None:
    more = 'fault_share = {}\nfault_kinds = ["drop"]'
    for share, comes in ((0.0, True), (1.0, False)):
        text = HEAD + device("hid-weighing", more=more.format(share))
        (one,) = read_scenario(text, "it.toml").devices
        backend = SimulatedBackend(HurriedWaiting())
        usb_hand(one.wire.layout, backend, one.serial, one.seed, one.options)
        host = usb.core.find(backend=backend)
        host.detach_kernel_driver(0)
        if comes:
            assert host.read(INTERRUPT_IN, 8, 1000)
        else:
            with pytest.raises(usb.core.USBTimeoutError):
                host.read(INTERRUPT_IN, 8, 1000)


def test_where_there_are_no_terminals_devices_are_on_the_network(tmp_path: Path) -> None:
    scenario = read_scenario(HEAD + device("gloss-press"), "it.toml")
    with Rig(scenario, tmp_path, has_terminals=False) as rig:
        assert rig.kind_of_port(scenario.devices[0]) == "tcp"
        with ports.serial_for_url(rig.devices["it"].port, timeout=PATIENCE_S) as port:
            port.write(b"I?\r\n")
            assert b"SN-0417" in port.read_until(b"\n")


@needs_terminals
def test_a_device_whose_program_was_killed_is_told_once_and_its_link_is_gone(
    tmp_path: Path,
) -> None:
    text = HEAD + device("gloss-press") + device("gloss-press", "other", serial="SN-0418")
    with Rig(read_scenario(text, "it.toml"), tmp_path) as rig:
        killed = rig.devices["it"]
        assert isinstance(killed, DeviceProcess)
        os.kill(killed.pid, signal.SIGKILL)
        killed.await_end()
        (done,) = rig.tick(0)
        assert done.step.do == "it"
        assert done.fault.startswith("its program has ended with status -9; ")
        assert rig.tick(0) == []
        assert not (tmp_path / "it-port").is_symlink()
        assert (tmp_path / "other-port").exists()
        with pytest.raises(DeviceGone):
            rig.do("press it")


@needs_terminals
def test_a_device_that_does_not_start_ends_the_others(tmp_path: Path) -> None:
    text = HEAD + device("gloss-press") + device("gloss-press", "other", serial="SN-0418")
    (tmp_path / "other-port").write_text("in the way", encoding="utf-8")
    with pytest.raises(DeviceGone, match="wanted a free name"):
        Rig(read_scenario(text, "it.toml"), tmp_path)
    assert not (tmp_path / "it-port").exists()


@needs_terminals
def test_acts_are_done_when_their_time_has_come_and_in_their_order() -> None:
    script = """
    [[script]]
    do = "put it T1"
    [[script]]
    do = "press it"
    after_s = 5
    [[script]]
    do = "lift it"
    [[script]]
    do = "press it 2"
    after_s = 1
    """
    with (
        tempfile.TemporaryDirectory() as folder,
        Rig(read_scenario(HEAD + device("gloss-press") + script, "it.toml"), Path(folder)) as rig,
    ):
        done = {
            at: [one.step.do for one in rig.tick(at)]
            for at in (100.0, 104.9, 105.1, 106.0, 106.2, 200.0)
        }
        assert done == {
            100.0: ["put it T1"],
            104.9: [],
            105.1: ["press it", "lift it"],
            106.0: [],
            106.2: ["press it 2"],
            200.0: [],
        }
        assert rig.hands.hands["it"].presses == 3


MEASURING = [name for name, wire in WIRES.items() if wire.measures not in BESIDE]


@pytest.mark.parametrize("wire", MEASURING)
def test_every_wire_can_be_put_on_its_things_pressed_and_lifted(wire: str) -> None:
    piece = {"gloss": "T1", "force": "W200", "transmittance": "N50"}[WIRES[wire].measures]
    lines = ["put it A1", "press it", f"put it {piece}", "press it", "lift it"]
    lines += ["unplug it", "plug it"]
    if WIRES[wire].presses == "asked":
        lines = [line for line in lines if line != "press it"]
    script = "".join(f'[[script]]\ndo = "{line}"\n' for line in lines)
    text = HEAD + device(wire) + script
    assert len(read_scenario(text, "it.toml").script) == len(lines)


@pytest.mark.parametrize("wire", [name for name in WIRES if name not in MEASURING])
def test_what_measures_no_surface_is_put_on_nothing(wire: str) -> None:
    for line in ("put it A1", "lift it"):
        with pytest.raises(ScenarioFault, match=line.split()[0]):
            read_scenario(HEAD + device(wire) + f'[[script]]\ndo = "{line}"\n', "it.toml")
    does = "room it temperature_c=24" if "climate" in wire else "press it 3"
    assert read_scenario(HEAD + device(wire) + f'[[script]]\ndo = "{does}"\n', "it.toml").script


@pytest.mark.parametrize("act", ["put", "press", "lift", "zone", "adjust"])
def test_every_line_a_hand_knows_is_described(act: str) -> None:
    assert f"\n    {act} " in (commands.__doc__ or "")


def test_a_film_of_one_band_leaves_those_of_the_others_as_they_were() -> None:
    thing = Thing(
        "A1",
        False,
        {"gloss": {"20": 80.0, "60": 85.0}},
        {},
        {"film": {"315-400": 0.4, "380-780": 0.98}},
    )
    after = changed(thing, {"film": {"315-400": 0.3}, "gloss": {"20": 70.0}})
    assert after.slide["film"] == {"315-400": 0.3, "380-780": 0.98}
    assert after.surface["gloss"] == {"20": 70.0, "60": 85.0}
