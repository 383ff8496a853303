"""Where the shipped configuration is looked for."""

from __future__ import annotations

from pathlib import Path

import pytest

from acquire.errors import NotFound
from acquire.settings import config_dir


def test_an_installed_package_carries_its_configuration_inside(tmp_path: Path) -> None:
    inside = tmp_path / "acquire" / "_config"
    (inside / "policies").mkdir(parents=True)
    beside = tmp_path / "config"
    (beside / "policies").mkdir(parents=True)
    assert config_dir(tmp_path / "acquire") == inside


def test_a_checkout_has_it_beside_the_package(tmp_path: Path) -> None:
    # A folder of this name that belongs to somebody else is none of ours.
    (tmp_path / "acquire" / "_config").mkdir(parents=True)
    (tmp_path / "config" / "profiles").mkdir(parents=True)
    assert config_dir(tmp_path / "acquire") == tmp_path / "config"


def test_without_either_the_person_is_told_to_install_again(tmp_path: Path) -> None:
    with pytest.raises(NotFound, match="install coatbench again"):
        config_dir(tmp_path / "acquire")
