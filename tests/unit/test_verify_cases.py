"""Case files are taken as they come: each fault is said once, and costs no other case."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from acquire.errors import Fault
from acquire.verify.casefile import LARGEST_BYTES, read_cases
from acquire.verify.elements import Element, elements
from tests.unit.verify_cases import GOOD, read, text_of

ARROWS = text_of(id="last")


def told(folder: Path, spoilt: str) -> list[Fault]:
    """The faults of a case that stands before a sound one, which is read whatever they are."""
    found = read(folder, f"[\n{spoilt},\n{ARROWS}\n]")
    assert found.fault is None
    assert [e.name for e in found.entries if e.case is not None] == ["last"]
    return [fault for entry in found.entries for fault in entry.faults]


@pytest.mark.parametrize(
    ("changes", "place", "got"),
    [
        ({"id": ""}, "[0], line 2, id", "''"),
        ({"id": " \u200b "}, "[0], line 2, id", "' \\u200b '"),
        ({"id": "n" * 10_000}, "[0], line 2, id", "nnn"),
        ({"calc": 7}, "[0], line 2, calc", "7"),
        ({"calc": None}, "[0], line 2, calc", "nothing"),
        ({"source": ""}, "[0], line 2, source", "''"),
        ({"inputs": [1, 2]}, "[0], line 2, inputs", "[1, 2]"),
        ({"expected": {}}, "[0], line 2, expected", "nothing"),
        ({"expected": {"mean": {"a": 1}}}, "[0], line 2, expected", "a table for 'mean'"),
        ({"tolerance": {}}, "[0], line 2, tolerance", "nothing for 'mean'"),
        ({"tolerance": {"sd": {"abs": 1}}}, "[0], line 2, tolerance", "nothing for 'mean'"),
        ({"tolerance": {"*": {"abs": -1}}}, "[0], line 2, tolerance.'*'.abs", "-1"),
        ({"tolerance": {"*": {"abs": True}}}, "[0], line 2, tolerance.'*'.abs", "true"),
        ({"tolerance": {"*": {"absolute": 1}}}, "[0], line 2, tolerance.'*'.absolute", "unknown"),
        ({"tolerance": {"*": 0.1}}, "[0], line 2, tolerance.'*'", "0.1"),
        # Tolerances that nothing, or nothing but a wild answer, would miss.
        ({"tolerance": {"*": {"rel": 10}}}, "[0], line 2, tolerance.'*'.rel", "10"),
        ({"tolerance": {"*": {"rel": 1}}}, "[0], line 2, tolerance.'*'.rel", "1"),
        ({"tolerance": {"*": {"abs": 1e300}}}, "[0], line 2, tolerance", "1e+300 for 'mean'"),
        (
            {"expected": {"mean": 0}, "tolerance": {"*": {"abs": 99}}},
            "[0], line 2, tolerance",
            "99 for 'mean', more than any figure of the case",
        ),
        ({"id": "last"}, "[1], line 3, id", "'last'"),
    ],
)
def test_a_spoilt_case_gets_one_clear_message_and_the_rest_is_read(
    changes: dict[str, Any], place: str, got: str, tmp_path: Path
) -> None:
    if changes == {"id": "last"}:  # of two with one id the first is the case
        found = read(tmp_path, f"[\n{ARROWS},\n{ARROWS}\n]").entries[1].faults
    else:
        found = tuple(told(tmp_path, text_of(**changes)))
    (fault,) = found
    assert fault.path == place
    assert got in fault.got
    assert fault.wanted


@pytest.mark.parametrize("key", GOOD)
def test_what_is_not_there_is_said_by_its_name(key: str, tmp_path: Path) -> None:
    rest = {k: v for k, v in GOOD.items() if k != key}
    found = told(tmp_path, json.dumps(rest))
    assert [(f.path, f.got) for f in found] == [(f"[0], line 2, {key}", "nothing")]


@pytest.mark.parametrize(
    ("spoilt", "got"),
    [
        ("17", "17"),
        ("null", "nothing"),
        ("", "expecting value"),
        ('{"id": "one" "calc": 1}', "expecting ',' delimiter"),
        ('{"id": NaN}', "NaN, which is no number of JSON"),
        ('{"id": -Infinity}', "-Infinity, which is no number of JSON"),
        ('{"id": 1e400}', "1e400, beyond the range of binary64"),
        ('{"id": -1e400}', "-1e400, beyond"),
        ('{"id": ' + "9" * 309 + "}", "99999999999999999999..., beyond"),
        ('{"id": ' + "9" * 100_000 + "}", "99999999999999999999..., beyond"),
        ('{"id": 1, "id": 2}', "the key 'id' twice"),
        ('{"inputs": {"a": 1, "b": 2, "a": 1}}', "the key 'a' twice"),
        ('{"inputs": ' + "[" * 50_000 + "]" * 50_000 + "}", "nested 50001 deep"),
        ('{"inputs": ' + '{"a":' * 20 + "1" + "}" * 20 + "}", "nested 21 deep"),
        ('{"inputs": [' + "1," * 600_000 + "1]}", "1200015 characters"),
    ],
)
def test_what_is_no_json_or_too_much_of_it_spoils_one_case_only(
    spoilt: str, got: str, tmp_path: Path
) -> None:
    (fault,) = told(tmp_path, spoilt)
    assert fault.path == "[0], line 2"
    assert got in fault.got
    assert len(fault.got) < 200


@pytest.mark.parametrize(
    ("text", "got"),
    [
        ("", "nothing"),
        ("  \n", "nothing"),
        ("[]", "no case"),
        ("[ \n ]", "no case"),
        ("{}", "a JSON object"),
        ('"a"', "a text"),
        ("17", "something else"),
        ("[" * 100_000, "nested 99999 deep"),
        ("[1", "an end within [0]"),
        ('[1, {"id": "x', "an end within [1]"),
        ("[1] [2]", "more after the end of the list"),
        ("[1}", "more after the end of the list"),
        (b"\xff\xfe\x00\x01", "a byte that is no UTF-8, at 0"),
        (b"\x89PNG\r\n\x1a\n\x00", "a byte that is no UTF-8, at 0"),
        (b"SQLite format 3\x00" + bytes(100), "something else"),
    ],
)
def test_what_is_no_list_of_cases_is_said_of_the_file(
    text: str | bytes, got: str, tmp_path: Path
) -> None:
    found = read(tmp_path, text)
    assert found.fault is not None
    assert got in found.fault.got
    assert found.fault.wanted


def test_what_cannot_be_read_is_said_of_the_file(tmp_path: Path) -> None:
    for path, got in [
        (tmp_path / "none.json", "no such file"),
        (tmp_path, "directory"),
        (Path("a\0b"), "null"),
    ]:
        fault = read_cases(path).fault
        assert fault is not None
        assert got in fault.got


def test_a_file_without_end_is_not_read_to_its_end(tmp_path: Path) -> None:
    path = tmp_path / "long.json"
    path.touch()
    os.truncate(path, 100 * LARGEST_BYTES)  # takes no room on disk
    fault = read_cases(path).fault
    assert fault is not None
    assert "more than 20000000 bytes" in fault.got


def test_cases_before_the_end_of_a_broken_file_are_read(tmp_path: Path) -> None:
    found = read(tmp_path, f"[{text_of()}, {ARROWS}, {{")
    assert [e.name for e in found.entries] == ["one", "last"]
    assert found.fault is not None


def test_what_an_editor_and_an_owner_add_is_left_alone(tmp_path: Path) -> None:
    text = text_of(note="why", published={"mean": "2.0"}, checked_by="Ada")
    found = read(tmp_path, f"\ufeff\r\n[{text}\r\n]\r\n")
    assert found.fault is None
    assert found.entries[0].faults == ()


def test_brackets_and_commas_within_texts_part_no_cases(tmp_path: Path) -> None:
    text = text_of(quantity='a "quoted\\" ], [ {, \\')
    found = read(tmp_path, f"[{text},{ARROWS}]")
    assert [e.case is not None for e in found.entries] == [True, True]


VALUES = st.recursive(
    st.none() | st.booleans() | st.floats(allow_nan=False, allow_infinity=False) | st.text(),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(), inner, max_size=3),
    max_leaves=8,
)


@given(st.lists(VALUES, max_size=5), st.sampled_from([None, 0, 2]))
def test_a_sound_list_is_read_as_the_library_reads_it(rows: list[Any], indent: int | None) -> None:
    text = json.dumps(rows, indent=indent, ensure_ascii=False)
    found = list(elements(text))
    assert [one.value for one in found if isinstance(one, Element)] == json.loads(text)
    assert not any(isinstance(one, Fault) or one.fault for one in found)


@given(st.text(alphabet='[]{},:"\\1e.-ntN \n', max_size=60))
def test_any_text_is_read_as_the_library_reads_it_or_has_a_fault(text: str) -> None:
    found = list(elements(f"[{text}"))
    try:
        wanted = json.loads(f"[{text}")
    except ValueError:
        wanted = None
    faults = [one for one in found if isinstance(one, Fault) or one.fault]
    assert faults or [one.value for one in found if isinstance(one, Element)] == wanted
