"""Profiles of other people's packages are found without a line of their code being run."""

from __future__ import annotations

from importlib.metadata import EntryPoint
from pathlib import Path

import pytest

from acquire.cli.driver import profile_rows
from acquire.driverapi.registry import GROUP
from acquire.settings.companion import PROFILES, Companions
from acquire.settings.packaged import Packaged, packaged_profiles
from tests.unit.test_settings_bench import PROFILE, Quay


def package(folder: Path, name: str, *profiles: str) -> EntryPoint:
    """A package that may not be imported."""
    rooms = folder / name / "wire" / "profiles"
    rooms.mkdir(parents=True)
    for place in (folder / name, folder / name / "wire"):
        (place / "__init__.py").write_text("raise SystemExit('it was imported')\n")
    for profile in profiles:
        (rooms / f"{profile}.toml").write_text(PROFILE, "utf-8")
    return EntryPoint(name, f"{name}.wire:FAMILY", GROUP)


def files(folder: Path, points: list[EntryPoint]) -> Companions:
    quay = Quay(folder / "bench")
    return Companions(quay.path.parent, quay.shipped, lambda: packaged_profiles(points))


def test_a_profile_beside_a_driver_is_found_and_nothing_is_imported(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.syspath_prepend(str(tmp_path))
    points = [package(tmp_path, "cove_one", "cove"), package(tmp_path, "cove_two", "presser")]
    points += [EntryPoint("gone", "not_there.at.all:FAMILY", GROUP)]
    found = files(tmp_path, points)
    profile = found.profile("cove")
    assert profile is not None
    assert profile.text == PROFILE
    assert found.label(PROFILES, "cove") == "cove_one.wire profiles/cove.toml"
    assert "'cove'" in found.names(PROFILES)
    # What lies beside the bench file goes before it.
    assert found.label(PROFILES, "presser") == "profiles/presser.toml"
    assert found.rivals("presser") == []


def test_a_name_that_two_bring_is_told_and_neither_is_taken(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.syspath_prepend(str(tmp_path))
    points = [
        package(tmp_path, "inlet_one", "cove", "ours"),
        package(tmp_path, "inlet_two", "cove"),
    ]
    found = files(tmp_path, points)
    (tmp_path / "bench" / "shipped" / "profiles" / "ours.toml").write_text(PROFILE, "utf-8")
    assert found.rivals("cove") == ["inlet_one.wire", "inlet_two.wire"]
    assert found.rivals("ours") == ["inlet_one.wire", "Coatbench"]


def test_the_list_says_who_else_brings_a_profile_of_the_name() -> None:
    one, two = (Packaged("cove", f"package {n}", Path(n)) for n in "ab")
    alone = Packaged("bay", "package a", Path("c"))
    rows = profile_rows([alone, one, two], {"cove"})
    assert [row[-1] for row in rows[1:]] == [
        "can be named",
        "copy it beside the bench file: package b and Coatbench bring one, too",
        "copy it beside the bench file: package a and Coatbench bring one, too",
    ]
