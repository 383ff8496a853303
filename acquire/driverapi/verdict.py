"""What an examination of a driver found, in lines for a person. Pure."""

from __future__ import annotations

from collections.abc import Iterator

from acquire.driverapi.examined import Report
from acquire.driverapi.rules import Rule

MOST_SHOWN = 5
_WANTS = {
    Rule.CAPTURES: " (no capture was given)",
    Rule.UNITS: " (no capture with a reading was given)",
    Rule.LOST: " (no capture with a reading was given)",
    Rule.RATES: " (no capture was given)",
}
"""What could show that a rule is broken and was not there."""
_NO_SPEED = "(no speed of its line is declared)"


def report_lines(name: str, report: Report, seed: int) -> Iterator[str]:
    """What held and what did not, a rule at a time."""
    if report.nowhere is not None:
        yield f"driver  {name}: {report.nowhere}"
        return
    with_them = [f"{profile} ({_captures(count)})" for profile, count in report.profiles.items()]
    yield f"driver  {name}, seed {seed}"
    yield f"tried   with {', '.join(with_them) or 'no profile'}"
    if report.passed_over:
        yield f"left    captures of {', '.join(report.passed_over)}: it was not tried with these"
    bare = [profile for profile, count in report.profiles.items() if not count]
    if bare and len(bare) < len(report.profiles):
        yield (
            f"bare    {', '.join(bare)}: without a capture of it, its units, captures, rates and "
            "lost readings were not tried"
        )
    if report.unrated and len(report.unrated) < len(report.profiles):
        yield f"unrated {', '.join(report.unrated)}: rates were not tried {_NO_SPEED}"
    yield ""
    for rule in Rule:
        broken = [f"{p}: {f.what}" if p else f.what for p, f in report.findings if f.rule is rule]
        if broken:
            yield f"BROKEN     {rule.value}"
            for what in broken[:MOST_SHOWN]:
                yield from (f"           {line}" for line in what.splitlines())
            if len(broken) > MOST_SHOWN:
                yield f"           and {len(broken) - MOST_SHOWN} more of this kind"
        elif rule in report.tried:
            yield f"held       {rule.value}"
        else:
            wants = "" if report.ended else _WANTS.get(rule, "")
            if rule is Rule.RATES and report.unrated and not report.ended:
                wants = f" {_NO_SPEED}"
            if rule in report.unfinished:
                wants = " (not to its end)"
            yield f"not tried  {rule.value}{wants}"
    yield ""
    for fault in report.faults:
        first, *further = fault.splitlines() or [""]
        yield f"coatbench: {first}"
        yield from (f"  {line}" for line in further)
    if report.ended:
        yield f"coatbench: {report.ended}"
    yield from verdict(report).splitlines()


def verdict(report: Report) -> str:
    """The last lines: how it stands, or what to do next."""
    if report.is_sound:
        if report.is_kept:
            return "all rules were tried and held"
        rules = "1 rule was" if len(report.untried) == 1 else f"{len(report.untried)} rules were"
        left = (
            f"coatbench: no rule was broken, but {rules} not tried, so that this says nothing of "
        )
        if report.unrated and report.untried == (Rule.RATES,):
            return f"{left}it\nnext: have needs give LinkNeeds(baud_rate=...) as the line is set"
        return (
            f"{left}them\nnext: write down a press with the bytes of a real meter, as a capture "
            "(python -m pydoc acquire.driverapi.capture), and test with --captures FOLDER"
        )
    if not report.profiles and not report.findings and not report.ended:
        return "next: name a profile with --profile; none was found that this driver takes"
    if report.findings or report.ended:
        return "next: mend the driver, then test it again with the same seed"
    return "next: mend the files that were given"


def _captures(count: int) -> str:
    return "no capture" if not count else "1 capture" if count == 1 else f"{count} captures"
