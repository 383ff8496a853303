"""The control socket: loopback, token, one clear answer to everything."""

from __future__ import annotations

import json
import os
import socket
import stat
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, closing, contextmanager, suppress
from dataclasses import replace
from functools import partial
from pathlib import Path

import pytest

from acquire.clock import Clock, ManualClock
from acquire.control.calls import act_of
from acquire.control.client import Client
from acquire.control.door import (
    LARGEST_BYTES,
    Door,
    door_path,
    read_door,
    remove_door,
    write_door,
)
from acquire.control.places import LOBBY_PLACES, LOBBY_S, SEATS
from acquire.control.server import STRANGER_LINE_BYTES, ControlServer
from acquire.control.shapes import row_item
from acquire.control.troubles import error_item, error_of
from acquire.daemon import running_daemon
from acquire.errors import ControlError, Fault, NotFound, Refused, SettingsError
from acquire.hub import Hub
from acquire.store.rows import GapRow, NoiseRow
from acquire.supervise import Scope
from tests.yard import Yard, bench

TOKEN = "a-token-of-the-test"

Spawn = Callable[[Scope, str, Callable[[], None]], object]


@contextmanager
def serving(
    hub: Hub | None = None,
    clock: Clock | None = None,
    pause: Callable[[float], object] | None = None,
    spawn: Spawn | None = None,
) -> Iterator[Door]:
    def answer(name: str, arguments: Mapping[str, object]) -> dict[str, object]:
        if name == "stumble":
            raise RuntimeError("a fault of the program")
        if name == "refuse":
            raise Refused(
                "not now", reason="because", got="a", wanted="b", next_step="wait for the tide"
            )
        return {"name": name, "arguments": dict(arguments)}

    crashes: list[BaseException] = []
    with Scope(lambda name, error: crashes.append(error)) as scope:
        server = ControlServer(
            "127.0.0.1",
            0,
            TOKEN,
            answer,
            hub or Hub(),
            scope.start if spawn is None else partial(spawn, scope),
            clock=clock,
            pause=pause,
        )
        scope.start("control", server.run)
        try:
            yield Door(server.host, server.port, TOKEN, 1)
        finally:
            server.close()
    assert crashes == []


def raw(door: Door, data: bytes) -> dict[str, object]:
    with socket.create_connection((door.host, door.port), 5) as sock:
        sock.sendall(data)
        # Whoever was turned out before this has its answer all the same.
        with suppress(OSError):
            sock.shutdown(socket.SHUT_WR)
        with sock.makefile("rb") as file:
            line = file.readline()
    found = json.loads(line)
    assert isinstance(found, dict)
    return found


def test_a_call_comes_back_with_its_reply() -> None:
    with serving() as door, Client(door) as client:
        assert client.call("status", a="ü 😀") == {"name": "status", "arguments": {"a": "ü 😀"}}
        assert client.call("again") == {"name": "again", "arguments": {}}


def test_a_refusal_comes_back_with_all_its_parts() -> None:
    with serving() as door, Client(door) as client:
        with pytest.raises(Refused) as refusal:
            client.call("refuse")
        assert client.call("status")["name"] == "status"
    error = refusal.value
    assert (error.what, error.reason, error.got, error.wanted, error.next_step) == (
        "not now",
        "because",
        "a",
        "b",
        "wait for the tide",
    )


def test_a_fault_of_the_program_in_one_call_ends_nothing_else() -> None:
    with serving() as door, Client(door) as client:
        with pytest.raises(Refused, match="fault of the program"):
            client.call("stumble")
        assert client.call("status")["name"] == "status"


@pytest.mark.parametrize(
    "line",
    [
        b'{"call": "status"}\n',
        b'{"token": "wrong", "call": "status"}\n',
        b'{"token": null, "call": "status"}\n',
        b'{"token": ["a-token-of-the-test"], "call": "status"}\n',
        b'{"token": "\\ud800", "call": "status"}\n',
    ],
)
def test_without_the_token_nothing_is_told(line: bytes) -> None:
    with serving() as door:
        found = raw(door, line)
    assert found["ok"] is False
    assert "token" in str(found["error"])
    assert "reply" not in found


@pytest.mark.parametrize(
    "line",
    [b"not json\n", b"[1, 2]\n", b"\xff\xfe\n", b"[" * 100_000 + b"\n", b'{"token": \n'],
)
def test_a_line_that_is_no_call_gets_one_answer_and_harms_nobody(line: bytes) -> None:
    with serving() as door:
        assert raw(door, line)["ok"] is False
        with Client(door) as client:
            assert client.call("status")["name"] == "status"


def test_arguments_that_are_no_object_are_refused() -> None:
    with serving() as door:
        line = json.dumps({"token": TOKEN, "call": "status", "arguments": [1]}).encode() + b"\n"
        assert raw(door, line)["ok"] is False


def test_watchers_get_the_stored_rows_and_the_end() -> None:
    hub = Hub()
    with serving(hub) as door, Client(door) as client, client.watch() as items:
        hub.publish([GapRow(1, "shore", 0, 1, 2), NoiseRow(1, 1, 5, b"\xffok\n", 0, 4, "odd")])
        tables = []
        for item in items:
            if "table" in item:
                tables.append(item)
            if len(tables) == 2:
                break
    assert tables[0] == {
        "table": "gap",
        "id": 1,
        "instrument": "shore",
        "since_utc_ns": 0,
        "until_utc_ns": 1,
        "lost_bytes": 2,
        "place": 1,
    }
    assert tables[1]["raw"] == "\\xffok\n"


def test_a_client_that_hangs_up_at_once_harms_nobody() -> None:
    with serving() as door:
        for _ in range(40):
            socket.create_connection((door.host, door.port), 5).close()
        with Client(door) as client:
            assert client.call("status")["name"] == "status"


def connected(door: Door) -> socket.socket:
    """A stranger that has been let in: callers are accepted in the order in which they come."""
    sock = socket.create_connection((door.host, door.port), 5)
    Client(door).close()
    return sock


def test_a_stranger_that_drips_its_line_is_turned_out_in_good_time() -> None:
    clock = ManualClock()
    with serving(clock=clock) as door, connected(door) as stranger:
        stranger.sendall(b"{")
        clock.advance(LOBBY_S * 0.7)
        stranger.sendall(b" ")
        clock.advance(LOBBY_S * 0.7)
        assert stranger.recv(100) == b""


def test_a_stranger_that_pours_is_turned_out_before_its_line_ends() -> None:
    with serving() as door:
        found = raw(door, b'{"token": "' + b"x" * (STRANGER_LINE_BYTES + 100_000))
    assert "that line is no call" in str(found["error"])


def test_any_number_of_strangers_shut_nobody_out() -> None:
    with serving() as door, ExitStack() as held:
        address = (door.host, door.port)
        strangers = [
            held.enter_context(socket.create_connection(address, 5)) for _ in range(3 * SEATS)
        ]
        for _ in range(3):
            with Client(door) as client:
                assert client.call("void")["name"] == "void"
        # The oldest have given way.
        assert strangers[0].recv(100) == b""


def test_whoever_has_shown_the_token_may_be_silent_for_as_long_as_it_likes() -> None:
    clock = ManualClock()
    with serving(clock=clock) as door, Client(door) as client:
        clock.advance(1000 * LOBBY_S)
        with connected(door) as stranger:
            clock.advance(2 * LOBBY_S)
            assert stranger.recv(100) == b""
        assert client.call("void")["name"] == "void"


def test_status_and_stop_are_answered_when_every_seat_is_taken() -> None:
    with serving() as door, ExitStack() as held:
        seated = [held.enter_context(Client(door)) for _ in range(SEATS)]
        for _ in range(2 * LOBBY_PLACES):
            held.enter_context(connected(door))
        with Client(door) as late:
            assert late.call("status")["name"] == "status"
            assert late.call("stop")["name"] == "stop"
            with pytest.raises(Refused) as refusal:
                late.call("void")
            assert refusal.value.reason == "full"
            assert refusal.value.next_step
            with pytest.raises(Refused, match="no free place"), late.watch():
                pass
        assert [client.call("void")["name"] for client in seated] == ["void"] * SEATS


def test_a_place_that_was_left_goes_to_the_next() -> None:
    with serving() as door, ExitStack() as held:
        for _ in range(SEATS):
            held.enter_context(Client(door))
        held.pop_all().close()
        # The threads of those that have left may still be at it.
        for _ in range(1000):
            with Client(door) as late:
                try:
                    assert late.call("void")["name"] == "void"
                except Refused:
                    continue
                return
        pytest.fail("no place became free")


def test_a_system_without_a_free_handle_is_waited_for() -> None:
    resource = pytest.importorskip("resource")
    before = resource.getrlimit(resource.RLIMIT_NOFILE)
    waits: list[float] = []

    def pause(seconds: float) -> None:
        resource.setrlimit(resource.RLIMIT_NOFILE, before)
        waits.append(seconds)

    with serving(pause=pause) as door, closing(socket.socket()) as sock:
        sock.settimeout(5)
        lowest_free = os.dup(0)
        os.close(lowest_free)
        try:
            resource.setrlimit(resource.RLIMIT_NOFILE, (lowest_free, before[1]))
            sock.connect((door.host, door.port))
            sock.sendall(json.dumps({"token": TOKEN, "call": "status"}).encode() + b"\n")
            assert json.loads(sock.recv(1000))["ok"] is True
        finally:
            resource.setrlimit(resource.RLIMIT_NOFILE, before)
        with Client(door) as client:
            assert client.call("status")["name"] == "status"
    assert waits
    assert min(waits) > 0


def test_a_system_without_a_free_thread_costs_one_client_its_call() -> None:
    waits: list[float] = []
    refusals = iter([True])

    def spawn(scope: Scope, name: str, body: Callable[[], None]) -> None:
        if next(refusals, False):
            raise RuntimeError("can't start new thread")
        scope.start(name, body)

    with serving(pause=waits.append, spawn=spawn) as door:
        with pytest.raises(ControlError, match=r"hung up|does not answer"):
            Client(door)
        with Client(door) as client:
            assert client.call("status")["name"] == "status"
    assert len(waits) == 1


@pytest.mark.parametrize(
    "reply",
    [
        b"",
        b"HTTP/1.1 400 Bad Request\r\n\r\n",
        b"[]\n",
        b'{"ok": false, "error": "x"}\n',
        b'{"ok": false}\n',
        b'{"ok": [1], "error": null}\n',
        b"\xff\n",
        b"[" * 100_000 + b"\n",
    ],
)
def test_a_program_that_is_no_daemon_is_told_apart(reply: bytes) -> None:
    with (
        Scope(lambda name, error: None) as scope,
        closing(socket.create_server(("127.0.0.1", 0))) as listener,
    ):

        def answer() -> None:
            sock, _ = listener.accept()
            with sock:
                sock.recv(1000)
                sock.sendall(reply)

        scope.start("other program", answer)
        with pytest.raises(ControlError) as refusal:
            Client(Door("127.0.0.1", listener.getsockname()[1], TOKEN, 1))
    assert refusal.value.next_step


@pytest.mark.parametrize(
    "error",
    [
        {"kind": "SettingsError", "source": "x", "faults": 3},
        {"kind": "SettingsError", "source": "x", "faults": [1, [1, 2, 3], "abc", ["a"]]},
        {"kind": "Fault", "what": None},
        {"kind": ["Refused"]},
        {},
    ],
)
def test_an_error_with_odd_parts_is_still_an_error(error: dict[str, object]) -> None:
    assert str(error_of(error))


def test_only_this_computer_may_be_listened_to() -> None:
    with pytest.raises(ControlError, match="not on this computer"):
        ControlServer("0.0.0.0", 0, TOKEN, lambda n, a: {}, Hub(), lambda n, b: None)


def test_a_port_that_is_taken_is_named() -> None:
    with serving() as door, pytest.raises(ControlError, match=str(door.port)):
        ControlServer("127.0.0.1", door.port, TOKEN, lambda n, a: {}, Hub(), lambda n, b: None)


def test_the_door_file_is_for_its_user_alone_from_its_first_moment(tmp_path: Path) -> None:
    path = tmp_path / "s.sqlite.door"
    path.write_text("left over, readable by all")
    path.chmod(0o644)
    door = Door("127.0.0.1", 5, TOKEN, 9)
    write_door(path, door)
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert read_door(path) == door
    assert list(tmp_path.iterdir()) == [path]


def test_a_door_file_that_makes_no_sense_is_told(tmp_path: Path) -> None:
    path = tmp_path / "door"
    whole = {"host": "127.0.0.1", "port": 5, "token": TOKEN, "pid": 9}
    texts = [
        "", "{}", '{"host": 1}', "null", '{"host": "h", "port": "x", "token": "t"}', "\0\x1b[2J",
        "[" * 50_000, json.dumps(whole | {"port": 0}), json.dumps(whole | {"port": 70_000}),
        json.dumps(whole | {"port": 10**30}), json.dumps(whole | {"port": True}),
        json.dumps(whole)[:-1] + ', "port": 1e999}', json.dumps(whole | {"host": "192.0.2.7"}),
        json.dumps(whole | {"host": "quay.example"}), json.dumps(whole | {"token": None}),
        json.dumps(whole) + " " * LARGEST_BYTES,
    ]  # fmt: skip
    for text in texts:
        path.write_text(text)
        with pytest.raises(ControlError, match="cannot be understood") as refusal:
            read_door(path)
        assert refusal.value.got
        assert refusal.value.next_step
    path.write_bytes(b"\xff\xfe")
    with pytest.raises(ControlError, match="cannot be understood"):
        read_door(path)


def test_what_lies_in_the_place_of_the_door_file_is_named_and_left_there(tmp_path: Path) -> None:
    folder, pipe, loop = tmp_path / "folder", tmp_path / "pipe", tmp_path / "loop"
    folder.mkdir()
    os.mkfifo(pipe)
    loop.symlink_to(loop)
    for path in (folder, pipe, loop):
        with pytest.raises(ControlError, match=str(path)) as refusal:
            read_door(path)
        assert refusal.value.next_step
    with pytest.raises(ControlError, match="cannot be written"):
        write_door(folder, Door("127.0.0.1", 5, TOKEN, 9))
    remove_door(folder)
    remove_door(tmp_path / "none")
    assert folder.is_dir()


def test_a_daemon_whose_door_cannot_be_written_ends_with_that_word(tmp_path: Path) -> None:
    quiet = replace(bench(tmp_path / "quay.sqlite"), instruments=())
    door_path(quiet.store).mkdir()
    with pytest.raises(ControlError, match="cannot be written"), running_daemon(quiet):
        pass
    assert door_path(quiet.store).is_dir()


@pytest.mark.parametrize(
    "error",
    [
        NotFound("no zone", got="Q", wanted="A, B", next_step="name one"),
        ControlError("busy"),
        SettingsError("trial.toml", [Fault("zone[0].id", "''", "an id"), Fault("a", "b", "c")]),
    ],
)
def test_an_error_crosses_the_socket_whole(error: NotFound) -> None:
    again = error_of(json.loads(json.dumps(error_item(error))))
    assert type(again) is type(error)
    assert str(again) == str(error)


def test_a_row_crosses_the_socket_with_its_table() -> None:
    assert row_item(GapRow(1, "deck", 2, 3, 4))["table"] == "gap"


@pytest.mark.parametrize(
    ("name", "arguments"),
    [
        ("void", {"reading_id": 10**30, "reason": "x"}),
        ("void", {"reading_id": -1, "reason": "x"}),
        ("void", {"reading_id": 1, "reason": "\ud800"}),
        ("assign", {"reading_id": 1, "trial": "\ud800", "zone": "A", "stage": "b",
                    "replicate": 1, "reason": "x"}),
        ("note", {"text": "x", "trial": "\ud800"}),
        ("go_to", {"zone": "A1", "replicate": 2**70}),
        ("begin_run", {"text": "\ud800", "source": "x", "stage": "s", "instrument": "i"}),
    ],
)  # fmt: skip
def test_arguments_that_nothing_could_store_are_refused_at_the_door(
    name: str, arguments: dict[str, object], tmp_path: Path
) -> None:
    yard = Yard(tmp_path)
    with pytest.raises(SettingsError):
        act_of(yard.acts, name, arguments)
    yard.close()
