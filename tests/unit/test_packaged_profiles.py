"""Profiles of other people's packages are found without a line of their code being run."""

from __future__ import annotations

from importlib.metadata import EntryPoint
from pathlib import Path

import pytest

from acquire.cli.driver import profile_rows
from acquire.driverapi.registry import GROUP
from acquire.settings.companion import PROFILES, Companions
from acquire.settings.packaged import Packaged, packaged_profiles
from tests.unit.settings.test_bench import PROFILE, Quay


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


def test_a_shipped_profile_goes_before_one_of_a_package(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.syspath_prepend(str(tmp_path))
    found = files(tmp_path, [package(tmp_path, "creek_one", "ours")])
    shipped = tmp_path / "bench" / "shipped" / "profiles" / "ours.toml"
    shipped.write_text("# ours\n" + PROFILE, "utf-8")
    assert found.rivals("ours") == []
    assert found.label(PROFILES, "ours") == "shipped profiles/ours.toml"
    profile = found.profile("ours")
    assert profile is not None
    assert profile.text.startswith("# ours")


def test_the_list_says_who_else_brings_a_profile_of_the_name(tmp_path: Path) -> None:
    good, spoilt = tmp_path / "good.toml", tmp_path / "spoilt.toml"
    good.write_text(PROFILE, "utf-8")
    spoilt.write_bytes(bytes(range(256)))
    one, two = (Packaged("cove", f"package {n}", Path(n)) for n in "ab")
    found = [Packaged("bay", "package a", good), Packaged("bar", "package a", spoilt), one, two,
             Packaged("ours", "package a", good)]  # fmt: skip
    rows = profile_rows(found, {"ours"})
    assert [row[-1] for row in rows[1:]] == [
        "can be named",
        "is no profile: no TOML with a kind",
        "copy it beside the bench file: package b brings one, too",
        "copy it beside the bench file: package a brings one, too",
        "not used: Coatbench brings one of this name; copy it beside the bench file",
    ]
