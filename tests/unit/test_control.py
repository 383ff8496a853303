"""The control socket: loopback, token, one clear answer to everything."""

from __future__ import annotations

import json
import socket
import stat
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

import pytest

from acquire.control.calls import act_of
from acquire.control.client import Client
from acquire.control.door import Door, read_door, write_door
from acquire.control.server import ControlServer
from acquire.control.shapes import error_item, error_of, row_item
from acquire.errors import ControlError, Fault, NotFound, Refused, SettingsError
from acquire.hub import Hub
from acquire.store.rows import GapRow, NoiseRow
from acquire.supervise import Scope
from tests.yard import Yard

TOKEN = "a-token-of-the-test"


@contextmanager
def serving(hub: Hub | None = None) -> Iterator[Door]:
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
        server = ControlServer("127.0.0.1", 0, TOKEN, answer, hub or Hub(), scope.start)
        scope.start("control", server.run)
        try:
            yield Door(server.host, server.port, TOKEN, 1)
        finally:
            server.close()
    assert crashes == []


def raw(door: Door, data: bytes) -> dict[str, object]:
    with socket.create_connection((door.host, door.port), 5) as sock:
        sock.sendall(data)
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
    }
    assert tables[1]["raw"] == "\\xffok\n"


def test_a_client_that_hangs_up_at_once_harms_nobody() -> None:
    with serving() as door:
        for _ in range(40):
            socket.create_connection((door.host, door.port), 5).close()
        with Client(door) as client:
            assert client.call("status")["name"] == "status"


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
    for text in ("", "{}", '{"host": 1}', "null", '{"host": "h", "port": "x", "token": "t"}'):
        path.write_text(text)
        with pytest.raises(ControlError, match="cannot be understood"):
            read_door(path)


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
