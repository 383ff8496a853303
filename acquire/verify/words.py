"""A record in words, line by line, and as plain values for a program. Pure; any thread.

Nothing here is cut but what no person reads to its end: long lists, and texts of a case file.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from acquire.errors import Fault
from acquire.verify.record import KINDS, Record, kind_of, kinds_in
from acquire.verify.use import use_of
from acquire.verify.verifying import Compared, Verdict, Verified, VerifiedFile

_MOST_SHOWN = 8
_MOST_FILES = 4
_LONGEST_WORD = 200


def head_lines(record: Record, *, every_file: bool) -> Iterator[str]:
    """What made the record, and of which files: a line each, or one for many."""
    yield "Coatbench verification record"
    yield f"date       {record.date}"
    yield f"program    {record.program}, its files sha256 {record.program_sha256}"
    yield f"python     {record.python}"
    yield f"libraries  {', '.join(f'{name} {v}' for name, v in record.libraries.items())}"
    yield f"platform   {record.platform}"
    if not every_file and len(record.files) > _MOST_FILES:
        count = sum(len(one.file.entries) for one in record.files)
        folders = ", ".join(sorted({str(one.file.path.parent) for one in record.files}))
        yield f"cases      {folders}: {_cases(count)} in {len(record.files)} files"
    else:
        for one in record.files:
            digest = f", sha256 {one.file.sha256}" if one.file.sha256 else ""
            yield f"cases      {one.file.path}: {_cases(len(one.file.entries))}{digest}"
    if record.areas:
        yield f"areas      {', '.join(record.areas)} and no other"


def all_case_lines(record: Record, *, only_wrong: bool = False) -> Iterator[list[str]]:
    """The lines of each case, in the order of the files."""
    for file in record.files:
        for one in file.entries:
            if not (only_wrong and one.verdict.is_right):
                yield list(_case_lines(one, file.file.path))


def _case_lines(one: Verified, path: Path) -> Iterator[str]:
    """One case: verdict, area, names, each quantity, source and status."""
    case, area = one.entry.case, one.entry.area or "unknown area"
    if case is None:
        yield f"{one.verdict}  {area}: {one.entry.name} of {path}"
    else:
        yield f"{one.verdict}  {area}: {one.entry.name}, {case.quantity} ({case.calc})"
    for compared in one.compared:
        yield from _compared_lines(compared)
    for line in one.why:
        yield f"  why     {line}"
    if case is not None:
        yield f"  source  {case.source}"
        yield f"  status  {kind_of(case.status)}"
        if one.verdict is not Verdict.UNKNOWN:
            yield f"  used    {use_of(case.calc).words}"
        if one.unread:
            names = ", ".join(map(_shortened, one.unread))
            yield f"  unread  {names}: the calculation has no such input, so none of it is proved"
        if one.loose:
            names = ", ".join(map(_shortened, one.loose))
            yield f"  loose   {names}: zero and the opposite sign lie within the tolerance, too"


def _compared_lines(one: Compared) -> Iterator[str]:
    got = _said(one.got, one.agrees) if one.given else "no answer"
    wanted = f"expected {_said(one.wanted, one.agrees)}{_within(one)}"
    mark = "" if one.agrees else "  <- differs"
    yield f"  {_shortened(one.key)}: got {got}, {wanted}{mark}"
    for place in one.astray[:_MOST_SHOWN]:
        pair = f"got {_said(one.got[place], False)}, expected {_said(one.wanted[place], False)}"
        yield f"    element {place + 1}: {pair}"
    if len(one.astray) > _MOST_SHOWN:
        yield f"    and {len(one.astray) - _MOST_SHOWN} elements more"


def _within(one: Compared) -> str:
    if one.tolerance is None:
        return ""
    absolute, relative = one.tolerance.abs, one.tolerance.rel
    parts = [f"{absolute:g}"] if absolute or not relative else []
    parts += [f"{relative:g} of it"] if relative else []
    return f" within {' and '.join(parts)}"


def fault_lines(one: VerifiedFile) -> Iterator[str]:
    """Why nothing, or nothing more, of a file could be read; none for a file that is whole."""
    fault = one.file.fault
    if fault is not None:
        yield f"UNREADABLE  {one.file.path}{_where(fault)}"
        yield f"  got     {fault.got}"
        yield f"  wanted  {fault.wanted}"
        if one.file.entries:
            yield f"  the {_cases(len(one.file.entries))} before it were read"


def table(record: Record) -> list[tuple[str, ...]]:
    """The summary by area, with its headings first and the sum of all last.

    Columns of nothing but noughts are left out.
    """
    rows = summary(record)
    keep = [key for key in rows[-1] if key in ("area", "cases", "agree") or rows[-1][key]]
    return [tuple(keep), *(tuple(str(row[key]) for key in keep) for row in rows)]


def summary(record: Record) -> list[dict[str, str | int]]:
    """Counts by area, the sum of all last: by verdict, and by where the values come from."""
    every = list(record.entries)
    rows = [_row(area or "unknown", entries) for area, entries in record.by_area.items()]
    return [*rows, _row("all", every)]


_HEADINGS = dict(zip(Verdict, ("agree", "differ", "no answer", "unknown", "faulty"), strict=True))


def _row(area: str, entries: list[Verified]) -> dict[str, str | int]:
    verdicts, kinds = Counter(one.verdict for one in entries), kinds_in(entries)
    return {
        "area": area,
        "cases": len(entries),
        **{heading: verdicts[verdict] for verdict, heading in _HEADINGS.items()},
        **{kind: kinds[kind] for kind in (*KINDS, "other")},
    }


def use_lines(record: Record) -> Iterator[str]:
    """Of how many cases results use the calculation."""
    uses = [
        use_of(one.entry.case.calc)
        for one in record.entries
        if one.entry.case is not None and one.verdict is not Verdict.UNKNOWN
    ]
    if uses:
        whole = sum(use.is_whole for use in uses)
        part = sum(use.is_in_part for use in uses) - whole
        yield (
            f"of {_cases(len(uses))} the calculation is used by results in {whole}, in part in "
            f"{part}, and for reference only in {len(uses) - whole - part}"
        )


def verdict_lines(record: Record) -> Iterator[str]:
    """The last words: all right, or what is not and what follows from that."""
    entries = list(record.entries)
    wrong = [one for one in entries if not one.verdict.is_right]
    unread = [one.file.path for one in record.files if one.file.fault is not None]
    if record.left_out:
        yield f"{_cases(record.left_out)} of other areas were left out"
    if loose := sum(bool(one.loose) for one in entries):
        yield (
            f"{_cases(loose)} would agree with zero and with the opposite sign, too; see “loose” "
            "beside what is expected"
        )
    if record.is_right:
        yield (
            f"all right: all {_cases(len(entries))} agree"
            if len(entries) > 1
            else "all right: 1 case agrees"
        )
        return
    if wrong:
        yield f"NOT RIGHT: {len(wrong)} of {_cases(len(entries))} do not agree or were not run"
    for path in unread:
        yield f"NOT RIGHT: {path} could not be read, or not to its end"
    if record.areas_missing:
        there = sorted({e.area for one in record.files for e in one.file.entries if e.area})
        missing = ", ".join(record.areas_missing)
        yield f"NOT RIGHT: no case of {missing}; there are {', '.join(there) or 'none'}"
    elif not entries:
        yield "NOT RIGHT: there was no case to run"
    astray = sorted({one.entry.area for one in wrong if one.verdict in _OURS})
    if astray:
        areas = ", ".join(astray)
        yield f"next: rely on no figure of {areas} before you know whether program or case is wrong"
    else:
        yield "next: mend what is named above in the case files, and verify again"


_OURS = (Verdict.DIFFERS, Verdict.NO_ANSWER)
"""Where the program may be at fault, and not the case file alone."""


def item_of(record: Record) -> dict[str, Any]:
    """The record as plain values, fit for JSON."""
    return {
        "verification": "coatbench",
        "right": record.is_right,
        "date": record.date,
        "program": record.program,
        "program_sha256": record.program_sha256,
        "python": record.python,
        "libraries": record.libraries,
        "platform": record.platform,
        "areas": list(record.areas),
        "left_out": record.left_out,
        "summary": summary(record),
        "files": [_file_item(one) for one in record.files],
    }


def _file_item(one: VerifiedFile) -> dict[str, Any]:
    fault = one.file.fault
    return {
        "path": str(one.file.path),
        "sha256": one.file.sha256,
        "right": one.is_right,
        "fault": None if fault is None else fault._asdict(),
        "cases": [_case_item(case) for case in one.entries],
    }


def _case_item(one: Verified) -> dict[str, Any]:
    case = one.entry.case
    return {
        "id": one.entry.name,
        "area": one.entry.area,
        "verdict": one.verdict.value,
        "why": list(one.why),
        "calc": case.calc if case else None,
        "quantity": case.quantity if case else None,
        "source": case.source if case else None,
        "status": case.status if case else None,
        "kind": kind_of(case.status) if case else None,
        "used": use_of(case.calc).words if case and one.verdict is not Verdict.UNKNOWN else None,
        "unread": list(one.unread),
        "quantities": [
            {
                "key": compared.key,
                "given": compared.given,
                "got": _finite(compared.got),
                "expected": compared.wanted,
                "tolerance": compared.tolerance.model_dump() if compared.tolerance else None,
                "agrees": compared.agrees,
                "loose": compared.is_loose,
            }
            for compared in one.compared
        ],
    }


def _finite(value: Any) -> Any:
    """JSON has no infinity and no NaN (RFC 8259, 6): they are said as words."""
    if isinstance(value, list):
        return [_finite(one) for one in value]
    return str(value) if isinstance(value, float) and not math.isfinite(value) else value


def _said(value: Any, agrees: bool) -> str:
    """A value; figures that differ with all their digits, which may be what differs."""
    if isinstance(value, list):
        some = [_said(one, agrees) for one in value[:_MOST_SHOWN]]
        more = [f"... {len(value)} in all"] if len(value) > _MOST_SHOWN else []
        return f"[{', '.join(some + more)}]"
    match value:
        case None:
            return "nothing (null)"
        case bool():
            return "true" if value else "false"
        case str():
            return f'"{_shortened(value)}"'
        case float() if agrees:
            return f"{value:.10g}"
    return repr(value)


def _shortened(text: str) -> str:
    return text if len(text) <= _LONGEST_WORD else f"{text[:_LONGEST_WORD]}..."


def _where(fault: Fault) -> str:
    return "" if fault.path == "file" else f", {fault.path}"


def _cases(count: int) -> str:
    return f"{count} case" if count == 1 else f"{count} cases"
