"""Behind a checksum that fits, the kit tries bytes that no device sends."""

from __future__ import annotations

from pathlib import Path
from random import Random

import pytest

from acquire.cli.entry import run
from acquire.driverapi.conformance import violations
from acquire.driverapi.summing import spoilt_behind, sums_of
from acquire.wire.checksum import CHECKSUMS, sum8, xor8
from tests.kit import summed_families as strangers
from tests.kit.summed_families import SummedFamily

AS_A_PLAIN_RUN = 100_000

CAPTURE = """
[[step]]
received = "{0}\\r\\n"
[[step]]
after_s = 1.0
received = "{1}\\r\\n"
[[fact]]
is = "reading"
raw = "{0}\\r\\n"
text = "12.5"
value = "12.5"
unit = "newton"
[[fact]]
is = "reading"
raw = "{1}\\r\\n"
text = "3.1"
value = "3.1"
unit = "newton"
"""


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("name", ["HUNDREDS", "XORED", "ADDED", "NEGATED", "POLYNOMIAL", "ODDLY"])
def test_a_driver_that_cannot_read_what_stands_behind_its_checksum_is_found(
    name: str, seed: int
) -> None:
    family = getattr(strangers, name)
    found = violations(
        family, {}, [family.capture("12.5", "3.1")], seed=seed, spoilt_bytes=AS_A_PLAIN_RUN // 4
    )
    assert any("summed" in one and "UnicodeDecodeError" in one for one in found), found


def test_a_driver_that_bears_them_keeps_every_rule() -> None:
    family = strangers.SOUND
    assert not violations(family, {}, [family.capture("12.5", "3.1")], spoilt_bytes=AS_A_PLAIN_RUN)


def test_a_plain_run_of_the_command_finds_it_and_names_the_rule(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    family = strangers.HUNDREDS
    lines = [family.line(number).decode().strip() for number in ("12.5", "3.1")]
    (tmp_path / "pulls.toml").write_text(CAPTURE.format(*lines))
    (tmp_path / "empty.toml").write_text("")
    profile, captures = str(tmp_path / "empty.toml"), str(tmp_path / "pulls.toml")
    place = "tests.kit.summed_families:HUNDREDS"
    code = run(["driver", "test", place, "--profile", profile, "--captures", captures])
    told = capfd.readouterr().out
    assert code == 1
    assert "BROKEN     any bytes in any chunks: the same facts, and no exception" in told
    assert "UnicodeDecodeError" in told
    assert "held       captures mean what they say" in told


@pytest.mark.parametrize(
    "family",
    [strangers.HUNDREDS, strangers.XORED, strangers.ADDED, strangers.NEGATED, strangers.POLYNOMIAL],
)
def test_how_a_device_sums_is_found_where_two_messages_show_it(family: SummedFamily) -> None:
    known, unseen = [family.line("12.5"), family.line("3.1")], family.line("207.4")
    assert any(one.fits(unseen) for one in sums_of(known))
    assert sums_of([*known, b"PULL 12.5 N*XX\r\n"]) == []


@pytest.mark.parametrize("name", CHECKSUMS)
def test_every_checksum_of_a_frame_fits_after_bytes_were_changed(name: str) -> None:
    algorithm = CHECKSUMS[name]
    size = algorithm.width_bits // 8

    def frame(body: bytes) -> bytes:
        return b"\x02" + body + algorithm.of(body).to_bytes(size, "little") + b"\x03"

    sums = [
        one
        for one in sums_of([frame(b"\x10\x0239"), frame(b"\x11\x1d4a"), frame(b"\x19\xf0cq")])
        if one.fits(frame(b"another one"))
    ]
    choice = Random(1)
    others = {spoilt_behind(frame(b"\x10\x0239"), sums, choice) for _ in range(400)}
    fitting = [m for m in others if m == frame(m[1 : -size - 1])]
    assert len(fitting) > 100
    assert len({m[1:5] for m in fitting}) > 100


def test_two_changed_bytes_leave_sums_and_exclusive_ors_as_they_were() -> None:
    message, choice = strangers.XORED.line("12.5"), Random(1)
    others = [spoilt_behind(message, [], choice) for _ in range(1000)]
    assert {len(other) for other in others} == {len(message)}
    kept = [o for o in others if sum8(o) == sum8(message) and xor8(o) == xor8(message)]
    assert len(kept) > 300
    assert all(sum8(o) == sum8(message) or xor8(o) == xor8(message) for o in others)
    assert any(byte > 0x7F for other in kept for byte in other)
