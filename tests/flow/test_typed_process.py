"""A meter without a port beside one with a port: a real daemon, the piped command, the screen."""

from __future__ import annotations

import itertools
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from acquire.control.client import Client
from acquire.errors import NotFound, Refused
from acquire.store import StoreReader
from tests.flow.served import COATBENCH, GOOD_CHECK, Served
from tests.flow.terminal import OnTerminal, Piped, do, environment, new_trial
from tests.patience import PATIENCE_S

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="the other meter needs a terminal")

HAND = """
[[instrument]]
id = "hand"
kind = "gloss"
serial = "HN-0009"
driver = "keyed"
profile = "keyed-gloss-20"
policy = "gloss-20"
link = { typed = true }
"""
MUDDLE = """
[[instrument]]
id = "muddle"
kind = "gloss"
serial = "HN-0010"
driver = "line"
profile = "gloss-press"
policy = "gloss-20"
link = { typed = true }
"""

REFUSED = "wanted -1 to 200 (gloss unit). Next: look at the display and type it again"


class HandServed(Served):
    """A daemon of a bench with `hand` as well, and with one whose driver needs a port."""

    def start(self) -> None:
        text = self.bench_file.read_text("utf-8")
        if HAND not in text:
            self.bench_file.write_text(text + HAND + MUDDLE, "utf-8")
        super().start()


def await_hand(client: Client, items: Any) -> None:
    """Wait until the daemon takes entries; `items` are of a watch of the same daemon."""
    while not (hand := client.call("status")["instruments"][1])["connected"]:
        assert hand["message"] == "not connected yet", "it has no port to wait for"
        next(items)


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    with HandServed(tmp_path_factory.mktemp("hand")) as served:
        with served.client() as client, client.watch() as items:
            await_hand(client, items)
        yield served


def typed(served: Served, *text: str) -> tuple[int, str, str]:
    """One entry with the command, to its end."""
    return do(served, "type", "hand", *text)


def type_lines(served: Served, lines: str) -> subprocess.CompletedProcess[str]:
    """Entries with one command, a line each."""
    return subprocess.run(
        [COATBENCH, "--bench", str(served.bench_file), "type", "hand"],
        input=lines,
        capture_output=True,
        text=True,
        env=environment(),
        timeout=PATIENCE_S,
        check=False,
    )


def check(served: Served) -> None:
    with served.client() as client:
        client.call("begin_check", instrument="hand")
    twice = itertools.chain.from_iterable((value, value) for value in GOOD_CHECK)
    assert type_lines(served, "\n".join(twice) + "\n").returncode == 0


def begin_run(served: Served) -> str:
    trial = new_trial(served)
    check(served)
    with served.client() as client:
        status = client.call("status")
        if status["run"] is not None:
            client.call("finish_run")
        text = (served.folder / "trial.toml").read_text("utf-8")
        client.call("begin_run", text=text, source="trial.toml", stage="bare", instrument="hand")
    return trial


def test_a_typed_instrument_goes_from_check_to_report_by_commands(served: Served) -> None:
    with served.client() as client:
        client.call("begin_check", instrument="hand")
    lines = "".join(f"{value}\n{value}\n" for value in GOOD_CHECK)
    checked = type_lines(served, lines)
    assert checked.returncode == 0, checked.stderr
    told = checked.stdout.splitlines()
    assert told[:2] == [
        "typed once; look at the display again and type it once more",
        "91.4 GU at 20° accepted: piece T1 (reading 1)",
    ]
    trial = begin_run(served)
    assert typed(served, "80.1") == (
        0,
        "typed once; look at the display again and type it once more\n",
        "",
    )
    status, said, _ = typed(served, "80.1")
    assert status == 0
    assert said.startswith("80.1 GU at 20° accepted: A1 replicate 1, bare (reading ")
    number = said.rstrip(")\n").rpartition(" ")[2]
    with Piped(served.bench_file, "proof", number) as command:
        status, proof, _ = command.end()
    assert status == 0
    assert "typed by hand as '80.1'" in proof
    assert "PROVED: the tape" in proof
    with Piped(served.bench_file, "export", trial) as command:
        _, exported, _ = command.end()
    head, row = exported.splitlines()
    assert dict(zip(head.split(","), row.split(","), strict=True))["typed"] == "1"
    page = served.folder / "page.html"
    with Piped(served.bench_file, "report", trial, "--out", str(page)) as command:
        assert command.end()[::2] == (0, "")
    assert "typed: 80.1" in page.read_text("utf-8")


def test_what_is_not_accepted_is_status_1_with_got_and_wanted(served: Served) -> None:
    status, said, err = typed(served, "801")
    assert (status, said) == (1, f"not accepted: got 801, {REFUSED}\n")
    assert err == ""
    status, said, err = typed(served, "9½")
    assert (status, said) == (1, "")
    assert "nothing was typed in" in err
    assert "wanted" in err
    assert "next" in err
    status, said, _ = typed(served, "-5")
    assert said == f"not accepted: got -5, {REFUSED}\n"


def test_one_bad_line_among_several_does_not_end_the_rest(served: Served) -> None:
    done = type_lines(served, "80.1\n\n８\n80.1\n801\n")
    assert done.returncode == 1
    assert "nothing was typed in" in done.stderr
    assert done.stdout.count("typed once") == 1
    assert "80.1 GU at 20°" in done.stdout
    assert "not accepted: got 801" in done.stdout


def test_the_word_adjusted_ends_the_pass_and_the_run_waits(served: Served) -> None:
    begin_run(served)
    status, said, _ = typed(served, "adjusted")
    assert status == 0
    assert said.endswith("Next: coatbench check hand\n")
    typed(served, "80.1")
    status, said, _ = typed(served, "80.1")
    assert status == 1
    assert "not accepted (reading " in said
    assert "no valid check: hand was re-adjusted" in said


def test_an_instrument_with_a_port_and_one_that_is_not_there_take_no_entry(served: Served) -> None:
    with served.client() as client:
        with pytest.raises(Refused, match="nothing can be typed for meter-0") as caught:
            client.call("type", instrument="meter-0", text="91.4")
        assert caught.value.reason == "has a port"
        with pytest.raises(NotFound, match="no working instrument 'nobody'"):
            client.call("type", instrument="nobody", text="91.4")


def test_a_driver_and_a_link_that_do_not_go_together_are_told_and_the_others_go_on(
    served: Served,
) -> None:
    assert "2 of 3 instruments" in served.said
    with served.client() as client:
        with pytest.raises(Refused, match="the driver and the link") as e:
            client.call("type", instrument="muddle", text="91.4")
        assert e.value.reason == "no driver"


def test_typing_on_the_screen_of_a_run(served: Served) -> None:
    begin_run(served)
    with OnTerminal(served.bench_file, "run", "--resume", columns=100) as screen:
        screen.expect("type what hand shows")
        screen.press_keys("80.")
        screen.expect("hand shows: 80._")
        screen.press_keys("1\r")
        screen.expect("Typed once; look at the display again")
        screen.press_keys("80.1\r")
        screen.expect("accepted: A1 replicate 1")
        screen.press_keys("801\r")
        screen.expect("not accepted: got 801, wanted -1 to 200 (gloss unit)")
        # One for the reading, and the first of two for what was not accepted.
        assert screen.raw.count("\a") >= 2
        screen.press_keys("81\x1b")
        screen.expect("nothing was changed")
        screen.press_keys("q")
        assert screen.end() == 0


def test_what_was_told_as_accepted_is_in_the_store_after_a_kill(tmp_path: Path) -> None:
    with HandServed(tmp_path) as own:
        with own.client() as client, client.watch() as items:
            await_hand(client, items)
        typed(own, "80.1")
        _, said, _ = typed(own, "80.1")
        assert "80.1 GU at 20°" in said
        typed(own, "80.2")
        own.kill()
        with StoreReader(own.store) as store:
            assert [row["value"] for row in store.rows("SELECT value FROM readings")] == ["80.1"]
        own.start()
        with own.client() as client, client.watch() as items:
            await_hand(client, items)
        # The first entry of before the kill waits for nothing any more.
        assert "typed once" in typed(own, "80.2")[1]
