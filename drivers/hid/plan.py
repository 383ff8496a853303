"""What is taken out of which report: a profile and a device's descriptor put together.

Pure; one plan a connection, any thread.
"""

from __future__ import annotations

from typing import NamedTuple

from acquire.wire.hid_field import Field, ReportKind, usage_shown
from acquire.wire.hid_reports import ReportMap
from drivers.hid import weighing
from drivers.hid.entries import FlagMeans, Place, PressBy
from drivers.hid.number import Number, at_place, of_field, raw_of_field, scaled
from drivers.hid.part import FlagPart, ReportPlan, ValuePart
from drivers.hid.profile import HidProfile
from drivers.hid.scale import ScalePart


class Plan(NamedTuple):
    """What each report shows; a report that is not in it holds nothing of interest."""

    reports: dict[int, ReportPlan]
    has_ids: bool = False


class Lacking(Exception):
    """The device has not what the profile wants; says so in plain words."""


def make_plans(profile: HidProfile, reports: ReportMap | None) -> tuple[Plan, Plan] | str:
    """The plans for what comes by itself and for what a take brings, or what the device lacks."""
    take = profile.take
    asks_feature = take is not None and take.kind is ReportKind.FEATURE and take.data is None
    try:
        if not asks_feature:
            plan = _made(profile, reports, ReportKind.INPUT)
            return plan, plan
        taken = _made(profile, reports, ReportKind.FEATURE)
        # What is asked for alone need not be in what comes by itself.
        if profile.by is PressBy.TAKE:
            return Plan({}, taken.has_ids), taken
        return _made(profile, reports, ReportKind.INPUT), taken
    except Lacking as lack:
        remarks = "; ".join(reports.remarks[:3]) if reports is not None else ""
        told = f" (of its report descriptor: {remarks})" if remarks else ""
        return (
            f"the device has not what the profile wants: {lack}{told}; nothing is read of it; "
            "next: mend the profile of the instrument, by usages that the device has or by place"
        )


def _made(profile: HidProfile, reports: ReportMap | None, kind: ReportKind) -> Plan:
    maker = _Maker(profile, reports, kind)
    maker.make()
    # Without a descriptor the profile alone knows whether reports have numbers.
    return Plan(maker.plans, any(maker.plans) if reports is None else reports.has_ids)


class _Maker:
    def __init__(self, profile: HidProfile, reports: ReportMap | None, kind: ReportKind) -> None:
        self._profile = profile
        self._kind = kind
        self._fields = tuple(f for f in reports.fields if f.kind is kind) if reports else ()
        self._choices: dict[tuple[int, int], Number] = {}
        self.plans: dict[int, ReportPlan] = {}

    def make(self) -> None:
        profile = self._profile
        if profile.weighs is not None:
            self._weighing(profile.weighs)
        for value in profile.values:
            report, number, field = self._number(value, raw=bool(value.over or value.under))
            made = scaled(value, field)
            if isinstance(made, str):
                raise Lacking(made)
            unit, scaling = made
            self._of(report).values.append(
                ValuePart(
                    number,
                    unit,
                    value.channel,
                    scaling,
                    frozenset(value.over),
                    frozenset(value.under),
                    None if field is None else (field.least, field.most),
                    {},
                )
            )
        for flag in profile.flags:
            for report, part in self._flag(flag.means, flag, tuple(flag.values), flag.text or ""):
                self._of(report).flags.add(part)
        if profile.count is not None:
            report, number, _ = self._number(profile.count, raw=False)
            self._of(report).count = number

    def _of(self, report: int) -> ReportPlan:
        return self.plans.setdefault(report, ReportPlan())

    def _number(self, place: Place, *, raw: bool) -> tuple[int, Number, Field | None]:
        """The report that a number is in, the number, and its field where it has one."""
        if place.usage is None:
            assert place.report is not None
            return place.report, at_place(place), None
        field = self._found(place.usage, place.nth, place.report)
        return field.report, raw_of_field(field) if raw else of_field(field), field

    def _found(self, whole: int, nth: int, report: int | None) -> Field:
        found = [
            field
            for field in self._fields
            if not field.is_array and field.usage == whole and report in (None, field.report)
        ]
        if nth >= len(found):
            how_many = f"{nth + 1} times the usage" if nth else "the usage"
            where = "" if report is None else f" in report {report}"
            raise Lacking(f"no {self._kind.name.lower()} field has {how_many} "
                          f"{usage_shown(whole)}{where}")  # fmt: skip
        return found[nth]

    def _flag(
        self, means: FlagMeans, place: Place, values: tuple[int, ...], text: str
    ) -> list[tuple[int, FlagPart]]:
        """A flag in every report that has it: by place, as a field of its own, or as a choice."""
        if place.usage is None:
            assert place.report is not None
            return [(place.report, FlagPart(means, at_place(place), values, text))]
        return self._flag_of(means, place.usage, place.report, values, text) or self._lacks(
            place.usage
        )

    def _flag_of(
        self, means: FlagMeans, whole: int, report: int | None, values: tuple[int, ...], text: str
    ) -> list[tuple[int, FlagPart]]:
        return [
            (field.report, FlagPart(means, self._choice(field), (whole,), text))
            if field.is_array
            else (field.report, FlagPart(means, of_field(field), values, text))
            for field in self._fields
            if field.has(whole) and report in (None, field.report)
        ]

    def _choice(self, field: Field) -> Number:
        """One for each array, so that its flags read it once."""
        return self._choices.setdefault((field.report, field.bit), _chosen(field))

    def _lacks(self, whole: int) -> list[tuple[int, FlagPart]]:
        raise Lacking(f"no {self._kind.name.lower()} field has the usage {usage_shown(whole)}")

    def _weighing(self, report: int) -> None:
        wanted = None if report < 0 else report
        parts = ScalePart.found(self._fields, wanted)
        if not parts:
            where = "" if wanted is None else f" in report {wanted}"
            raise Lacking(
                f"no {self._kind.name.lower()} field is a weight with its unit (usages 008D:0040 "
                f"and 008D:0051 to 008D:005C){where}"
            )
        for number, part in parts:
            self._of(number).values.append(part)
        for whole, means, text in weighing.STATUS:
            for number, flag in self._flag_of(means, whole, wanted, (1,), text):
                self._of(number).flags.add(flag._replace(is_state=True))
        for field in self._fields:
            if not field.is_array and field.usage == weighing.CALIBRATIONS:
                self._of(field.report).calibrations = of_field(field)


def _chosen(field: Field) -> Number:
    """The usage that an array selects in a report."""

    def chosen(_: bytes, whole: int) -> int | None:
        value = field.value(whole)
        return None if value is None else field.selected(value)

    return chosen
