"""A plan as the text of a trial file, with a comment on what a person may want to change there.

What `acquire.settings.parse_plan` makes of the text is the plan again. Pure; any thread.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from decimal import Decimal

from acquire.model import DriftCorrection, Measure, Plan, Quantity, Rated, Scale, Zone
from acquire.model.sled import Angle, SledSpec
from acquire.trial.answers import RECIPE
from acquire.trial.washes import STROKES_PER_WASH


def plan_text(plan: Plan) -> str:
    """The file of a plan, which is no study. Its own `text` and `digest` are not looked at."""
    parts = [
        _trial(plan),
        *([_recipe(plan)] if plan.recipe or plan.washes else []),
        *([_blind(plan)] if plan.is_blind else []),
        _panels(plan),
        *([_layout(plan)] if plan.layout is not None else []),
        _treatments(plan),
        _zones(plan),
        *(_measure(plan, measure) for measure in plan.measures),
        *(_scale(plan, scale) for scale in plan.scales),
    ]
    return "\n\n".join("\n".join(part) for part in parts) + "\n"


def _trial(plan: Plan) -> list[str]:
    lines = [
        "# A trial, as coatbench trial new planned it. Every entry of such a file is explained in",
        "# config/boatyard/trial.toml. Look it through with coatbench trial check; how it stands",
        f"# says coatbench trial show {plan.id}. Once a zone was read the plan can only grow.",
        "",
        "[trial]",
        f"id = {quoted(plan.id)}",
        f"title = {quoted(plan.title)}",
        f"stages = {_list(plan.stages)}   # changes are taken against {plan.stages[0]}",
    ]
    if plan.unchecked:
        lines.append(
            "unchecked = true   # readings count without a valid check; all results say so"
        )
    if plan.washes:
        lines += ["", "# How many washes, counted from the first one on, each stage comes after."]
        lines += ["[trial.washes]", *(f"{quoted_key(s)} = {n}" for s, n in plan.washes)]
    if plan.cure_hours:
        lines += ["", "# Hours after its application before a zone may be measured at a stage."]
        lines += [
            "[trial.cure_hours]",
            *(f"{quoted_key(s)} = {_figure(h)}" for s, h in plan.cure_hours),
        ]
    return lines


def _recipe_line(key: str, value: str) -> str:
    return f"{key} = {value if key == STROKES_PER_WASH else quoted(value)}"


def _recipe(plan: Plan) -> list[str]:
    if plan.recipe:
        head = ["# How one wash is done, the same every time.", "[trial.recipe]"]
        return [*head, *(_recipe_line(*pair) for pair in plan.recipe)]
    return [
        "# How one wash is done, the same every time: enter yours, without the # in front.",
        "# [trial.recipe]",
        *(f"# {key} = {quoted(value)}" for key, value in RECIPE.items()),
    ]


def _blind(plan: Plan) -> list[str]:
    return [
        "# Products are hidden: treatments are codes. Which is which says a key that is sealed in",
        "# the store of the bench; this is its SHA-256. coatbench trial key tells it to the one",
        "# who puts the products on, coatbench trial unseal to everybody. Both are recorded.",
        "[trial.blind]",
        f"key = {quoted(plan.key_digest)}",
    ]


def _panels(plan: Plan) -> list[str]:
    lines: list[str] = []
    for panel in plan.panels:
        lines += [""] if lines else []
        lines.append("[[panel]]" if panel.id else "[panel]")
        lines += [f"id = {quoted(panel.id)}"] if panel.id else []
        lines.append(f"name = {quoted(panel.name)}")
        lines += [f"material = {quoted(panel.material)}"] if panel.material else []
    return lines


def _layout(plan: Plan) -> list[str]:
    assert plan.layout is not None
    return [
        "# The draw that dealt the products: from the same treatments, design and seed the zones",
        "# below come out again, which coatbench trial check holds them against.",
        "[layout]",
        f"design = {quoted(plan.layout.design.value)}",
        f"seed = {plan.layout.seed}",
    ]


def _treatments(plan: Plan) -> list[str]:
    lines: list[str] = []
    for treatment in plan.treatments:
        lines += [""] if lines else []
        lines += ["[[treatment]]", f"id = {quoted(treatment.id)}"]
        lines.append(f"name = {quoted(treatment.name)}")
        lines += ["control = true"] if treatment.is_control else []
    return lines


def _zones(plan: Plan) -> list[str]:
    lines = ["# Where the zones lie: row and column from 1 at the top left. What was dealt there."]
    for zone in plan.zones:
        lines += ["", "[[zone]]", *_zone(zone)]
    return lines


def _zone(zone: Zone) -> Iterator[str]:
    yield f"id = {quoted(zone.id)}"
    if zone.panel:
        yield f"panel = {quoted(zone.panel)}"
    for key in ("row", "column", "block"):
        number = getattr(zone, key)
        if number is not None:
            yield f"{key} = {number}"
    yield f"treatment = {quoted(zone.treatment)}"


def _measure(plan: Plan, measure: Measure) -> list[str]:
    lines = [
        "[[measure]]",
        f"id = {quoted(measure.id)}",
        f"quantity = {quoted(measure.quantity.value)}",
    ]
    if measure.quantity is Quantity.GLOSS:
        lines.append(f"geometry = [{', '.join(measure.channels)}]")
    elif measure.quantity is Quantity.TRANSMITTANCE:
        lines.append(f"band = {_list(measure.channels)}")
    if measure.stages != plan.stages:
        lines.append(f"stages = {_list(measure.stages)}")
    lines.append(f"replicates = {measure.replicates}   # readings of each zone at each stage")
    lines.append(f"order = {quoted(measure.order.value)}")
    if measure.seed:
        lines.append(f"seed = {measure.seed}")
    if not measure.higher_is_better:
        lines.append("higher_is_better = false")
    if measure.margin is not None:
        lines.append(f"margin = {_figure(measure.margin)}   # products nearer than this are equal")
    if measure.span is not None:
        lines.append(f"range = [{_figure(measure.span[0])}, {_figure(measure.span[1])}]")
    if measure.drift_correction is not DriftCorrection.NONE:
        lines.append(f"drift_correction = {quoted(measure.drift_correction.value)}")
    if (end := measure.end_of_life) is not None:
        lines += ["", "# When a product counts as gone.", "[measure.end_of_life]"]
        for key in ("lost", "below", "above"):
            value = getattr(end, key)
            lines += [f"{key} = {_figure(value)}"] if value is not None else []
    if measure.sled is not None:
        lines += ["", *_sled(measure.sled)]
    if (stray := measure.stray_light) is not None:
        lines += [
            "",
            "# Light that no sample stops, taken off the spectra.",
            "[measure.stray_light]",
        ]
        lines.append(f"blocked_percent = {_figure(stray.blocked_percent)}")
        lines.append(f"u_percent = {_figure(stray.u_percent)}")
    for lamp in measure.lamps:
        lines += ["", "# A band meter, as which the spectra are told besides.", "[[measure.lamp]]"]
        lines.append(f"centre_nm = {_figure(lamp.centre_nm)}")
        lines.append(f"width_nm = {_figure(lamp.width_nm)}")
    return lines


def _sled(sled: SledSpec) -> Iterator[str]:
    yield "# The sled that is pulled: results are coefficients of friction, force over weight."
    yield "[measure.sled]"
    yield f"mass = {quoted(sled.as_weighed)}"
    # As many decimals as a mass may have in a file.
    u_g = (sled.u_kg * 1000).quantize(Decimal("1e-9")).normalize()
    yield f"standard_uncertainty = {quoted(f'{_figure(u_g)} g')}"
    yield f"gravity = {_figure(sled.gravity)}"
    for name, angle in (("pull_angle", sled.pull_angle), ("tilt", sled.tilt)):
        yield from _angle(name, angle)
    yield f"corrections = {_list([c.value for c in sled.corrections])}"
    if (window := sled.window) is not None:
        yield ""
        yield "[measure.sled.window]"
        for key in ("skip_mm", "length_mm", "speed_mm_per_s"):
            yield f"{key} = {_figure(getattr(window, key))}"


def _angle(name: str, angle: Angle | None) -> Iterator[str]:
    if angle is not None:
        yield f"{name}_deg = {_figure(angle.deg)}"
        yield f"{name}_u_deg = {_figure(angle.u_deg)}"


def _scale(plan: Plan, scale: Scale) -> list[str]:
    lines = ["[[scale]]", f"id = {quoted(scale.id)}", f"name = {quoted(scale.name)}"]
    lines.append(f"rated = {quoted(scale.rated.value)}")
    if scale.rated is Rated.ZONE and scale.stages != plan.stages:
        lines.append(f"stages = {_list(scale.stages)}")
    lines += ["steps = [   # from the worst to the best; put in your own words"]
    lines += [f"    {quoted(step)}," for step in scale.steps]
    lines.append("]")
    if scale.gone_below is not None:
        lines.append(
            f"gone_below = {scale.gone_below}   # rated below this step after a wash: it is gone"
        )
    return lines


def quoted(value: str) -> str:
    """A text as a basic string of TOML 1.0.

    Unescaped but for what TOML asks: JSON's escapes are among its own, and DEL is one more.
    """
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def quoted_key(value: str) -> str:
    """A key: bare where it may be, else as a string (a stage such as ``wash.5`` has a dot)."""
    is_bare = value.isascii() and value.replace("-", "").replace("_", "").isalnum()
    return value if is_bare else quoted(value)


def _list(values: Sequence[str]) -> str:
    return f"[{', '.join(map(quoted, values))}]"


def _figure(value: Decimal) -> str:
    """A number in plain digits, as TOML has it: never with an exponent."""
    return f"{value:f}"
