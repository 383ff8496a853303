"""Files of a bench, written together or not at all.

A file is only ever written over one that was written here, and nothing is written that the bench
would refuse when it is served. Any thread.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from tempfile import TemporaryDirectory

from acquire.errors import Misuse, SettingsError
from acquire.settings import load_bench, load_plan

TRIAL = "trial.toml"
MARK = (
    "# Written from a scenario, and written anew whenever it is simulated: make changes in a copy."
)


def write_files(bench_file: Path, texts: Mapping[Path, str]) -> list[Path]:
    """Write bench file, policies and trial, all in the folder of the first; their paths.

    Raises `Misuse`, before any is written, where a file of somebody else is in the place of one,
    or where the bench would be refused.
    """
    for path in texts:
        _refuse_foreign(path)
    _refuse_unfit(bench_file, texts)
    for path, text in texts.items():
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(f"{MARK}\n\n{text}", encoding="utf-8")
    return list(texts)


def _refuse_unfit(bench_file: Path, texts: Mapping[Path, str]) -> None:
    """Raises `Misuse` with the first thing that the bench itself would say of these files."""
    with TemporaryDirectory(prefix="coatbench-") as folder:
        tried = {path: Path(folder) / path.relative_to(bench_file.parent) for path in texts}
        for path, text in texts.items():
            tried[path].parent.mkdir(exist_ok=True)
            tried[path].write_text(text, encoding="utf-8")
        try:
            load_bench(tried[bench_file])
            if trial := tried.get(bench_file.parent / TRIAL):
                load_plan(trial)
        except SettingsError as error:
            first = error.faults[0]
            raise Misuse(
                "no bench is written: it would be refused",
                got=f"{first.path}: {first.got}",
                wanted=first.wanted,
                next_step="change the scenario, or simulate it without --bench",
            ) from error


def _refuse_foreign(path: Path) -> None:
    if not path.exists():
        return
    try:
        with path.open(encoding="utf-8") as file:
            first = file.readline().rstrip("\n")
    except (OSError, ValueError):
        first = ""
    if first != MARK:
        raise Misuse(
            f"{path} is not overwritten",
            got="a file that was not written from a scenario",
            wanted="a new name, or a file that was",
            next_step="name another bench file, best in a folder of its own",
        )
