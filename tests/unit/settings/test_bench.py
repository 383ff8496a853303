"""Bench files with the profiles and policies they name: the bench they give, and every fault."""

from __future__ import annotations

import os
import re
import shutil
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from acquire.driverapi.registry import Registry
from acquire.errors import SettingsError
from acquire.model import LinkAddress, PieceKind, Quantity
from acquire.settings import config_dir, load_bench

BENCH = """
[bench]
name = "Quay"
store = "quay.sqlite"

[[instrument]]
id = "jetty"
kind = "gloss"
serial = "JT-0001"
driver = "line"
profile = "presser"
policy = "twenty"
link = {serial_number = "ADAPTER-1"}

[[instrument]]
id = "mole"
kind = "gloss"
serial = "ML-0002"
driver = "line"
profile = "presser"
policy = "twenty"
link = {url = "socket://127.0.0.1:4001"}
"""

TILE = """
[[piece]]
id = "T1"
kind = "gloss-tile"

[[piece.certificate]]
quantity = "gloss"
geometry = 20
value = 91.40
unit = "gloss_unit"
expanded_uncertainty = 0.4
coverage_factor = 2
issued = 2026-01-31
due = 2031-01-31
issuer = "Invented laboratory"
"""

TRAP = """
[[piece]]
id = "Z0"
kind = "black-trap"

[[piece.certificate]]
quantity = "gloss"
geometry = 20
value = 0.0
unit = "gloss_unit"
expanded_uncertainty = 0.1
coverage_factor = 2
issued = 2026-01-31
due = 2031-01-31
issuer = "Invented laboratory"
"""

POLICY = """
quantity = "gloss"
geometry = 20
resolution = 0.1
valid_for_s = 3600

[[step]]
piece = "T1"
readings = 3
limit = 1.0
spread_limit = 0.5

[[step]]
piece = "Z0"
readings = 3
limit = 0.3
spread_limit = 0.2
"""

PROFILE = '# As the maker says.\nkind = "gloss"\n[line]\nbaud_rate = 9600\n'


class Quay:
    """A folder with a bench file, and another with what is shipped."""

    def __init__(self, folder: Path) -> None:
        self.path = folder / "quay" / "bench.toml"
        self.shipped = folder / "shipped"
        for place in (self.path.parent, self.shipped):
            for room in ("profiles", "policies"):
                (place / room).mkdir(parents=True)
        self.write(BENCH + TILE + TRAP)
        self.beside("profiles/presser.toml", PROFILE)
        self.beside("policies/twenty.toml", POLICY)

    def write(self, text: str) -> None:
        self.path.write_text(text, encoding="utf-8")

    def beside(self, name: str, text: str) -> Path:
        path = self.path.parent / name
        path.write_text(text, encoding="utf-8")
        return path

    def faults(self, text: str | None = None) -> list[str]:
        if text is not None:
            self.write(text)
        with pytest.raises(SettingsError) as caught:
            load_bench(self.path, shipped=self.shipped)
        return [str(fault) for fault in caught.value.faults]


@pytest.fixture
def quay(tmp_path: Path) -> Quay:
    return Quay(tmp_path)


def test_a_bench_file_becomes_a_bench_with_the_files_it_names_read_in(quay: Quay) -> None:
    bench = load_bench(quay.path, shipped=quay.shipped)
    assert bench.name == "Quay"
    assert bench.store == quay.path.parent / "quay.sqlite"
    assert (bench.control_host, bench.control_port) == ("127.0.0.1", 0)
    jetty = bench.instrument("jetty")
    assert jetty is not None
    assert (jetty.kind, jetty.serial, jetty.driver) == (Quantity.GLOSS, "JT-0001", "line")
    assert jetty.address == LinkAddress(identity={"serial_number": "ADAPTER-1"})
    assert jetty.profile_name == "presser"
    assert jetty.profile == {"kind": "gloss", "line": {"baud_rate": 9600}}
    assert jetty.profile_text == PROFILE
    assert jetty.policy.id == "twenty"
    assert jetty.policy.rules[1].limit == Decimal("0.3")
    tile = bench.piece("T1")
    assert tile is not None
    assert tile.kind is PieceKind.GLOSS_TILE
    certificate = tile.certificate(Quantity.GLOSS, "20")
    assert certificate is not None
    assert str(certificate.value) == "91.40"
    assert certificate.standard_uncertainty == Decimal("0.2")
    assert (certificate.issued, certificate.due) == (date(2026, 1, 31), date(2031, 1, 31))


def test_what_lies_beside_the_bench_file_goes_before_what_is_shipped(quay: Quay) -> None:
    (quay.shipped / "profiles" / "presser.toml").write_text("kind = 3", encoding="utf-8")
    assert load_bench(quay.path, shipped=quay.shipped).instruments[0].profile_text == PROFILE


def test_what_does_not_lie_beside_the_bench_file_is_taken_as_shipped(quay: Quay) -> None:
    for name in ("profiles/presser.toml", "policies/twenty.toml"):
        (quay.path.parent / name).rename(quay.shipped / name)
    assert load_bench(quay.path, shipped=quay.shipped).instruments[1].profile_text == PROFILE


def test_a_driver_may_have_no_profile(quay: Quay) -> None:
    quay.write((BENCH + TILE + TRAP).replace('profile = "presser"\n', "", 1))
    first, second = load_bench(quay.path, shipped=quay.shipped).instruments
    assert (first.profile_name, first.profile, first.profile_text) == ("", {}, "")
    assert second.profile_name == "presser"


def test_a_port_that_is_a_relative_path_starts_at_the_bench_file(quay: Quay) -> None:
    text = BENCH.replace('serial_number = "ADAPTER-1"', 'port = "jetty-port"', 1)
    quay.write(text + TILE + TRAP)
    address = load_bench(quay.path, shipped=quay.shipped).instruments[0].address
    assert address.port == str(quay.path.parent / "jetty-port")
    quay.write(text.replace('"jetty-port"', '"/dev/jetty"') + TILE + TRAP)
    assert load_bench(quay.path, shipped=quay.shipped).instruments[0].address.port == "/dev/jetty"


def test_a_store_elsewhere_is_taken_as_it_is(quay: Quay, tmp_path: Path) -> None:
    place = tmp_path / "elsewhere.sqlite"
    quay.write((BENCH + TILE + TRAP).replace("quay.sqlite", place.as_posix()))
    assert load_bench(quay.path, shipped=quay.shipped).store == place


@pytest.mark.parametrize(
    ("text", "host", "port"),
    [
        ("127.0.0.1:0", "127.0.0.1", 0),
        ("127.0.0.1:65535", "127.0.0.1", 65535),
        ("127.8.9.1:80", "127.8.9.1", 80),
        ("localhost:4200", "127.0.0.1", 4200),
        ("[::1]:4200", "::1", 4200),
    ],
)
def test_the_daemon_listens_to_this_computer(quay: Quay, text: str, host: str, port: int) -> None:
    quay.write((BENCH + TILE + TRAP).replace("[bench]", f'[bench]\ncontrol = "{text}"'))
    bench = load_bench(quay.path, shipped=quay.shipped)
    assert (bench.control_host, bench.control_port) == (host, port)


ELSEWHERE = """
0.0.0.0:80
192.168.1.2:80
[::]:80
::ffff:10.0.0.1:80
example.org:80
localhost.example.org:80
:80
127.0.0.1
127.0.0.1:
127.0.0.1:65536
127.0.0.1:999999999
127.0.0.1:-1
127.0.0.1:٣
127.0.0.1:http
127.0.0.1 :80
"""


@pytest.mark.parametrize("text", ["", *ELSEWHERE.strip().splitlines()])
def test_the_daemon_listens_to_nobody_else(quay: Quay, text: str) -> None:
    [fault] = quay.faults((BENCH + TILE + TRAP).replace("[bench]", f'[bench]\ncontrol = "{text}"'))
    assert fault.startswith(f"bench.control: got '{text}', wanted ")
    assert "this computer only" in fault


def test_every_fault_of_every_file_is_told_at_once(quay: Quay) -> None:
    quay.beside("policies/twenty.toml", POLICY.replace("readings = 3", "readings = 0"))
    quay.beside("policies/sixty.toml", POLICY.replace("20", "60").replace("Z0", "Z9"))
    quay.beside("profiles/broken.toml", 'kind = "gloss\n')
    quay.beside("profiles/puller.toml", 'kind = "force"\n')
    text = """
[bench]
name = "Quay"
store = "no-such-folder/quay.sqlite"
control = "0.0.0.0:80"
colour = "blue"

[[instrument]]
id = "jetty"
kind = "gloss"
serial = "JT-0001 "
driver = "line 1"
profile = "broken"
policy = "twenty"
link = {vid = "12", port = "COM3"}

[[instrument]]
id = "jetty"
kind = "gloss"
serial = "ML-0002"
driver = "line"
profile = "puller"
policy = "sixty"
link = {url = "http://127.0.0.1:4001"}

[[instrument]]
id = "mole"
kind = "force"
serial = "ML-0003"
driver = "line"
profile = "absent"
policy = "sixty"
link = {}
"""
    bad_tile = (
        TILE.replace("value = 91.40", "value = -1")
        .replace("expanded_uncertainty = 0.4", "expanded_uncertainty = -0.1")
        .replace("coverage_factor = 2", "coverage_factor = 0.5")
        .replace("2031-01-31", "2026-01-31")
    )
    odd_tile = TILE.replace('"T1"', '"T2"').replace('"gloss_unit"', '"GU"')
    quay.write(text + bad_tile + odd_tile)
    with pytest.raises(SettingsError) as caught:
        load_bench(quay.path, shipped=quay.shipped)
    # The column is the parser's own and may move with the Python in use.
    assert re.sub(r", column \d+", "", str(caught.value)) == (
        f"{quay.path} with the files it names has 22 faults:\n"
        "  bench.store: got 'no-such-folder/quay.sqlite', wanted a path in a folder that is there\n"
        "  bench.control: got '0.0.0.0:80', wanted \"127.0.0.1:0\", or another port; the daemon is "
        "controlled from this computer only\n"
        "  bench.colour: got an unknown key, wanted no other keys than name, store, control, "
        "due_soon_days, gravity\n"
        "  instrument[0].serial: got 'JT-0001 ', wanted the serial number as the instrument itself "
        "bears it, 1 to 64 characters\n"
        "  instrument[0].driver: got 'line 1', wanted 1 to 64 letters (A to Z), digits, dots, - or "
        "_, a letter or digit first\n"
        "  instrument[0].link.vid: got '12', wanted four hexadecimal digits in quotes, such as "
        '"1a2b"\n'
        "  instrument[1].id: got 'jetty', wanted an id of its own: instrument[0] has this one\n"
        "  instrument[1].profile: got 'puller', which is for force, wanted one for gloss\n"
        "  instrument[1].link.url: got 'http://127.0.0.1:4001', wanted socket://HOST:PORT or "
        "rfc2217://HOST:PORT\n"
        "  instrument[2].profile: got 'absent', wanted a profile: 'broken', 'presser' or 'puller'\n"
        "  instrument[2].policy: got 'sixty', which is for gloss, wanted one for force\n"
        "  instrument[2].link: got nothing, wanted one way to find the device: serial_number "
        "and/or vid with pid, port, or url; or typed = true for one without a port\n"
        "  piece[0].certificate[0].value: got -1, wanted a number, 0 or more\n"
        "  piece[0].certificate[0].expanded_uncertainty: got -0.1, wanted a number, 0 or more\n"
        "  piece[0].certificate[0].coverage_factor: got 0.5, wanted a number from 1 to 10\n"
        "  piece[0].certificate[0].due: got 2026-01-31, wanted a date after issued (2026-01-31)\n"
        "  piece[1].certificate[0].unit: got 'GU', wanted a unit of gloss: 'gloss_unit'\n"
        "  policies/twenty.toml: step[0].readings: got 0, wanted a whole number from 2 to 100\n"
        "  policies/twenty.toml: step[1].piece: got 'Z0', wanted a [[piece]] of the bench (here: "
        "'T1' and 'T2')\n"
        "  policies/twenty.toml: step[1].readings: got 0, wanted a whole number from 2 to 100\n"
        "  policies/sixty.toml: step[1].piece: got 'Z9', wanted a [[piece]] of the bench (here: "
        "'T1' and 'T2')\n"
        "  profiles/broken.toml: line 1: got 'kind = \"gloss', wanted text closed by "
        "its quote on the same line, without control characters\n"
        "Next: mend the files named and try again"
    )


def test_one_faulty_policy_does_not_hide_the_fault_of_a_piece(quay: Quay) -> None:
    quay.beside("policies/twenty.toml", POLICY.replace("1.0", '"1.0"'))
    text = (BENCH + TILE + TRAP).replace("value = 91.40", 'value = "91.40"')
    assert [fault.split(": got")[0] for fault in quay.faults(text)] == [
        "piece[0].certificate[0].value",
        "policies/twenty.toml: step[0].limit",
    ]


WEIGHT = """
[[piece]]
id = "W1"
kind = "check-weight"

[[piece.certificate]]
quantity = "force"
value = 500
unit = "gram_force"
expanded_uncertainty = 0.1
coverage_factor = 2
issued = 2026-01-31
due = 2031-01-31
issuer = "Invented laboratory"
"""


def test_every_fault_of_a_policy_and_of_how_it_fits_the_pieces_is_told_at_once(
    quay: Quay,
) -> None:
    quay.beside(
        "policies/twenty.toml",
        POLICY.replace("valid_for_s = 3600", "valid_for_s = 0\nrange = [0, 50]")
        .replace("[[step]]", "linearity_limit = 0.5\n\n[[step]]", 1)
        .replace('piece = "Z0"', 'piece = "W1"')
        .replace("readings = 3", "readings = 1", 1)
        + """
[[step]]
piece = "T9"
readings = 3
limit = 0.01
spread_limit = 0.2

[ambient]
humidity_percent = [20, 175]
temperature_c = [1000, 2000]
""",
    )
    quay.write(BENCH + TILE + WEIGHT)
    with pytest.raises(SettingsError) as caught:
        load_bench(quay.path, shipped=quay.shipped)
    # Seven faults, all of one file: it is named, and not the bench file.
    assert str(caught.value).splitlines() == [
        f"{quay.path.parent / 'policies' / 'twenty.toml'} has 7 faults:",
        "  valid_for_s: got 0, wanted a number, more than 0 and at most 604800",
        "  range: got 0 to 50 gloss_unit, wanted a range with every piece of the policy in it: T1 "
        "at 20° is certified 91.40",
        "  step[0].readings: got 1, wanted a whole number from 2 to 100",
        "  step[1].piece: got 'W1', a check-weight, wanted a piece for gloss: a gloss-tile or "
        "black-trap",
        "  step[2].piece: got 'T9', wanted a [[piece]] of the bench (here: 'T1' and 'W1')",
        "  ambient.humidity_percent: got [20, 175], wanted two numbers, from and to, such as "
        "[20, 75], the lower one first, from 0 to 100 (percent of relative humidity)",
        "  ambient.temperature_c: got [1000, 2000], wanted two numbers, from and to, such as "
        "[18, 28], the lower one first, from -10 to 50 (degrees Celsius at a bench)",
        f"Next: mend {quay.path.parent / 'policies' / 'twenty.toml'} and try again",
    ]


def test_a_broken_policy_still_tells_whose_it_is_and_what_its_pieces_lack(quay: Quay) -> None:
    # The piece of a step that has a fault elsewhere is looked at, and so is the instrument's kind.
    quay.beside(
        "policies/twenty.toml",
        POLICY.replace("readings = 3", "readings = 1", 1).replace("limit = 1.0", "limit = 0.01"),
    )
    text = (BENCH + TILE + TRAP).replace('kind = "gloss"', 'kind = "force"', 1)
    text = text.replace('profile = "presser"\n', "", 1)
    assert [fault.split(", wanted")[0] for fault in quay.faults(text)] == [
        "instrument[0].policy: got 'twenty', which is for gloss",
        "policies/twenty.toml: step[0].readings: got 1",
        "policies/twenty.toml: step[0].limit: got 0.01",
    ]


def test_a_line_through_one_piece_is_a_fault_beside_others(quay: Quay) -> None:
    quay.beside(
        "policies/twenty.toml",
        POLICY.replace("[[step]]", "linearity_limit = 0.5\nidle_s = 0\n\n[[step]]", 1),
    )
    assert [fault.split(": got")[0] for fault in quay.faults(BENCH + TILE + TRAP)] == [
        "linearity_limit",
        "idle_s",
    ]


def test_a_limit_beyond_every_piece_of_the_check_is_no_limit(quay: Quay) -> None:
    # Of force nothing says how far the scale goes; the highest piece says how far it is checked.
    quay.beside(
        "policies/pull.toml",
        POLICY.replace("geometry = 20", 'unit = "gram_force"').replace('"gloss"', '"force"')
        .replace('"T1"', '"W1"').replace("limit = 1.0", "limit = 500")
        .split("[[step]]\npiece = \"Z0\"", maxsplit=1)[0],
    )  # fmt: skip
    bench = BENCH.replace('kind = "gloss"', 'kind = "force"').replace('profile = "presser"\n', "")
    assert quay.faults(bench.replace('"twenty"', '"pull"') + WEIGHT) == [
        "step[0].limit: got 500, wanted less than 500 gram_force, the highest certified value of "
        "the check: with it a meter that shows 0 would pass"
    ]


def test_a_piece_without_an_id_hides_no_other_fault_of_a_policy(quay: Quay) -> None:
    quay.beside(
        "policies/twenty.toml", POLICY.replace("geometry = 20", "geometry = 20\nrange = [0, 9]")
    )
    text = BENCH + TILE + TRAP.replace('id = "Z0"', "id = 7")
    assert [fault.split(": got")[0] for fault in quay.faults(text)] == [
        "piece[1].id",
        "policies/twenty.toml: range",
    ]


def test_a_policy_whose_piece_is_not_on_the_bench_is_told_once_for_all_instruments(
    quay: Quay,
) -> None:
    assert quay.faults(BENCH + TILE) == [
        "step[1].piece: got 'Z0', wanted a [[piece]] of the bench (here: 'T1')"
    ]


def test_a_piece_needs_a_certificate_for_every_geometry_of_the_policy(quay: Quay) -> None:
    quay.beside("policies/twenty.toml", POLICY.replace("geometry = 20", "geometry = [20, 60]"))
    assert quay.faults() == [
        "piece[0].certificate: got no certificate that fits, wanted one for gloss at 60°, "
        "which policy twenty reads it at",
        "piece[1].certificate: got no certificate that fits, wanted one for gloss at 60°, "
        "which policy twenty reads it at",
    ]


def test_a_certificate_may_be_in_another_unit_than_the_policy(quay: Quay) -> None:
    quay.beside(
        "policies/twenty.toml",
        POLICY.replace("geometry = 20\n", "").replace('"gloss"', '"force"').replace('"T1"', '"W1"')
        .replace("limit = 1.0", "limit = 0.1").replace("limit = 0.5", "limit = 0.1")
        .split("[[step]]\npiece = \"Z0\"", maxsplit=1)[0],
    )  # fmt: skip
    weight = (
        TILE.replace("geometry = 20\n", "")
        .replace('"gloss"', '"force"')
        .replace('"T1"', '"W1"')
        .replace("gloss-tile", "check-weight")
        .replace("gloss_unit", "gram_force")
    )
    bench = BENCH.replace('kind = "gloss"', 'kind = "force"').replace('profile = "presser"\n', "")
    quay.write(bench + weight)
    (piece,) = load_bench(quay.path, shipped=quay.shipped).pieces
    (certificate,) = piece.certificates
    # 91.4 gf in newton by standard gravity, 9.80665 m/s2 (SI Brochure).
    assert (certificate.unit, certificate.value) == ("newton", Decimal("0.89632781"))


def test_a_limit_inside_the_doubt_of_the_certificate_could_never_be_passed(quay: Quay) -> None:
    # u = 1.2 / 2 = 0.6 with 0.1 / sqrt(12) of the display: 1.96 u = 1.18 GU > 1.0 GU.
    text = (BENCH + TILE + TRAP).replace("expanded_uncertainty = 0.4", "expanded_uncertainty = 1.2")
    assert quay.faults(text) == [
        "step[0].limit: got 1.0, wanted more than 1.18: the certificate of T1 for gloss at 20° and "
        "the display leave that much doubt, so the check could never pass"
    ]


def test_of_two_certificates_the_later_one_is_looked_at(quay: Quay) -> None:
    older = TILE[TILE.index("[[piece.certificate]]") :].replace("2026-01-31", "2020-01-31")
    older = older.replace("2031-01-31", "2021-01-31").replace("0.4", "9.9")
    quay.write(BENCH + TILE + older + TRAP)
    assert len(load_bench(quay.path, shipped=quay.shipped).pieces[0].certificates) == 2


def test_two_certificates_of_one_day_leave_open_which_counts(quay: Quay) -> None:
    again = TILE[TILE.index("[[piece.certificate]]") :]
    assert quay.faults(BENCH + TILE + again + TRAP) == [
        "piece[0].certificate[1].issued: got 2026-01-31, wanted one certificate for each quantity, "
        "geometry or band, and day"
    ]


def test_a_policy_or_profile_for_another_quantity_does_not_fit_the_instrument(quay: Quay) -> None:
    text = (BENCH + TILE + TRAP).replace('kind = "gloss"', 'kind = "force"', 1)
    assert quay.faults(text) == [
        "instrument[0].profile: got 'presser', which is for gloss, wanted one for force",
        "instrument[0].policy: got 'twenty', which is for gloss, wanted one for force",
    ]


def test_a_kind_that_is_none_is_a_fault_of_the_profile_with_all_its_others(quay: Quay) -> None:
    quay.beside("profiles/presser.toml", 'kind = "glos"\n[line]\nbaud_rate = "fast"\n')
    quay.write(BENCH + TILE + TRAP)
    profile = load_bench(quay.path, shipped=quay.shipped).instruments[0].profile
    with pytest.raises(SettingsError) as caught:
        Registry().family("line").needs(profile, "profile presser")
    paths = [fault.path for fault in caught.value.faults]
    assert {"kind", "line.baud_rate", "text", "message"} <= set(paths)


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ('serial_number = "A"', 'serial_number = "A"'),
        ('vid = "1a2b", pid = "0001"', 'vid = "0x1A2B", pid = "0001"'),
        ('vid = "1a2b", pid = "0001"', 'vid = "1a2b", pid = "0001", serial_number = "A"'),
        ('port = "/dev/ttyX0"', 'port = "/dev/../dev/ttyX0"'),
        ('url = "socket://10.0.0.1:4001"', 'url = "socket://10.0.0.1:4001"'),
    ],
)
def test_two_instruments_at_one_place_are_a_fault(quay: Quay, one: str, other: str) -> None:
    text = BENCH + TILE + TRAP
    text = text.replace('serial_number = "ADAPTER-1"', one)
    [fault] = quay.faults(text.replace('url = "socket://127.0.0.1:4001"', other))
    assert fault.startswith("instrument[1].link: got ")
    assert "wanted a device of its own: instrument[0] is at " in fault


@pytest.mark.parametrize("serial", ["JT-0001", "jt-0001"])
def test_two_instruments_of_a_kind_with_one_serial_number_are_a_fault(
    quay: Quay, serial: str
) -> None:
    text = (BENCH + TILE + TRAP).replace("ML-0002", serial)
    assert quay.faults(text) == [
        f"instrument[1].serial: got '{serial}', wanted the serial number that this instrument "
        "itself bears: instrument[0] (gloss) has this one"
    ]


def test_instruments_of_two_kinds_may_bear_one_serial_number(quay: Quay) -> None:
    text = (BENCH + TILE + TRAP).replace("ML-0002", "JT-0001")
    before, after = text.split('id = "mole"')
    faults = quay.faults(f'{before}id = "mole"{after.replace("gloss", "force", 1)}')
    # The profile and the policy are for gloss; nothing is said of the serial number.
    assert {fault.split(":")[0] for fault in faults} == {
        "instrument[1].profile",
        "instrument[1].policy",
    }


@pytest.mark.parametrize(
    ("link", "address"),
    [
        ('vid = "0x1A2B", pid = "00ff"', LinkAddress(identity={"vid": "1a2b", "pid": "00ff"})),
        (
            'vid = "1a2b", pid = "00ff", serial_number = "A"',
            LinkAddress(identity={"serial_number": "A", "vid": "1a2b", "pid": "00ff"}),
        ),
        ('port = "COM3"', LinkAddress(port="COM3")),
        ('url = "rfc2217://bench.local:4001"', LinkAddress(url="rfc2217://bench.local:4001")),
        ('url = "loop://"', LinkAddress(url="loop://")),
    ],
)
def test_a_device_is_found_in_one_of_three_ways(
    quay: Quay, link: str, address: LinkAddress
) -> None:
    quay.write((BENCH + TILE + TRAP).replace('serial_number = "ADAPTER-1"', link))
    assert load_bench(quay.path, shipped=quay.shipped).instruments[0].address == address


@pytest.mark.parametrize(
    ("link", "path"),
    [
        ("", "link"),
        ('port = "COM3", url = "loop://"', "link"),
        ('serial_number = "A", port = "COM3"', "link"),
        ('vid = "1a2b"', "link.pid"),
        ('pid = "1a2b"', "link.vid"),
        ("vid = 6001, pid = 403", "link.vid link.pid"),
        ('vid = "12345", pid = "0001"', "link.vid"),
        ('serial_number = " "', "link.serial_number"),
        ('port = "socket://127.0.0.1:1"', "link.port"),
        ('port = "/dev/tty\\u0000"', "link.port"),
        ('url = "127.0.0.1:4001"', "link.url"),
        ('url = "socket://127.0.0.1"', "link.url"),
        ('url = "socket://127.0.0.1:99999"', "link.url"),
        ('url = "spy:///dev/ttyX0"', "link.url"),
        ('url = "socket://[::1"', "link.url"),
        ('address = "COM3", port = "COM3"', "link.address"),
    ],
)
def test_a_link_that_says_too_little_or_too_much_is_a_fault(
    quay: Quay, link: str, path: str
) -> None:
    faults = quay.faults((BENCH + TILE + TRAP).replace('serial_number = "ADAPTER-1"', link))
    assert [fault.split(":")[0] for fault in faults] == [f"instrument[0].{p}" for p in path.split()]


@pytest.mark.parametrize(
    "store", [".", "..", "absent/quay.sqlite", "x" * 300 + "/q", "~nobody-here/q"]
)
def test_a_store_that_cannot_be_made_there_is_a_fault(quay: Quay, store: str) -> None:
    [fault] = quay.faults((BENCH + TILE + TRAP).replace("quay.sqlite", store))
    assert fault.startswith("bench.store: got ")


def test_a_store_that_would_be_no_regular_file_is_a_fault(quay: Quay) -> None:
    beside = quay.path.parent
    os.mkfifo(beside / "pipe")
    (beside / "circle").symlink_to("circle")
    (beside / "adrift").symlink_to(Path("absent") / "quay.sqlite")
    (beside / "ahead").symlink_to("later.sqlite")
    found = {}
    for name in ("pipe", "circle", "adrift", "/dev/null"):
        [found[name]] = quay.faults((BENCH + TILE + TRAP).replace("quay.sqlite", name))
    assert all(fault.startswith("bench.store: got '") for fault in found.values())
    assert [name for name in found if "no regular file" in found[name]] == [
        "pipe", "circle", "/dev/null",
    ]  # fmt: skip
    quay.write((BENCH + TILE + TRAP).replace("quay.sqlite", "ahead"))
    assert load_bench(quay.path, shipped=quay.shipped).store == beside / "ahead"


def test_a_name_that_leads_out_of_the_folder_is_no_profile(quay: Quay) -> None:
    text = (BENCH + TILE + TRAP).replace('profile = "presser"', 'profile = "../../presser"', 1)
    [fault] = quay.faults(text)
    assert fault.startswith("instrument[0].profile: got '../../presser', wanted 1 to 64 letters")


def test_a_missing_profile_or_policy_is_told_with_those_there_are(quay: Quay) -> None:
    (quay.shipped / "policies" / "sixty.toml").write_text(POLICY, encoding="utf-8")
    text = (
        (BENCH + TILE + TRAP).replace('"presser"', '"pressed"', 1).replace('"twenty"', '"ten"', 1)
    )
    assert quay.faults(text) == [
        "instrument[0].profile: got 'pressed', wanted a profile: 'presser'",
        "instrument[0].policy: got 'ten', wanted a policy: 'sixty' or 'twenty'",
    ]


def test_a_bench_file_that_is_no_toml_is_told_with_its_line(quay: Quay) -> None:
    [fault] = quay.faults("[bench]\nname = Quay\n")
    assert fault.startswith("line 2, column ")


def test_a_bench_without_instruments_is_a_fault(quay: Quay) -> None:
    assert quay.faults('[bench]\nname = "Quay"\nstore = "q.sqlite"\n') == [
        "instrument: got nothing, wanted one or more [[instrument]] tables"
    ]


def test_the_example_bench_fits_the_shipped_policies(tmp_path: Path) -> None:
    shutil.copytree(config_dir() / "policies", tmp_path / "policies")
    (tmp_path / "profiles").mkdir()
    for name in ("gloss-press", "gloss-asked"):
        (tmp_path / "profiles" / f"{name}.toml").write_text('kind = "gloss"\n', encoding="utf-8")
    bench = load_bench(config_dir() / "boatyard" / "bench.toml", shipped=tmp_path)
    assert [(i.id, i.serial, i.policy.channels) for i in bench.instruments] == [
        ("shore", "SH-0417", ("20",)),
        ("deck", "DK-2205", ("60",)),
    ]
    assert [piece.id for piece in bench.pieces] == ["T1", "T2", "Z0"]
