"""Counters and climate probes at the desk: washes and the room's climate, and never a measure."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from acquire.cli.next import dues_of, strokes_of
from acquire.cli.status import status_lines
from acquire.cli.works import Works
from acquire.control.shapes import row_item
from acquire.errors import NotFound, Refused
from acquire.live.story import Story
from acquire.model import (
    AmbientRule,
    Batch,
    Flag,
    Gap,
    LinkAddress,
    NoticeKind,
    ProbeSpec,
    Quantity,
    Reading,
)
from acquire.report.proof.proof import prove
from acquire.report.proof.washproof import prove_wash
from acquire.report.record.loading import load_trial
from acquire.report.record.placing import count_loose
from acquire.report.record.record import TroubleRecord
from acquire.report.rows.export import Scope, records
from acquire.report.sections.work import work_part
from acquire.store import StoreReader
from acquire.store.rows import Row
from acquire.trial.stored import stored_plan
from tests.unit.worked_yard import PLAN, WorkedYard


def probe(name: str, kind: Quantity, serial: str) -> ProbeSpec:
    address = LinkAddress(port=f"/dev/{name}")
    return ProbeSpec(name, kind, serial, "line", "any", {}, "", address)


class ProbedYard(WorkedYard):
    """A yard with a counter `hub` and a climate probe `hygro`, both plugged in."""

    ambient: AmbientRule | None = None

    def open(self) -> None:
        hub = probe("hub", Quantity.STROKES, "HB-0042")
        hygro = probe("hygro", Quantity.CLIMATE, "CP-0007")
        self.bench = replace(
            self.bench,
            probes=(hub, hygro),
            instruments=tuple(
                replace(one, policy=replace(one.policy, ambient=self.ambient))
                for one in self.bench.instruments
            ),
        )
        super().open()
        for name in ("shore", "hub", "hygro"):
            self.plug(name)

    def told(
        self,
        name: str,
        channel: str,
        value: str,
        press: int | None = None,
        flags: frozenset[Flag] = frozenset(),
    ) -> Reading:
        kind = Quantity.STROKES if name == "hub" else Quantity.CLIMATE
        unit = {"temperature": "degree_celsius", "humidity": "percent"}.get(channel, "stroke")
        raw = f"{channel} {value} {press}\r\n".encode()
        start = self._offsets.get(name, 0)
        return Reading(
            kind, channel, Decimal(value), unit, value, self.clock.now(), raw, start,
            start + len(raw), press, flags,
        )  # fmt: skip

    def stroke(self, press: int | None = None, *flags: Flag) -> None:
        self.clock.advance(1)
        self.take_in("hub", self.told("hub", "stroke", "1", press, frozenset(flags)))

    def total(self, total: int) -> None:
        self.clock.advance(1)
        self.take_in("hub", self.told("hub", "total", str(total)))

    def room(self, temperature: str, humidity: str | None = None, after_s: float = 10) -> list[Row]:
        self.clock.advance(after_s)
        warm = self.told("hygro", "temperature", temperature)
        facts = [warm]
        if humidity is not None:
            damp = self.told("hygro", "humidity", humidity)
            length = len(damp.raw)
            facts.append(damp._replace(start=warm.end, end=warm.end + length))
        return self.take_in("hygro", *facts)

    def lost_bytes(self, name: str) -> None:
        """The recorder did not keep up with it for a moment."""
        since, until = self.clock.now(), self.clock.advance(1)
        self.take_in(name, gap=Gap(name, since, until, 14))

    def rows(self, table: str) -> list[dict[str, Any]]:
        return [dict(r) for r in self.writer.query(f"SELECT * FROM {table} ORDER BY id")]

    def troubles(self) -> list[str]:
        return [row["message"] for row in self.rows("incident")]

    def probe(self, name: str) -> dict[str, Any]:
        found: dict[str, Any] = next(p for p in self.call("status")["probes"] if p["id"] == name)
        return found


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[ProbedYard]:
    found = ProbedYard(tmp_path)
    yield found
    found.close()


def begin(yard: ProbedYard, *zones: str) -> dict[str, Any]:
    reply: dict[str, Any] = yard.call(
        "count_washes", trial="quay-1", zones=list(zones), counter="hub"
    )
    return reply


def washed(yard: ProbedYard) -> list[tuple[str, int, int | None]]:
    return [(w.zones, w.washes, w.reading_id) for w in yard.washes()]


def test_each_stroke_is_a_wash_of_the_zones_named_and_goes_back_to_its_reading(
    yard: ProbedYard,
) -> None:
    yard.stroke(1)
    assert washed(yard) == []  # nobody has said yet what it is to count
    assert begin(yard, "A1", "A3")["zones"] == ["A1", "A3"]
    yard.stroke(2)
    yard.stroke(3)
    readings = [row["reading_id"] for row in yard.readings("instrument = 'hub'")]
    assert washed(yard) == [("A1,A3", 1, readings[1]), ("A1,A3", 1, readings[2])]
    assert [w.counted_by for w in yard.washes()] == ["hub", "hub"]
    assert yard.call("stop_counting", counter="hub")["trial"] == "quay-1"
    yard.stroke(4)
    assert len(washed(yard)) == 2


def test_a_running_count_that_went_on_by_two_is_two_washes(yard: ProbedYard) -> None:
    yard.total(117)
    assert begin(yard)["total"] == 117
    yard.total(119)
    assert [washes for _, washes, _ in washed(yard)] == [2]


def test_a_recipe_says_how_many_strokes_are_a_wash(tmp_path: Path) -> None:
    recipe = "[trial.recipe]\nstrokes_per_wash = 3\n\n[panel]"
    yard = ProbedYard(tmp_path, PLAN.replace("[panel]", recipe))
    assert begin(yard)["strokes_per_wash"] == 3
    for press in range(1, 6):
        yard.stroke(press)
    assert [washes for _, washes, _ in washed(yard)] == [1]
    assert yard.probe("hub")["counting"]["over"] == 2
    assert yard.call("stop_counting", counter="hub")["over"] == 2
    yard.close()


@pytest.mark.parametrize(
    ("happens", "counted", "words"),
    [
        (lambda y: (y.stroke(1), y.stroke(1, Flag.REPEAT)), 1, "sent twice"),
        (lambda y: (y.stroke(1), y.stroke(4)), 2, "2 strokes in between never came"),
        (lambda y: (y.total(3), y.total(90)), 0, "leaps from 3 to 90"),
        (lambda y: (y.total(9), y.total(2)), 0, "went back from 9 to 2"),
        (lambda y: (y.total(9), y.unplug("hub"), y.plug("hub"), y.total(12)), 0, "was away"),
        (lambda y: (y.total(9), y.lost_bytes("hub"), y.total(12)), 0, "was away"),
        (lambda y: (y.stroke(5), y.tell("hub", NoticeKind.POWER_UP), y.stroke(1)), 2, "anew"),
    ],
)
def test_what_of_a_counter_does_not_fit_is_told_and_never_silently_counted(
    yard: ProbedYard, happens: Any, counted: int, words: str
) -> None:
    begin(yard)
    happens(yard)
    assert sum(washes for _, washes, _ in washed(yard)) == counted
    (told,) = yard.troubles()
    assert words in told
    assert told.endswith("Next: coatbench wash quay-1 --count N, if those were washes")


def test_another_counter_at_the_same_port_counts_nothing(yard: ProbedYard) -> None:
    begin(yard)
    yard.tell("hub", NoticeKind.IDENTITY, "HB-9999")
    yard.stroke(1)
    assert washed(yard) == []
    assert "serial HB-9999 answers, wanted HB-0042" in yard.troubles()[0]
    with pytest.raises(Refused, match="serial HB-9999"):
        begin(yard)


def test_a_restart_counts_nothing_until_somebody_says_so_again(yard: ProbedYard) -> None:
    begin(yard)
    yard.stroke(1)
    yard.restart()
    yard.stroke(2)
    assert len(washed(yard)) == 1
    assert yard.probe("hub")["counting"] is None


@pytest.mark.parametrize(
    ("before", "after", "counted", "words"),
    [
        (lambda y: y.stroke(2), lambda y: y.stroke(4), 1, "1 stroke in between never came"),
        (lambda y: y.stroke(9), lambda y: y.stroke(1), 1, "it began anew"),
        (lambda y: y.total(9), lambda y: y.total(12), 0, "went on by 3 while it was away"),
        (lambda y: y.stroke(2), lambda y: y.stroke(3), 1, ""),
    ],
)
def test_what_was_stroked_while_the_daemon_was_dead_is_told_where_it_counts_again(
    yard: ProbedYard, before: Any, after: Any, counted: int, words: str
) -> None:
    begin(yard)
    before(yard)
    had = sum(washes for _, washes, _ in washed(yard))
    yard.restart()
    yard.plug("hub")
    begin(yard)
    after(yard)
    assert sum(washes for _, washes, _ in washed(yard)) == had + counted
    told = yard.troubles()
    assert [words in one for one in told] == [True] * bool(words)
    assert load_trial(yard.bench.store, "quay-1").troubles[-1:] == tuple(
        TroubleRecord(row["at_utc_ns"], "hub", "wash counter", row["message"].split(". Next:")[0])
        for row in yard.rows("incident")
    )


def test_a_leap_that_came_before_anybody_said_what_to_count_is_told_with_the_next_stroke(
    yard: ProbedYard,
) -> None:
    begin(yard)
    yard.total(9)
    yard.restart()
    yard.plug("hub")
    yard.total(12)
    assert begin(yard)["total"] == 12
    yard.total(13)
    assert [w for _, w, _ in washed(yard)] == [1]
    assert "went on by 3 while it was away" in yard.troubles()[0]


def due_strokes(yard: ProbedYard) -> list[tuple[str, str]]:
    """What is said of strokes that nobody counted, in `next`, and in `trial show` which asks it."""
    with StoreReader(yard.bench.store) as store:
        plan = stored_plan(store.rows, "quay-1")
        now_utc_ns = yard.clock.now().utc_ns
        works = Works(store, yard.bench)
        found = dues_of(works, plan, now_utc_ns)
        told = [due for due in found if "stroked" in due.what]
        assert told == strokes_of(works, plan, now_utc_ns)
    return [(due.what, due.command) for due in told]


def test_strokes_that_nobody_counted_are_due_until_the_next_wash_is_counted(
    yard: ProbedYard,
) -> None:
    yard.stroke(1)
    assert due_strokes(yard) == []  # nothing is on yet that could be washed
    yard.clock.advance(60)
    yard.call("apply", trial="quay-1", zones=["A1"])
    assert due_strokes(yard) == []
    yard.stroke(2)
    yard.stroke(3)
    yard.stroke(3, Flag.REPEAT)
    yard.stroke(5)  # one in between never came
    ((what, command),) = due_strokes(yard)
    assert what.startswith("hub was stroked 4 times at ")
    assert command == "coatbench wash quay-1 --count 4"
    begin(yard)  # saying that it counts from now on does not say what was before
    assert len(due_strokes(yard)) == 1
    yard.stroke(6)
    assert due_strokes(yard) == []
    yard.call("stop_counting", counter="hub")
    yard.restart()
    yard.plug("hub")
    yard.stroke(9)
    ((what, _),) = due_strokes(yard)
    assert what.startswith("hub was stroked 3 times at ")
    yard.call("wash", trial="quay-1", zones=[], washes=3)
    assert due_strokes(yard) == []


def test_a_counter_counts_for_one_trial_and_a_closed_one_is_left(yard: ProbedYard) -> None:
    begin(yard)
    begin(yard, "A1")  # of the same trial: other zones from now on
    yard.stroke(1)
    assert [zones for zones, _, _ in washed(yard)] == ["A1"]
    yard.call("close_trial", trial="quay-1", why="over")
    yard.stroke(2)
    assert len(washed(yard)) == 1
    assert "a stroke is not counted: trial quay-1 is closed" in yard.troubles()[0]
    assert yard.probe("hub")["counting"] is None


def test_a_counter_that_is_not_there_or_none_is_refused(yard: ProbedYard) -> None:
    yard.unplug("hub")
    with pytest.raises(Refused, match="hub counts no washes"):
        begin(yard)
    for name in ("hygro", "shore", "nobody"):
        with pytest.raises(NotFound, match="the bench has no counter"):
            yard.call("count_washes", trial="quay-1", counter=name)


def test_nothing_that_a_probe_tells_can_be_checked_read_or_given_a_place(yard: ProbedYard) -> None:
    yard.stroke(1)
    yard.room("21.4", "48")
    for call, more in (
        ("begin_check", {}), ("readjusted", {}),
        ("begin_run", {"text": PLAN, "source": "t", "stage": "bare", "measure": "gloss20"}),
    ):  # fmt: skip
        with pytest.raises(NotFound, match="hub measures no surface"):
            yard.call(call, instrument="hub", **more)
    yard.check("shore")
    yard.begin("bare", text=PLAN)
    yard.press("shore", "82.0")
    for row in yard.readings("instrument IN ('hub', 'hygro')"):
        assert row["role"] == "loose"
        with pytest.raises((Refused, NotFound)):
            yard.call(
                "assign", reading_id=row["reading_id"], trial="quay-1", measure="gloss20",
                zone="A2", stage="bare", replicate=1, reason="why not",
            )  # fmt: skip
    with StoreReader(yard.bench.store) as reader:
        assert count_loose(reader) == 0


# -- the room -------------------------------------------------------------------------------------


def test_a_probe_tells_the_rooms_climate_by_its_readings(yard: ProbedYard) -> None:
    yard.room("21.4", "48.2")
    (row,) = yard.rows("climate")
    by = [r["reading_id"] for r in yard.readings("instrument = 'hygro'")]
    assert (row["temperature_c"], row["humidity_percent"], row["source"]) == (
        "21.4", "48.2", "hygro",
    )  # fmt: skip
    assert [row["temperature_reading_id"], row["humidity_reading_id"]] == by
    told = yard.call("status")["climate"]
    assert (told["temperature_c"], told["source"], told["age_s"]) == ("21.4", "hygro", 0.0)


def test_what_a_probe_told_before_a_silence_is_the_rooms_climate_too(yard: ProbedYard) -> None:
    """Of several lines taken together nobody knows before the silence behind them."""
    warm = yard.told("hygro", "temperature", "21.4")
    yard.store(yard.desk.take_in(Batch("hygro", 1, facts=(warm,))))
    climate = yard.call("status")["climate"]
    assert (climate["temperature_c"], climate["source"]) == ("21.4", "hygro")


def test_temperature_and_humidity_are_two_readings_and_one_word_wherever_they_are_told(
    yard: ProbedYard,
) -> None:
    stored = yard.room("21.4", "48")
    warm, damp = yard.readings("instrument = 'hygro'")
    one = "21.4 °C, 48 % humidity"
    # In the status for a person and for a program.
    status = yard.call("status")
    assert f"room     {one}, by hygro 0 s ago" in "\n".join(status_lines(status))
    probe = yard.probe("hygro")
    halves = {probe[part]["channel"]: probe[part]["reading_id"] for part in ("last", "beside")}
    assert halves == {"temperature": warm["reading_id"], "humidity": damp["reading_id"]}
    # As it happens: the readings are not told, the room is, once.
    story = Story()
    items = [row_item(row) for row in stored]
    told = [h.text for h in map(story.fold, items) if h is not None]
    assert told == [f"the room has {one}"]
    # On the page, beside the check that was made so.
    yard.check("shore")
    yard.begin("bare", text=PLAN)
    yard.press("shore", "80.0")
    record = load_trial(yard.bench.store, "quay-1")
    (check,) = record.checks
    assert check.climate == (
        f"{one}, by hygro (readings {warm['reading_id']} and {damp['reading_id']})"
    )
    # In the rows for programs both stand, as two of one moment, and count for nothing.
    with StoreReader(yard.bench.store) as store:
        rows = [r for r in records(store, Scope(everything=True)) if r["quantity"] == "climate"]
    assert [(r["channel"], r["value"], r["unit"], r["counts"]) for r in rows] == [
        ("temperature", Decimal("21.4"), "degree_celsius", 0),
        ("humidity", Decimal(48), "percent", 0),
    ]
    assert len({r["at_utc_ns"] for r in rows}) == 1


def test_half_of_an_answer_is_beside_nothing_that_was_told_before(yard: ProbedYard) -> None:
    yard.room("21.4", "48")
    yard.room("22.0")
    assert yard.probe("hygro")["beside"] is None
    assert yard.probe("hygro")["last"]["value"] == "22.0"


def test_the_proof_of_half_a_climate_names_the_other_half_of_that_moment(yard: ProbedYard) -> None:
    yard.room("21.4", "48")
    yard.room("22.0", "51")
    yard.room("22.1")
    warm, damp, *_, alone = [r["reading_id"] for r in yard.readings("instrument = 'hygro'")]
    told = "\n".join(prove(yard.bench.store, warm).lines)
    assert f"of the same moment: 48 % (humidity), reading {damp}" in told
    assert told.count("of the same moment") == 1
    told = "\n".join(prove(yard.bench.store, damp).lines)
    assert f"of the same moment: 21.4 °C (temperature), reading {warm}" in told
    assert "of the same moment" not in "\n".join(prove(yard.bench.store, alone).lines)


def test_only_what_is_news_is_written_and_once_a_minute_anyhow(yard: ProbedYard) -> None:
    for temperature, humidity in (("21.4", "48"), ("21.5", "49"), ("21.4", None), ("21.7", "48")):
        yard.room(temperature, humidity)
    assert [r["temperature_c"] for r in yard.rows("climate")] == ["21.4", "21.7"]
    yard.room("21.7", "51")
    yard.room("21.7", "51", after_s=61)
    assert [r["humidity_percent"] for r in yard.rows("climate")] == ["48", "48", "51", "51"]


def test_what_no_room_has_is_told_once_and_not_used(yard: ProbedYard) -> None:
    for temperature in ("21.0", "85.0", "85.0", "21.1"):
        yard.room(temperature)
    assert ["85.0 °C" in told for told in yard.troubles()] == [True]
    assert str(yard.desk.keeper.climate.latest.temperature_c) == "21.1"


class Strict(ProbedYard):
    ambient = AmbientRule(60.0, temperature_change_c=Decimal(2))


def test_a_check_goes_by_the_room_as_the_probe_tells_it_and_as_it_is_typed(
    tmp_path: Path,
) -> None:
    yard = Strict(tmp_path)
    with pytest.raises(Refused, match="nobody has entered the room's climate"):
        yard.check("shore")
    yard.room("21.0")
    yard.check("shore")
    yard.room("23.5")
    ended = yard.rows("pass_end")
    assert [row["reason"] for row in ended] == ["temperature"]
    # What ended it is written down with it.
    assert yard.rows("climate")[-1]["temperature_c"] == "23.5"
    yard.act(lambda at: yard.acts.climate.enter(Decimal("21.0"), None, at))
    yard.check("shore")
    yard.clock.advance(61)
    yard.tick()
    assert yard.rows("pass_end")[-1]["reason"] == "climate not known"
    yard.close()


def test_the_page_names_counted_washes_by_the_numbers_that_lead_to_their_bytes(
    yard: ProbedYard,
) -> None:
    begin(yard)
    for press in (1, 2, 3):
        yard.stroke(press)
    yard.call("wash", trial="quay-1", by_key=True)
    part = work_part(load_trial(yard.bench.store, "quay-1"))
    assert [(line.washes, line.how) for line in part.washes] == [
        ("+3", "counted by hub, a counter: wash 1 to 3"), ("+1", "counted by key"),
    ]  # fmt: skip


def test_a_wash_goes_back_to_its_stroke_and_one_by_key_to_a_persons_word(
    yard: ProbedYard,
) -> None:
    begin(yard)
    yard.stroke(1)
    yard.call("wash", trial="quay-1", by_key=True)
    # This yard has no profile to play the bytes with: that is told, and proves nothing.
    counted, by_key = (prove_wash(yard.bench.store, number) for number in (1, 2))
    assert not counted.holds
    assert "b'stroke 1 1" in "\n".join(counted.lines)
    assert "it can count as no measure" in "\n".join(counted.lines)
    assert by_key.lines[-1] == "counted by a key: a person's word, with no bytes behind it"
    with pytest.raises(NotFound, match="there is no wash 3"):
        prove_wash(yard.bench.store, 3)
