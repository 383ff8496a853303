"""`coatbench study` as a process: led through, broken off with Ctrl-C, gone on with, listed."""

from __future__ import annotations

import json
import signal
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.flow.served import Served
from tests.flow.terminal import Piped, do, make_ready
from tests.yard import TRIAL

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(sys.platform == "win32", reason="needs pseudo-terminals"),
]
# Around each level by 0.1, 0, -0.1, 0.2, -0.2: a standard deviation of 0.158, invented.
STEPS = (0.1, 0.0, -0.1, 0.2, -0.2)


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    with Served(tmp_path) as made:
        make_ready(made, checked=True)
        yield made


@pytest.fixture(scope="module")
def idle(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """One daemon for what begins no study."""
    with Served(tmp_path_factory.mktemp("idle")) as made:
        make_ready(made, checked=False)
        yield made


def press(served: Served, command: Piped, person: str, spots: int, level: float = 90.0) -> None:
    for spot in range(1, spots + 1):
        for k, step in enumerate(STEPS, 1):
            told = command.expect("next: ")
            assert f"next: zone spot-{spot} (as it is), {person}, replicate {k} of 5" in told
            served.wire.press(f"{level + spot + step:.1f}")
            command.expect("accepted: spot-")


def test_two_people_are_led_through_their_spots_over_ctrl_c_and_a_restart(
    served: Served,
) -> None:
    people = ("--by", "ines", "--by", "jonas")
    shape = ("--spots", "2", "--readings", "5", "--on", "gelcoat G2")
    with Piped(served.bench_file, "study", "meter-0", *people, *shape) as command:
        assert "ines reads. lift meter-0 off" in command.expect("ines reads")
        press(served, command, "ines", 1)
        command.expect("next: zone spot-2")
        command.process.send_signal(signal.SIGINT)
        status, out, _ = command.end()
    assert status == 130
    assert "study-1 stays open. Next: coatbench study --resume" in out
    status, out, _ = do(served, "study", "--list")
    assert "under way" in out
    assert "IN USE" not in out

    served.kill()
    served.start()
    served.check()
    # Whoever is led by the words on an interrupted run comes to the same place.
    with Piped(served.bench_file, "run", "--resume") as command:
        for k, step in enumerate(STEPS, 1):
            told = command.expect("next: ")
            assert f"spot-2 (as it is), ines, replicate {k} of 5" in told
            served.wire.press(f"{92 + step:.1f}")
            command.expect("accepted: spot-2")
        command.expect("jonas reads")
        press(served, command, "jonas", 2)
        status, out, err = command.end()
    assert (status, err) == (0, "")
    assert "study 1: Repeatability and reproducibility of meter-0, on gelcoat G2" in out
    # Four cells of the same steps: s_r is that of one, 0.158 to 0.16, with 4 x 4 degrees.
    assert "s_r     0.16 GU (repeatability, 16 degrees of freedom" in out
    assert "r       0.44 GU" in out
    assert "IN USE: 0.16 GU from study 1 of" in out
    assert "next: coatbench check meter-0 (the closing check" in out

    status, out, _ = do(served, "study", "--list", "--json")
    (entry,) = json.loads(out)
    assert (entry["serial"], entry["channel"], entry["in_use"]) == ("SN-0", "20", True)
    assert entry["people"] == ["ines", "jonas"]
    assert entry["s_r"] == pytest.approx(0.025**0.5)
    status, out, _ = do(served, "study", "--show", "1", "--want", "0.5")
    assert status == 0
    assert "to show a net change of 0.50 GU in 8 of 10 trials take 5 readings" in out
    status, _, err = do(served, "study", "--resume")
    assert status == 1
    assert "study 1, which has all its readings" in err

    plan = served.folder / "plan.toml"
    plan.write_text(TRIAL, encoding="utf-8")
    status, out, _ = do(served, "trial", "check", str(plan))
    assert status == 0
    assert "repeatability 0.16 GU from study 1 of" in out


def test_a_study_without_a_check_is_refused_with_the_next_step(idle: Served) -> None:
    status, out, err = do(idle, "study", "meter-0")
    assert (status, out) == (1, "")
    assert "meter-0 cannot start a run" in err
    assert "next    coatbench check meter-0" in err
    status, out, _ = do(idle, "study", "--list")
    assert status == 0
    assert "no study has been made. In use is the default" in out


def test_a_warm_up_study_goes_without_a_check_and_has_no_report(tmp_path: Path) -> None:
    with Served(tmp_path) as served:
        make_ready(served, checked=False)
        served.wire.press("90.0")  # an echo, so soon after the line was opened
        with Piped(
            served.bench_file, "study", "meter-0", "--warm-up", "--readings", "12"
        ) as command:
            assert "switch meter-0 on now, from cold" in command.expect("switch meter-0 on")
            taken = 0
            while taken < 12:
                served.wire.press(f"{90 + taken / 10:.1f}")
                line = command.expect("accepted")
                taken += "accepted: spot-1" in line
            status, out, _ = command.end()
        assert status == 1
        assert "600 s or more are wanted" in out
        assert "its readings count for no result of any trial" in out
        status, _, err = do(served, "report", "study-1")
        assert status == 1
        assert "study-1 is a warm-up study and has no report" in err


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        ((), "say an INSTRUMENT"),
        (("meter-0", "--list"), "say an INSTRUMENT"),
        (("--resume", "--json"), "--json goes with"),
        (("--list", "--spots", "3"), "goes with an INSTRUMENT"),
        (("meter-0", "--warm-up", "--by", "ines"), "of one spot"),
        (("meter-0", "--by", "in es"), "letters"),
        (("meter-0", "--by", "ines", "--by", "ines"), "each person once"),
    ],
)
def test_a_command_line_that_makes_no_sense_is_status_2(
    idle: Served, arguments: tuple[str, ...], told: str
) -> None:
    status, _, err = do(idle, "study", *arguments)
    assert status == 2
    assert told in err


def test_an_instrument_that_is_not_there_and_a_study_that_is_not_are_named(
    idle: Served,
) -> None:
    status, _, err = do(idle, "study", "deck")
    assert status == 1
    assert "the bench has no instrument 'deck'" in err
    status, _, err = do(idle, "study", "--show", "4")
    assert status == 1
    assert "a study; none has been made" in err
