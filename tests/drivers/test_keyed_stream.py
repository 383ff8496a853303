"""Whatever is typed, in whatever pieces and whenever: nothing is a reading that may not be one."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from acquire.driverapi.conformance import START
from acquire.driverapi.guard import Guard
from acquire.model import Fact, Instant, Noise, Notice, Reading
from drivers.keyed import FAMILY
from tests.captures import profile

PROFILES = {name: profile(name) for name in ("keyed-gloss", "keyed-gloss-20", "keyed-bands")}

values = st.sampled_from(
    ["91.4", "91.40", "-1", "200", "200.1", "91,4", "91.45", "OL", "0.0", "1e2", "NaN", "٣"]
)
words = st.sampled_from(["20", "60", "85", "45", "adjusted", "off", "OFF", " ", ""])
lines = st.lists(values | words, max_size=5).map(lambda some: " ".join(some).encode() + b"\n")
pieces = st.tuples(
    st.sampled_from([0, 0.2, 0.5, 1, 30, 59.999, 60, 61]),
    st.one_of(lines, lines, lines, st.binary(max_size=80)),
)


def typed(table: dict[str, Any], entries: list[tuple[float, bytes]], *, asks: bool) -> list[Fact]:
    """The facts of a conversation, as a session hands them over."""
    driver, guard, now = FAMILY.driver(table, "profile"), Guard("keyed", START), START
    facts: list[Fact] = []
    for after_s, data in entries:
        ns = round(after_s * 1e9)
        now = Instant(now.utc_ns + ns, now.mono_ns + ns)
        if asks:
            guard.tell(now)
            again = driver.due(now).again
            assert again is None or again.mono_ns > now.mono_ns
        facts += guard.facts(driver.feed(data, now), data, now)
    return facts + guard.facts(driver.lost(now), b"", now)


@given(name=st.sampled_from(sorted(PROFILES)), entries=st.lists(pieces, max_size=12))
def test_a_reading_is_in_range_on_the_step_and_typed_twice(
    name: str, entries: list[tuple[float, bytes]]
) -> None:
    table = PROFILES[name]
    facts = typed(table, entries, asks=True)
    assert facts == typed(table, entries, asks=False), "what time does is the same unasked"
    entry = table["entry"]
    low, high, step = (Decimal(str(entry[key])) for key in ("low", "high", "step"))
    received = b"".join(data for _, data in entries)
    for place, fact in enumerate(facts):
        assert isinstance(fact, Reading | Noise | Notice)
        assert received[fact.start : fact.end] == fact.raw
        if not isinstance(fact, Reading):
            continue
        assert fact.value is None or (low <= fact.value <= high and fact.value % step == 0)
        # Readings of one line share its bytes; what stands before them is the first entry.
        before = next(f for f in reversed(facts[:place]) if f.start != fact.start)
        assert isinstance(before, Notice)
        assert before.kind == "typed once"
        assert fact.at.seconds_since(before.at) < entry.get("within_s", 60)
    bytes_of_facts = {(fact.start, fact.end): fact.raw for fact in facts}.values()
    assert b"".join(bytes_of_facts) == received.replace(b"\n", b"")
