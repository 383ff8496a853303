"""A pytest plug-in for whoever writes a driver: the conformance kit in one line.

    def test_it_keeps_every_rule(keeps_every_rule):
        keeps_every_rule("plumb", captures="tests/captures")

The driver is examined in a process of its own, so that one that hangs or ends the program fails its
test and nothing else. pytest loads this module by its entry point; it imports nothing of Coatbench
before the fixture is used.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from pathlib import Path

import pytest

_Path = str | os.PathLike[str]
_Paths = _Path | Iterable[_Path]


def _paths(given: _Paths) -> list[Path]:
    return [Path(given)] if isinstance(given, str | os.PathLike) else [Path(one) for one in given]


@pytest.fixture
def keeps_every_rule(pytestconfig: pytest.Config) -> Callable[..., None]:
    """Hold a driver against the rules that every driver keeps, or fail the test.

    It fails with those that are broken, and with those that could not be tried. Call it with the
    name of an installed driver or with ``module:OBJECT``. `profiles` and `captures` are files, or
    folders of captures, from the root of the test suite; without `profiles` the driver is tried
    with all that it takes of those that come with Coatbench and of its own package's, and without
    `captures`, too, with the captures of both. `seed` draws other bytes, `spoilt_bytes` says how
    many, `limit_s` after how long a driver counts as hung.
    """

    def held(
        driver: str,
        *,
        profiles: _Paths = (),
        captures: _Paths = (),
        seed: int = 1,
        spoilt_bytes: int = 20_000,
        limit_s: float = 30.0,
    ) -> None:
        __tracebackhide__ = True
        from acquire.driverapi.examined import examined  # noqa: PLC0415 - only where it is used
        from acquire.driverapi.verdict import report_lines  # noqa: PLC0415
        from acquire.settings import captures_dir, config_dir  # noqa: PLC0415
        from acquire.visible import visible  # noqa: PLC0415

        root = pytestconfig.rootpath
        report = examined(
            driver,
            profiles=[root / path for path in _paths(profiles)],
            folders=[config_dir() / "profiles"],
            captures=[root / path for path in _paths(captures)],
            shipped=captures_dir(),
            seed=seed,
            spoilt_bytes=spoilt_bytes,
            limit_s=limit_s,
        )
        if not report.is_kept:
            lines = report_lines(driver, report, seed)
            pytest.fail("\n".join(map(visible, lines)), pytrace=False)

    return held
