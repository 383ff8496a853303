"""The transmission head on the bus: class framing, status, commands and light.

Bytes are those that `drivers/usbtmc/WIRE.md` works out by hand from USBTMC 1.00, USB488 1.00,
IEEE 488.2 and SCPI-1999; the host here is pyusb and a few lines, no driver of ours.
"""

from __future__ import annotations

import errno
import math
import struct
from typing import Any

import pytest
import usb.core

from simulators.usb.backend import SimulatedBackend
from simulators.usb.faults import Spoilt, drawn
from simulators.usb.light import BLANK, OPEN, SHUTTER, Film, Grid, Slide
from simulators.usb.tmc import BULK_IN, BULK_OUT, INTERRUPT_IN, Capabilities
from simulators.usb.transmission import TransmissionHead, transmission_head
from simulators.usb.waiting import HurriedWaiting


class Host:
    """A head on a bus, and a host that speaks the class to it."""

    def __init__(self, waiting: HurriedWaiting | None = None, **how: Any) -> None:
        waiting = waiting or HurriedWaiting()
        self.backend = SimulatedBackend(waiting)
        self.head: TransmissionHead = transmission_head(
            "LG-0093", seed=7, now_s=waiting.now_s, **how
        )
        self.backend.plug(self.head)
        self.dev = usb.core.find(backend=self.backend)
        self.tag = 0

    def out(self, data: bytes | str) -> None:
        self.dev.write(BULK_OUT, bytes.fromhex(data) if isinstance(data, str) else data)

    def into(self, limit: int = 4096) -> bytes:
        return bytes(self.dev.read(BULK_IN, limit, 1000))

    def say(self, text: str, eom: bool = True) -> None:
        self.tag = self.tag % 255 + 1
        data = text.encode()
        head = struct.pack("<BBBBIB3x", 1, self.tag, self.tag ^ 0xFF, 0, len(data), eom)
        self.out(head + data + bytes(-len(data) % 4))

    def request(self, limit: int = 4096, term: int | None = None) -> int:
        self.tag = self.tag % 255 + 1
        ends = (0, 0) if term is None else (2, term)
        self.out(struct.pack("<BBBBIBBxx", 2, self.tag, self.tag ^ 0xFF, 0, limit, *ends))
        return self.tag

    def answer(self, limit: int = 4096) -> bytes:
        """A whole response, over as many transfers as it takes."""
        whole = b""
        while True:
            tag = self.request(limit)
            transfer = self.into()
            kind, got, inverse, _, size, attributes = struct.unpack_from("<BBBBIB", transfer)
            assert (kind, got, inverse) == (2, tag, tag ^ 0xFF)
            assert len(transfer) == 12 + size
            whole += transfer[12:]
            if attributes & 1:
                return whole

    def ask(self, text: str) -> bytes:
        self.say(text)
        return self.answer()

    def status(self, tag: int = 2) -> bytes:
        answer = bytes(self.dev.ctrl_transfer(0xA1, 128, tag, 0, 3))
        assert answer == bytes((1, tag, 0))
        return bytes(self.dev.read(INTERRUPT_IN, 2, 100))

    def control(self, kind: int, request: int, value: int, index: int, length: int) -> bytes:
        return bytes(self.dev.ctrl_transfer(kind, request, value, index, length))

    def press(self) -> None:
        assert self.head.press()
        self.backend.waiting.wait(None, 0.3)  # type: ignore[arg-type]

    def spectrum(self, text: str = "FETC?") -> tuple[int, list[float]]:
        count, _, rest = self.ask(text).partition(b",")
        digits = rest[1] - 48
        length = int(rest[2 : 2 + digits])
        data = rest[2 + digits : -1]
        assert len(data) == length
        return int(count), list(struct.unpack(f">{length // 4}f", data))


@pytest.fixture
def host() -> Host:
    return Host()


def test_the_device_is_of_the_test_and_measurement_class(host: Host) -> None:
    (interface,) = host.dev[0]
    codes = (
        interface.bInterfaceClass,
        interface.bInterfaceSubClass,
        interface.bInterfaceProtocol,
    )
    assert codes == (0xFE, 0x03, 0x01)
    assert host.dev.serial_number == "LG-0093"


def test_capabilities_are_those_of_the_page(host: Host) -> None:
    got = host.control(0xA1, 7, 0, 0, 24)
    assert got == bytes.fromhex("010000010000 000000000000 0001 04 04 0000000000000000")
    with pytest.raises(usb.core.USBError) as error:
        host.control(0xA1, 64, 0, 0, 1)
    assert error.value.errno == errno.EPIPE


def test_the_worked_identification(host: Host) -> None:
    host.out("01 01 fe 00  06 00 00 00  01 00 00 00  2a 49 44 4e 3f 0a 00 00")
    host.out("02 02 fd 00  00 08 00 00  00 00 00 00")
    assert host.into() == bytes.fromhex(
        "02 02 fd 00 26 00 00 00 01 00 00 00"
        "53 4c 49 50 57 41 59 20 4f 50 54 49 43 53 2c 4c 49 47 48 54 20 47 41 54 45"
        "2c 4c 47 2d 30 30 39 33 2c 31 2e 32 0a"
    )


def test_the_worked_service_request(host: Host) -> None:
    host.say("*SRE 1")
    host.press()
    assert bytes(host.dev.read(INTERRUPT_IN, 2, 100)) == bytes.fromhex("81 41")
    assert host.status(2) == bytes.fromhex("82 41")
    assert host.status(3) == bytes.fromhex("83 01"), "the request is withdrawn once it was polled"
    assert host.control(0xA1, 128, 1, 0, 3) == bytes((0x80, 1, 0))


def test_numbers_are_packed_as_the_page_works_them_out() -> None:
    head = Host().head.head
    head._spectrum, head._spectrum_count = [50.0, 25.0], 7
    for format_, order, wanted in [
        ("REAL,32", "SWAP", "37 2c 23 31 38 00 00 48 42 00 00 c8 41 0a"),
        ("REAL,32", "NORM", "37 2c 23 31 38 42 48 00 00 41 c8 00 00 0a"),
        ("INT,16", "SWAP", "37 2c 23 31 34 88 13 c4 09 0a"),
    ]:
        head.hear(f"FORM {format_};FORM:BORD {order};FETC?\n".encode())
        assert head.response == bytes.fromhex(wanted)
        head.fetched()


def test_a_long_response_goes_over_several_transfers_that_end_in_short_packets(
    host: Host,
) -> None:
    host.press()
    host.say("FETC?")
    sizes, ends = [], []
    while not ends or not ends[-1]:
        host.request()
        transfer = host.into()
        sizes.append(len(transfer) - 12)
        ends.append(transfer[8] & 1)
    # "1,#44404", 4 x 1101 bytes and a line feed.
    assert sizes == [2048, 2048, 8 + 4404 + 1 - 4096]
    assert ends == [0, 0, 1]


def test_a_transfer_of_whole_packets_is_followed_by_an_empty_one(host: Host) -> None:
    host.press()
    host.say("FETC?")
    host.request(limit=52)  # 12 + 52 bytes are one full packet
    assert len(bytes(host.dev.read(BULK_IN, 64))) == 64
    assert bytes(host.dev.read(BULK_IN, 64)) == b""


def test_a_message_in_pieces_is_one_message(host: Host) -> None:
    host.say("*ID", eom=False)
    host.say("N?\n")
    assert host.answer().startswith(b"SLIPWAY")


def test_a_message_may_fill_its_last_packet(host: Host) -> None:
    host.say("*ESE 0;" + "*OPC?;" * 7 + "\n\n\n")  # 12 + 52 bytes
    assert host.answer() == b"1;1;1;1;1;1;1\n"


def test_several_commands_in_one_message_are_answered_in_one(host: Host) -> None:
    assert host.ask("coun?;*opc?;wav?") == b"0;1;300.0,1.0,1101\n"


def test_wrong_commands_are_errors_in_a_queue_that_ends(host: Host) -> None:
    host.say("VOLT?;*ESE 256;FORM INT,8")
    assert host.ask("SYST:ERR?") == b'-113,"Undefined header"\n'
    assert host.ask("*ESR?") == b"176\n"  # 128 power-on + 32 command + 16 execution
    assert host.ask("SYST:ERR?") == b'-222,"Data out of range"\n'
    assert host.ask("SYST:ERR?;SYST:ERR?") == b'-222,"Data out of range";0,"No error"\n'
    for _ in range(12):
        host.say("X")
    entries = [host.ask("SYST:ERR?") for _ in range(11)]
    assert entries[8:] == [
        b'-113,"Undefined header"\n',
        b'-350,"Queue overflow"\n',
        b'0,"No error"\n',
    ]


def test_a_message_that_is_too_long_is_not_done(host: Host) -> None:
    host.say("*ESE 1;" + " " * 250)
    assert host.ask("*ESE?;SYST:ERR?") == b'0;-223,"Too much data"\n'


def test_a_response_that_nobody_fetched_is_thrown_away(host: Host) -> None:
    host.say("*IDN?")
    assert host.ask("*OPC?;SYST:ERR?;*ESR?") == b'1;-410,"Query INTERRUPTED";132\n'


def test_a_response_thrown_away_is_not_sent_later(host: Host) -> None:
    host.say("*IDN?")
    host.say("*SRE 0")
    host.request()
    with pytest.raises(usb.core.USBTimeoutError):
        host.into()


def test_a_request_with_nothing_to_answer_waits_and_can_be_aborted(host: Host) -> None:
    tag = host.request()
    with pytest.raises(usb.core.USBTimeoutError):
        host.into()
    assert host.control(0xA2, 3, tag + 1, BULK_IN, 2) == bytes((0x81, tag))
    assert host.control(0xA2, 3, tag, BULK_IN, 2) == bytes((0x01, tag))
    assert host.control(0xA2, 4, 0, BULK_IN, 8)[0] == 0x02
    assert host.into() == b""
    assert host.control(0xA2, 4, 0, BULK_IN, 8) == bytes.fromhex("01000000 00000000")
    assert host.control(0xA2, 3, tag, BULK_IN, 2) == bytes((0x80, tag))
    assert host.ask("*OPC?") == b"1\n"


def test_an_abort_in_mid_response_says_how_much_was_sent(host: Host) -> None:
    host.press()
    host.say("FETC?")
    tag = host.request()
    host.dev.read(BULK_IN, 128)
    assert host.control(0xA2, 3, tag, BULK_IN, 2) == bytes((0x01, tag))
    assert host.into() == b""
    assert host.control(0xA2, 4, 0, BULK_IN, 8)[4:] == (128 - 12).to_bytes(4, "little")
    assert host.ask("*OPC?;SYST:ERR?") == b'1;0,"No error"\n'


def test_an_abort_of_a_transfer_out_is_never_under_way(host: Host) -> None:
    assert host.control(0xA2, 1, 5, BULK_OUT, 2) == bytes((0x80, 5))


def test_clear_throws_everything_away_and_halts_the_way_out(host: Host) -> None:
    host.say("*IDN?")
    assert host.control(0xA1, 5, 0, 0, 1) == b"\x01"
    assert host.control(0xA1, 6, 0, 0, 2) == b"\x01\x00"
    with pytest.raises(usb.core.USBError) as error:
        host.say("*OPC?")
    assert error.value.errno == errno.EPIPE
    host.dev.clear_halt(BULK_OUT)
    assert host.ask("*OPC?;SYST:ERR?") == b'1;0,"No error"\n'


@pytest.mark.parametrize(
    "wrong",
    [
        "03 01 fe 00 00000000 00000000",  # no MsgID of the class
        "01 01 ff 00 00000000 00000000",  # not the inverse
        "01 00 ff 00 00000000 00000000",  # tag 0
        "01 01 fe 00 0600",  # too short for a head
        "01 01 fe 00 06000000 01000000 2a49444e3f0a",  # not filled up to four
    ],
)
def test_what_is_no_message_of_the_class_halts_both_pipes(host: Host, wrong: str) -> None:
    with pytest.raises(usb.core.USBError) as error:
        host.out(wrong)
    assert error.value.errno == errno.EPIPE
    with pytest.raises(usb.core.USBError) as error:
        host.into()
    assert error.value.errno == errno.EPIPE
    host.dev.clear_halt(BULK_OUT)
    host.dev.clear_halt(BULK_IN)
    assert host.ask("*OPC?") == b"1\n"


def test_what_the_head_can_beyond_the_page_is_said_in_its_capabilities() -> None:
    host = Host(capabilities=Capabilities(indicator=True, term_char=True))
    assert host.control(0xA1, 7, 0, 0, 24)[4:6] == b"\x04\x01"
    assert host.control(0xA1, 64, 0, 0, 1) == b"\x01"
    host.say("*IDN?")
    host.request(term=ord(","))
    assert host.into()[8:] == b"\x02\0\0\0SLIPWAY OPTICS,"
    host.request()
    assert host.into()[8:] == b"\x01\0\0\0LIGHT GATE,LG-0093,1.2\n"


# -- measuring ---------------------------------------------------------------------------------


def test_a_press_takes_its_time_and_counts(host: Host) -> None:
    assert host.head.press()
    assert not host.head.press(), "it is measuring"
    assert host.status()[1] == 0
    host.backend.waiting.wait(None, 0.3)  # type: ignore[arg-type]
    assert host.status()[1] == 1
    count, percent = host.spectrum()
    assert (count, len(percent)) == (1, 1101)
    assert host.status()[1] == 0, "it has been fetched"


def test_before_the_first_press_there_is_no_spectrum(host: Host) -> None:
    assert host.ask("FETC?;FETC:BAND?;COUN?") == b"0,#10;0;0\n"


def test_a_measurement_can_be_asked_for(host: Host) -> None:
    assert host.spectrum("READ?")[0] == 1
    host.say("INIT")
    assert host.ask("COUN?") == b"2\n"
    assert host.ask("READ:BAND?").startswith(b"3,")


def test_a_request_is_taken_while_the_head_measures_and_a_message_waits(host: Host) -> None:
    host.say("READ:BAND?")
    host.request()
    host.tag += 1
    head = struct.pack("<BBBBIB3x", 1, host.tag, host.tag ^ 0xFF, 0, 4, 1)
    with pytest.raises(usb.core.USBTimeoutError):
        host.dev.write(BULK_OUT, head + b"*CLS", 100)
    assert host.into()[12:].startswith(b"1,")
    host.say("*CLS")


def test_a_press_that_fails_leaves_the_spectrum_and_is_an_error(host: Host) -> None:
    host.press()
    host.head.upset(lamp_works=False)
    host.press()
    assert host.ask("SYST:ERR?;COUN?;*ESR?") == b'101,"Lamp;2";2;136\n'
    host.head.upset(covered=False)
    host.say("READ?")
    host.request()
    with pytest.raises(usb.core.USBTimeoutError):
        host.into()
    host.control(0xA2, 3, host.tag, BULK_IN, 2)
    host.into()
    assert host.ask("SYST:ERR?") == b'102,"Cover open;3"\n'
    assert host.spectrum()[0] == 1


def test_a_readjusted_head_says_so(host: Host) -> None:
    host.say("*SRE 2")
    host.head.adjust()
    assert bytes(host.dev.read(INTERRUPT_IN, 2, 100)) == b"\x81\x42"
    assert host.ask("ADJ?;*STB?") == b"1;0\n"


def test_reset_and_power_bring_the_formats_back(host: Host) -> None:
    host.say("FORM INT,16;FORM:BORD SWAP;*RST")
    assert host.ask("WAV:GRID?")[:6] == b"#44404"
    host.head.unplug()
    host.backend.plug(host.head)
    host.dev = usb.core.find(backend=host.backend)
    assert host.ask("*ESR?;COUN?") == b"128;0\n"


def test_the_open_beam_is_a_hundred_and_the_dark_is_nothing(host: Host) -> None:
    for slide, wanted in ((OPEN, 100.0), (SHUTTER, 0.0), (Slide("grey", 0.5, 0), 50.0)):
        host.head.lay(slide)
        host.press()
        _, percent = host.spectrum()
        visible = percent[80:580]  # 380 to 880 nm
        assert sum(visible) / len(visible) == pytest.approx(wanted, abs=0.05)
        assert max(abs(p - wanted) for p in visible) < 3.0
        assert len(set(visible)) > 100, "there is noise"


def test_glass_has_an_edge_and_a_film_adds_its_own(host: Host) -> None:
    def at(percent: list[float], nm: float) -> float:
        middle = round(nm - 300.0)
        return sum(percent[middle - 1 : middle + 2]) / 3

    host.head.lay(BLANK)
    host.press()
    _, blank = host.spectrum()
    assert at(blank, 302) < 3
    assert at(blank, 320) == pytest.approx(46, abs=1)
    assert at(blank, 550) == pytest.approx(92, abs=0.5)
    host.head.lay(Slide("coated", film=Film(1.01, 380.0)))
    host.press()
    _, coated = host.spectrum()
    assert at(coated, 340) < 1
    assert at(coated, 600) / at(blank, 600) == pytest.approx(1.01, abs=0.005)


def test_bands_are_means_with_two_decimals_or_no_number() -> None:
    host = Host(grid=Grid(300.0, 1.0, 512))
    host.head.lay(Slide("grey", 0.5, 0))
    count, violet, visible, infrared = host.ask("READ:BAND?").decode().strip().split(",")
    assert (count, infrared) == ("1", "9.91E37")
    assert float(violet) == pytest.approx(50, abs=0.5)
    assert len(visible.partition(".")[2]) == 2
    host.head.head.beam.lamp = 1.5
    host.head.lay(OPEN)
    assert host.ask("READ:BAND?").split(b",")[2] == b"9.9E37"
    _, percent = host.spectrum()
    assert math.inf in percent


def test_a_lamp_that_ages_reads_low_until_it_is_adjusted(host: Host) -> None:
    host.head.head.beam.lamp_per_press = 0.99
    for _ in range(5):
        host.press()
    aged = float(host.ask("FETC:BAND?").split(b",")[2])
    assert aged == pytest.approx(100 * 0.99**4, abs=0.1)
    host.head.adjust()
    host.press()
    assert float(host.ask("FETC:BAND?").split(b",")[2]) == pytest.approx(100, abs=0.1)


def test_the_same_seed_gives_the_same_light_and_another_another(host: Host) -> None:
    other, third = Host(), Host()
    third.head.head.beam._seed = "8|LG-0093"
    for one in (host, other, third):
        one.press()
    assert host.spectrum() == other.spectrum()
    assert host.ask("FETC?") != third.ask("FETC?")


@pytest.mark.parametrize("points", [256, 4096])
def test_spectra_of_any_length_arrive_whole(points: int) -> None:
    host = Host(grid=Grid(250.0, 0.25, points))
    host.press()
    assert len(host.spectrum()[1]) == points
    assert host.ask("WAV?") == b"250.0,0.25,%d\n" % points


def test_a_spectrum_shorter_than_any_is_refused() -> None:
    with pytest.raises(ValueError, match="256 to 4096"):
        transmission_head("LG-0093", seed=1, grid=Grid(points=255))


# -- faults ------------------------------------------------------------------------------------


def spoilt(host_seed: int = 0, share: float = 0.0) -> tuple[Host, Spoilt]:
    waiting = HurriedWaiting()
    made: list[Spoilt] = []

    def spoil(behaviour: Any) -> Any:
        made.append(Spoilt(behaviour, waiting.now_s, draw=drawn(host_seed, share)))
        return made[0]

    host = Host(waiting, spoilt=spoil)
    made[0].unplug = host.head.unplug
    return host, made[0]


def test_each_fault_befalls_the_packet_it_waits_for() -> None:
    host, faults = spoilt()
    whole = b"SLIPWAY OPTICS,LIGHT GATE,LG-0093,1.2\n"

    def answer(*kinds: str) -> bytes:
        faults.add(BULK_IN, *kinds)
        host.say("*IDN?")
        host.request()
        return host.into()

    assert answer("short") == host_bytes(host, whole)[:25]
    wrong = answer("wrong_tag")
    assert wrong[1] ^ wrong[2] != 0xFF
    assert answer("duplicate") == host.into()
    began_s = host.backend.waiting.now_s()
    assert answer("slow")[12:] == whole
    assert host.backend.waiting.now_s() - began_s >= 0.5
    with pytest.raises(usb.core.USBTimeoutError):
        answer("drop")
    host.control(0xA1, 5, 0, 0, 1)
    host.dev.clear_halt(BULK_OUT)
    with pytest.raises(usb.core.USBError) as error:
        answer("stall")
    assert error.value.errno == errno.EPIPE
    host.dev.clear_halt(BULK_IN)
    assert host.into()[12:] == whole
    with pytest.raises(usb.core.USBError) as error:
        answer("unplug")
    assert error.value.errno == errno.ENODEV
    assert [kind for _, kind in faults.suffered] == [
        "short", "wrong_tag", "duplicate", "slow", "drop", "stall", "unplug",
    ]  # fmt: skip
    with pytest.raises(ValueError, match="wanted some of"):
        faults.add(BULK_IN, "gremlin")


def host_bytes(host: Host, message: bytes) -> bytes:
    tag = host.tag
    return struct.pack("<BBBBIB3x", 2, tag, tag ^ 0xFF, 0, len(message), 1) + message


def test_faults_drawn_by_a_seed_are_the_same_every_time() -> None:
    def run(seed: int) -> list[tuple[int, str]]:
        host, faults = spoilt(seed, 0.3)
        for _ in range(20):
            try:
                host.ask("*OPC?")
            except (usb.core.USBError, AssertionError, struct.error):
                if not host.head.plugged:
                    break
                host.control(0xA1, 5, 0, 0, 1)
                host.dev.clear_halt(BULK_OUT)
                host.dev.clear_halt(BULK_IN)
        return faults.suffered

    assert run(1) == run(1)
    assert run(1) != run(2)
