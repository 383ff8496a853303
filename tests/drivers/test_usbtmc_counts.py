"""A head that sends counts, on a simulated bus: what becomes of dark, lamp and its own key."""

from __future__ import annotations

import struct

import pytest

from acquire.errors import SettingsError
from acquire.model import Fact, Noise, Reading, Spectrum
from acquire.wire.transfer import Status
from drivers.usbtmc import FAMILY
from simulators.usb.light import BLANK, OPEN, SHUTTER
from simulators.usb.transmission import transmission_head
from tests.captures import profile
from tests.drivers.test_usbtmc_bus import Bench, kinds, readings
from tests.drivers.test_usbtmc_driver import GRID, IDENTITY, Host, block


def percent(facts: list[Fact]) -> dict[str, float]:
    return {c: float(r.value) for c, r in readings(facts).items() if r.value is not None}


def test_counts_become_the_percent_that_the_head_itself_would_send() -> None:
    told = {}
    for layout in ("usbtmc-counts", "usbtmc-bands"):
        bench = Bench(layout)
        bench.head.lay(BLANK)
        bench.run(3.0)
        facts = bench.press()
        bench.run(3.0)
        told[layout] = percent([*facts, *bench.facts])
    for band, value in told["usbtmc-bands"].items():
        # The head rounds its bands to a hundredth.
        assert told["usbtmc-counts"][band] == pytest.approx(value, abs=0.006)


def test_the_spectrum_is_kept_in_counts_with_the_dark_in_it() -> None:
    bench = Bench("usbtmc-counts")
    bench.run(0.5)
    bench.head.lay(SHUTTER)
    (spectrum,) = (f for f in bench.press() if isinstance(f, Spectrum))
    counts = struct.unpack(f"<{len(spectrum.values) // 4}f", spectrum.values)
    assert spectrum.unit == "count"
    assert sum(counts) / len(counts) == pytest.approx(300, abs=1)


def test_a_weaker_lamp_reads_less_until_the_key_takes_the_open_beam_anew() -> None:
    bench = Bench("usbtmc-counts")
    bench.run(0.5)
    bench.head.lay(OPEN)
    bench.head.head.beam.lamp = 0.9
    assert percent(bench.press())["380-780"] == pytest.approx(90, abs=0.1)
    bench.head.adjust()
    assert kinds(bench.run(0.5)) == ["adjusted"]
    assert percent(bench.press())["380-780"] == pytest.approx(100, abs=0.1)


def test_a_head_that_does_not_tell_its_open_beam_gives_noise_and_no_percent() -> None:
    host = Host(profile("usbtmc-counts"))
    host.say("*IDN?\n", IDENTITY)
    host.say("WAV?\n", GRID)
    host.say("DARK?\n", block((24.0,) * 12))
    host.say("OPEN?\n", Status.TIMED_OUT)
    host.say("FETC?\n", b"1," + block((524.0,) * 12))
    host.run(30.0)
    facts = host.request(1)
    assert [f.reason for f in facts if isinstance(f, Noise)] == [
        "counts of a head whose open beam is not known"
    ]
    assert not any(isinstance(f, Reading | Spectrum) for f in facts)


def test_integers_of_counts_give_the_same_bands() -> None:
    table = profile("usbtmc-counts")
    table["start"]["commands"][1] = "FORM INT,32\n"
    table["spectrum"]["form"] = "int32"
    found = []
    for form in (profile("usbtmc-counts"), table):
        bench = Bench("usbtmc-counts")
        bench.link.close()
        bench.connect(FAMILY, form, "usbtmc-counts")
        bench.run(0.5)
        bench.head.lay(BLANK)
        found.append(percent(bench.press()))
    for band, value in found[0].items():
        assert found[1][band] == pytest.approx(value, abs=0.01)


def test_a_profile_of_counts_is_of_percent_and_has_a_spectrum() -> None:
    table = profile("usbtmc-counts")
    table["unit"] = "one"
    with pytest.raises(SettingsError, match="percent, which counts become"):
        FAMILY.driver(table, "mine")


def test_light_that_goes_round_the_slide_is_in_the_counts_of_every_piece() -> None:
    head = transmission_head("LG-1", seed=3).head
    head.beam.stray = 0.02
    dark = head.beam.counts(SHUTTER, 1)
    middle = dark[350] - 300
    assert middle == pytest.approx(0.02 * 48_000, rel=0.1)
