"""Scales in files of their own: those that come with Coatbench, and a person's. Any thread.

Such a file is one table of ``[[scale]]`` without its heading; ``config/scales/water.toml`` explains
each entry. `coatbench trial new` copies scales into a trial, where they stay as they were settled.
"""

from __future__ import annotations

from pathlib import Path

from acquire.errors import Fault, NotFound, SettingsError
from acquire.model import Rated, Scale
from acquire.schema import load_text, parse_toml, read
from acquire.settings.scales import ScaleTable
from acquire.settings.shipped import config_dir

_ENDING = ".toml"


def shipped_scales() -> dict[str, Path]:
    """The scales that come with Coatbench, by name."""
    return {path.stem: path for path in sorted((config_dir() / "scales").glob(f"*{_ENDING}"))}


def scale_file(named: str) -> Path:
    """The file of a scale: a shipped one by its name, or a path. Raises `NotFound`."""
    shipped = shipped_scales()
    if named in shipped:
        return shipped[named]
    path = Path(named)
    if named.endswith(_ENDING) and path.is_file():
        return path
    raise NotFound(
        f"there is no scale {named!r}",
        wanted=f"one of {', '.join(shipped)}, or the path of a {_ENDING} file",
        next_step=f"name one of these, or copy one from {config_dir() / 'scales'}",
    )


def load_scale(path: Path, stages: tuple[str, ...], *, is_washed: bool) -> Scale:
    """The scale of a file, for a trial with these stages, the bare one first.

    Zones are rated at all stages but the bare one, where the file names none. Without washes no
    life can end, and `gone_below` is left out. Raises `SettingsError` with every fault.
    """
    entries = parse_toml(load_text(path), str(path))
    if set(entries) == {"scale"}:
        wanted = "the entries of one scale without a heading, and each scale in its own file"
        raise SettingsError(str(path), [Fault("scale", "a heading", wanted)])
    table = read(ScaleTable, entries, str(path))
    strange = [stage for stage in table.stages or [] if stage not in stages]
    if strange:
        raise SettingsError(
            str(path),
            [Fault("stages", ", ".join(strange), f"stages of this trial: {', '.join(stages)}")],
        )
    scale = table.scale(stages[1:] if len(stages) > 1 else stages)
    if scale.rated is Rated.TREATMENT or (is_washed and scale.gone_below is not None):
        return scale
    return Scale(scale.id, scale.name, scale.rated, scale.steps, scale.stages)
