"""Tables of settings files: strictness, faults in words, rules on broken ground, TOML itself."""

from __future__ import annotations

import os
import socket
from collections.abc import Iterator
from contextlib import closing
from decimal import Decimal
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any, Literal

import pytest
from pydantic import AfterValidator, Field, field_validator, model_validator

from acquire.errors import Fault, SettingsError
from acquire.schema import (
    Id,
    Name,
    Number,
    Schema,
    Unsound,
    either,
    is_whole,
    load_text,
    load_toml,
    parse_toml,
    read,
    rule,
    show,
    sound,
    survey,
)


class Tide(StrEnum):
    EBB = "ebb"
    FLOOD = "flood"


def _even(value: int) -> int:
    if value % 2:
        raise ValueError("an even number")
    return value


class Berth(Schema):
    id: Id
    boat: Id
    depth_m: Annotated[Number, Field(gt=0, le=20)] | None = None


class Harbour(Schema):
    name: Name
    berths: Annotated[int, Field(ge=1, le=90)]
    lamps: Annotated[int, AfterValidator(_even)] = 2
    tide: Annotated[Tide, Field(strict=False)] = Tide.EBB
    side: Literal["port", "starboard"] = "port"
    wait_s: Annotated[float, Field(gt=0, lt=5)] = 1.0
    codes: dict[str, int] = Field(default_factory=dict)
    from_: str = Field(default="", alias="from")


class Boat(Schema):
    id: Id
    at_sea: bool = False


class Chart(Schema):
    harbour: Harbour
    boat: Annotated[list[Boat], Field(min_length=1)]
    berth: list[Berth]

    @rule
    def boats_are_known(self) -> Iterator[Fault]:
        known = [boat.id for boat in self.boat]
        for index, berth in sound(self.berth, "boat"):
            if berth.boat not in known:
                yield Fault(f"berth[{index}].boat", show(berth.boat), either(known))

    @rule
    def one_boat_at_sea(self) -> Iterator[Fault]:
        count = sum(boat.at_sea for boat in self.boat)
        if count != 1:
            yield Fault("boat", f"{count} at sea", "exactly one")


def _sound_table() -> dict[str, Any]:
    return {
        "harbour": {"name": "Old quay", "berths": 4, "from": "1840"},
        "boat": [{"id": "tern", "at_sea": True}, {"id": "skua"}],
        "berth": [{"id": "a", "boat": "tern", "depth_m": Decimal("2.50")}],
    }


def _faults(table: dict[str, Any], **changes: Any) -> dict[str, tuple[str, str]]:
    with pytest.raises(SettingsError) as caught:
        read(Chart, table | changes, "chart.toml")
    return {fault.path: (fault.got, fault.wanted) for fault in caught.value.faults}


def test_a_sound_table_becomes_a_frozen_model_with_the_digits_of_the_file() -> None:
    chart = read(Chart, _sound_table(), "chart.toml")
    assert str(chart.berth[0].depth_m) == "2.50"
    assert chart.harbour.from_ == "1840"
    assert is_whole(chart)
    with pytest.raises(ValueError, match="frozen"):
        chart.harbour.name = "New quay"


def test_every_fault_of_a_table_is_told_at_once_in_the_order_of_the_file() -> None:
    text = """
        [[boat]]
        id = "tern"
        size = 3

        [[boat]]
        id = "two words"

        [harbour]
        name = "Old\\u0007quay"
        berths = 91
        lamps = 3
        tide = "neap"
        side = 1
        wait_s = 5
        codes = {a = 1, "b c" = 1.5}

        [[berth]]
        id = "a"
        boat = "tern"
        depth_m = 0.0

        [lighthouse]
        berths = 4
    """
    with pytest.raises(SettingsError) as caught:
        read(Chart, parse_toml(text, "chart.toml"), "chart.toml")
    assert str(caught.value) == (
        "chart.toml has 12 faults:\n"
        "  boat: got 0 at sea, wanted exactly one\n"
        "  boat[0].size: got an unknown key, wanted no other keys than id, at_sea\n"
        "  boat[1].id: got 'two words', wanted 1 to 64 letters (A to Z), digits, dots, - or _, "
        "a letter or digit first\n"
        "  harbour.name: got 'Old\\x07quay', wanted a name on one line without control "
        "characters\n"
        "  harbour.berths: got 91, wanted a whole number from 1 to 90\n"
        "  harbour.lamps: got 3, wanted an even number\n"
        "  harbour.tide: got 'neap', wanted 'ebb' or 'flood'\n"
        "  harbour.side: got 1, wanted 'port' or 'starboard'\n"
        "  harbour.wait_s: got 5, wanted a number, more than 0 and less than 5\n"
        "  harbour.codes.'b c': got 1.5, wanted a whole number\n"
        "  berth[0].depth_m: got 0.0, wanted a number, more than 0 and at most 20\n"
        "  lighthouse: got an unknown key, wanted no other keys than harbour, boat, berth\n"
        "Next: mend chart.toml and try again"
    )


def test_a_rule_runs_beside_a_typo_that_is_none_of_its_business() -> None:
    table = _sound_table()
    table["berth"] = [
        {"id": "a b", "boat": "gull"},
        {"boat": "tern"},
        {"id": "c", "boat": "petrel"},
    ]
    assert _faults(table).keys() == {
        "berth[0].id",
        "berth[0].boat",
        "berth[1].id",
        "berth[2].boat",
    }


def test_a_rule_says_nothing_of_ground_that_is_not_sound() -> None:
    # The first boat's id is broken: whether berth a has a known boat cannot be told.
    faults = _faults(_sound_table(), boat=[{"id": 7, "at_sea": True}])
    assert faults == {"boat[0].id": ("7", "a short name in quotes")}


def test_a_mistyped_key_is_told_alone_and_not_with_what_its_default_would_break() -> None:
    faults = _faults(_sound_table(), boat=[{"id": "tern", "atsea": True}])
    assert faults == {"boat[0].atsea": ("an unknown key", "at_sea (the nearest key there is)")}
    faults = _faults(_sound_table(), berth=[{"id": "a", "baot": "tern"}])
    assert faults == {"berth[0].baot": ("an unknown key", "boat (the nearest key there is)")}


def test_a_field_with_a_fault_cannot_be_read_by_accident() -> None:
    model, faults = survey(Harbour, {"name": 3, "berths": 4}, "harbour")
    assert [fault.path for fault in faults] == ["harbour.name"]
    assert model.berths == 4
    assert not is_whole(model)
    with pytest.raises(Unsound):
        _ = model.name
    with pytest.raises(AttributeError):
        _ = model.no_such_field  # type: ignore[attr-defined]


def test_what_is_missing_is_told_with_what_it_should_be() -> None:
    assert _faults({}) == {
        "harbour": ("nothing", "a [harbour] table"),
        "boat": ("nothing", "one or more [[boat]] tables"),
        "berth": ("nothing", "one or more [[berth]] tables"),
    }


def test_a_key_in_the_wrong_table_is_told_where_it_belongs() -> None:
    assert _faults(_sound_table(), depth_m=3)["depth_m"] == ("an unknown key", "it under [[berth]]")


def test_a_key_of_another_table_is_not_taken_for_a_mistyped_one_of_this_table() -> None:
    table = _sound_table()
    table["harbour"]["berth"] = 3
    assert _faults(table)["harbour.berth"] == (
        "an unknown key",
        "it at the top, before any [table]; or berths here",
    )


@pytest.mark.parametrize("instead", [None, 3, "text", [], [1], True])
def test_a_value_in_place_of_a_table_is_one_fault(instead: object) -> None:
    faults = _faults(_sound_table(), harbour=instead)
    assert faults == {"harbour": (show(instead), "a table")}


def test_entries_that_are_no_tables_are_told_by_their_index() -> None:
    assert _faults(_sound_table(), boat=[{"id": "tern", "at_sea": True}, 3])["boat[1]"] == (
        "3",
        "a table",
    )


@pytest.mark.parametrize(
    ("value", "fits"),
    [(1, True), (True, False), ("1", False), (1.0, False), (Decimal(1), False), (None, False)],
)
def test_a_whole_number_is_a_whole_number_and_nothing_else(value: object, fits: bool) -> None:
    _, faults = survey(Harbour, {"name": "Quay", "berths": value})
    assert (not faults) is fits


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (Decimal("1.50"), "1.50"),
        (3, "3"),
        (0.1, "0.1"),
        (Decimal("1e3"), "1000"),
        (Decimal("-0.0"), "-0.0"),
    ],
)
def test_a_number_keeps_its_digits(value: object, text: str) -> None:
    class Scale(Schema):
        value: Number

    assert str(read(Scale, {"value": value}, "scale.toml").value) == text


def test_a_number_that_could_upset_a_sum_is_refused() -> None:
    class Scale(Schema):
        value: Number

    too_large = [10**5000, -(10**13), Decimal("1e999999")]
    too_fine = [Decimal("1e-13"), Decimal("1.0000000000000000000000001")]
    endless = [Decimal("nan"), Decimal("sNaN"), Decimal("inf"), float("nan")]
    for value in [*too_large, *too_fine, *endless, True, "1", None, [1]]:
        _, faults = survey(Scale, {"value": value})
        assert [fault.path for fault in faults] == ["value"]
        assert faults[0].wanted.startswith("a ")


@pytest.mark.parametrize(
    "name", ['say "aye"', "<b>&amp;</b>", "🦀 Strandkrabbe", "x" * 200, "שלום"]
)
def test_a_name_is_free_text(name: str) -> None:
    assert read(Harbour, {"name": name, "berths": 1}, "h.toml").name == name


@pytest.mark.parametrize(
    "name", ["", "  ", "x" * 201, "a\nb", "a\x00b", "a\x1b[2J", "a\u2028b", "a\u202eb", "a\ud800b"]
)
def test_a_name_that_would_break_a_line_is_refused(name: str) -> None:
    _, faults = survey(Harbour, {"name": name, "berths": 1})
    assert [fault.path for fault in faults] == ["name"]
    assert faults[0].got.isprintable()


def test_pydantic_validators_are_refused_with_the_way_out() -> None:
    with pytest.raises(TypeError, match=r"Eager.no_holes .* @rule"):

        class Eager(Schema):
            size: int

            @field_validator("size")
            @classmethod
            def no_holes(cls, value: int) -> int:
                return value

    with pytest.raises(TypeError, match=r"Hasty.all_there .* @rule"):

        class Hasty(Schema):
            @model_validator(mode="after")
            def all_there(self) -> Hasty:
                return self


def test_rules_are_inherited_and_can_be_replaced() -> None:
    class Strict(Chart):
        @rule
        def one_boat_at_sea(self) -> Iterator[Fault]:
            yield Fault("", "a chart", "none")

        @rule
        def twice(self) -> Iterator[Fault]:
            yield Fault("boat[0]", "a", "b")
            yield Fault("boat[1]", "c", "d")

    with pytest.raises(SettingsError) as caught:
        read(Strict, _sound_table(), "chart.toml", "annex")
    assert [fault.path for fault in caught.value.faults] == [
        "annex",
        "annex.boat[0]",
        "annex.boat[1]",
    ]


@pytest.mark.parametrize(
    ("value", "shown"),
    [
        (None, "nothing"),
        (True, "true"),
        ("a'b\n", '"a\'b\\n"'),
        ("x" * 99, "'" + "x" * 55 + "...'"),
        (2**200, "a whole number of 201 bits"),
        (Decimal("1.50"), "1.50"),
        ({}, "an empty table"),
        ({"a": 1}, "a table"),
        ([], "an empty list"),
        ([20, 45], "[20, 45]"),
        ([{}], "a list of 1 entry"),
        ([1] * 99, "a list of 99 entries"),
        (b"x", "a bytes"),
    ],
)
def test_a_value_is_shown_short_and_harmless(value: object, shown: str) -> None:
    assert show(value) == shown
    assert len(shown) <= 60


SYNTAX = [
    ("a = b\n", "line 1, column ", "'a = b'", 'a value: "text" in quotes, a number'),
    ("x = 1\na = [1,\n", "line 2", "the end of the file", "the rest of what was begun"),
    ("[a]\n[a]\n", "line 2, column ", "'[a]'", "each [table] once"),
    ("a = 1\na = 2\n", "line 2, column ", "'a = 2'", "each key once in a table"),
    ('a = "x\n', "line 1, column ", "'a = \"x'", "text closed by its quote on the same line"),
    ('a = "\\q"\n', "line 1, column ", None, "\\\\ for a backslash"),
    ("a = 2030-02-31\n", "line 1, column ", "'a = 2030-02-31'", "a date there is"),
    ("key\n", "line 1, column ", "'key'", "key = value"),
    ("a = 1 b = 2\n", "line 1, column ", "'a = 1 b = 2'", "one key = value on a line"),
]


@pytest.mark.parametrize(("text", "path", "got", "wanted"), SYNTAX)
def test_a_slip_in_the_toml_is_told_with_its_line(
    text: str, path: str, got: str | None, wanted: str
) -> None:
    with pytest.raises(SettingsError) as caught:
        parse_toml(text, "chart.toml")
    [fault] = caught.value.faults
    assert fault.path.startswith(path)
    assert got is None or fault.got == got
    assert fault.wanted.startswith(wanted)


@pytest.mark.parametrize("text", ["x = " + "[" * 5000, "x = " + "9" * 5000, "x = 1e" + "9" * 5000])
def test_text_made_to_choke_the_parser_is_a_fault_like_any_other(text: str) -> None:
    with pytest.raises(SettingsError):
        parse_toml(text, "chart.toml")


def test_line_ends_and_a_byte_order_mark_do_no_harm(tmp_path: Path) -> None:
    path = tmp_path / "chart.toml"
    path.write_bytes(b"\xef\xbb\xbfa = 1\r\nb = 1.50\r\n")
    assert load_toml(path) == {"a": 1, "b": Decimal("1.50")}
    assert load_text(path).encode() == path.read_bytes()


def test_a_file_that_cannot_be_read_says_why_and_what_next(tmp_path: Path) -> None:
    folder = tmp_path / "folder"
    folder.mkdir()
    latin = tmp_path / "latin.toml"
    latin.write_bytes("a = 1\nname = 'Bö'\n".encode("latin-1"))
    large = tmp_path / "large.toml"
    large.write_bytes(b"#" * 1_000_001)
    cases = {
        tmp_path / "none.toml": ("file: got no such file, wanted a TOML file", "that is there"),
        latin / "below.toml": ("file: got no such file, wanted a TOML file", "that is there"),
        folder: ("file: got a folder, wanted a TOML file", "give the path of a file"),
        latin: ("line 2: got the byte 0xf6, which is no UTF-8, wanted UTF-8 text", "as UTF-8"),
        large: ("file: got more than 1 MB, wanted at most 1 MB of TOML", "take out"),
        Path("nul\0"): ("file: got 'embedded null byte', wanted a TOML file", "see to"),
    }
    for path, (message, next_step) in cases.items():
        with pytest.raises(SettingsError) as caught:
            load_toml(path)
        assert [str(fault) for fault in caught.value.faults] == [message]
        assert next_step in caught.value.next_step


def test_a_pipe_a_socket_and_a_device_are_refused_unopened(tmp_path: Path) -> None:
    pipe, link, door = tmp_path / "bench.toml", tmp_path / "trial.toml", tmp_path / "door.toml"
    os.mkfifo(pipe)
    link.symlink_to(pipe)
    with closing(socket.socket(socket.AF_UNIX)) as listener:
        listener.bind(str(door))
        for path, got in (
            (pipe, "a pipe"),
            (link, "a pipe"),
            (door, "a socket"),
            (Path(os.devnull), "a device"),
        ):
            with pytest.raises(SettingsError) as caught:
                load_text(path)
            (fault,) = caught.value.faults
            assert fault == ("file", got, "a TOML file")
            assert str(path) in caught.value.next_step


def test_a_file_of_exactly_1_mb_is_read(tmp_path: Path) -> None:
    path = tmp_path / "large.toml"
    path.write_bytes(b"#" * 1_000_000)
    assert load_toml(path) == {}


def test_hundreds_of_unknown_keys_are_told_by_the_first_of_them_and_their_number() -> None:
    table = _sound_table() | {f"k{n}": n for n in range(100_000)}
    with pytest.raises(SettingsError) as caught:
        read(Chart, table, "chart.toml")
    faults = caught.value.faults
    assert [f.path for f in faults if f.got == "an unknown key"] == [f"k{n}" for n in range(50)]
    assert [f.got for f in faults if f.path == "file"] == ["99950 more unknown keys"]


def test_thousands_of_faults_are_told_by_the_first_of_them_and_their_number() -> None:
    table = _sound_table()
    table["harbour"]["codes"] = {f"c{n}": "x" for n in range(50_000)}
    with pytest.raises(SettingsError) as caught:
        read(Chart, table, "chart.toml", "annex")
    faults = caught.value.faults
    assert [f.path for f in faults[:200]] == [f"annex.harbour.codes.c{n}" for n in range(200)]
    assert [tuple(f) for f in faults[200:]] == [
        ("annex", "49800 more faults", "none; mend those above first")
    ]
