"""A pytest plug-in that gives any test suite a whole bench: devices, daemon, a caller, the time.

    def test_a_run_waits_when_the_pass_has_expired(coatbench):
        bench = coatbench.scenario("boatyard")
        bench.check("shore")
        bench.begin_run("shore")
        bench.advance(4 * 3600 + 1)
        assert bench.client.call("status")["run"]["blocked"]["reason"] == "expired"

    def test_the_tape_reads_as_it_did(coatbench):
        bench = coatbench.tape("tapes/shore.tape")
        bench.play()
        assert [row["sent_text"] for row in bench.readings()] == ["91.4", "91.3"]

pytest loads this module by its entry point; it imports nothing of Coatbench before the fixture is
used. What a bench started has ended when its test ends.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from acquire.testkit.maker import Maker


@pytest.fixture
def coatbench(
    pytestconfig: pytest.Config, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Maker]:
    """Whole benches: ``coatbench.scenario(FILE)`` and ``coatbench.tape(FILE)``.

    Both give the bench with `client` (a caller of the daemon), `daemon`, `clock`, `store`,
    `advance(seconds)`, `readings()`, `status(name)`, `await_row(table, ...)`. A scenario's bench is
    also worked as a tester works it: `put(name, thing)`, `press(name)`, `check(name)`,
    `begin_run(name)`, and `do(line)` with any line that ``coatbench simulate`` takes. A tape's
    bench plays it by the clock: `advance`, or `play()` to its end. Files are named from the root
    of the test suite.
    """
    from acquire.testkit.maker import Maker  # noqa: PLC0415 - only where it is used

    maker = Maker(pytestconfig.rootpath, tmp_path_factory.mktemp("coatbench"))
    try:
        yield maker
    finally:
        maker.close()
