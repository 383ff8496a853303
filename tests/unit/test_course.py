"""The course of a run: plan order, skip and come back, void and retake."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from acquire.model import Slot, Target
from acquire.pipeline.course import Course, Filling, spelled

TARGETS = [Target(z, "bare", r) for r in (1, 2) for z in ("A1", "A2", "A3")]


def course(channels: tuple[str, ...] = ("20",)) -> Course:
    return Course(TARGETS, channels, {})


def test_readings_fill_targets_in_plan_order() -> None:
    c = course()
    seen = []
    while c.next is not None:
        seen.append(c.next)
        c.fill("20", Filling(len(seen), 90.0))
    assert seen == TARGETS
    assert c.slots_left == 0


def test_a_skipped_target_comes_back_at_the_end() -> None:
    c = course()
    c.skip()
    order = []
    while c.next is not None:
        order.append(c.next)
        c.fill("20", Filling(len(order), 90.0))
    assert order == [*TARGETS[1:], TARGETS[0]]


def test_back_goes_to_the_open_target_before() -> None:
    c = course()
    c.skip()
    c.skip()
    c.back()
    assert c.next == TARGETS[1]


def test_back_stays_at_the_first_open_target_and_says_so() -> None:
    c = course()
    assert not c.back()
    assert c.next == TARGETS[0]
    c.fill("20", Filling(1, 90.0))
    c.skip()
    assert c.back()
    assert not c.back()
    assert c.next == TARGETS[1]


def test_what_was_skipped_is_known_until_it_is_filled() -> None:
    c = course()
    c.skip()
    assert c.skipped == [TARGETS[0]]
    assert c.open_targets("20") == TARGETS
    c.go_to("A1", 1)
    c.fill("20", Filling(1, 90.0))
    assert c.skipped == []
    assert c.open_targets("20") == TARGETS[1:]
    assert c.open_targets("60") == []


def test_places_are_spelled_in_short_by_zone() -> None:
    def spell(*places: tuple[str, int]) -> str:
        return spelled([Target(zone, "bare", number) for zone, number in places])

    assert spell() == "none"
    assert spell(("A1", 1), ("A2", 3), ("A1", 2)) == "A1 1, 2; A2 3"
    assert spell(("A1", 1), ("A1", 2), ("A1", 3), ("A1", 5)) == "A1 1 to 3, 5"
    assert spell(*((f"Z{i}", 1) for i in range(11))) == (
        "Z0 1; Z1 1; Z2 1; Z3 1; Z4 1; Z5 1; Z6 1; Z7 1; and 3 zones more"
    )


def test_a_voided_reading_opens_its_place_and_comes_next() -> None:
    c = course()
    for i in range(4):
        c.fill("20", Filling(i, 90.0 + i))
    c.reopen(Slot(TARGETS[1], "20"), 1)
    assert c.next == TARGETS[1]
    assert c.mean("A2", "20") == (0, None)
    c.fill("20", Filling(9, 95.0))
    assert c.next == TARGETS[4]


def test_where_no_other_place_is_open_a_voided_one_stays_the_first_to_be_filled() -> None:
    c = course()
    for number in range(len(TARGETS)):
        c.fill("20", Filling(number, 90.0))
    assert c.reopen(Slot(TARGETS[1], "20"), 1)
    before = c.stand
    assert not c.skip()
    assert c.stand == before
    assert before.reopened == {TARGETS[1]}


def test_several_voided_places_come_in_plan_order_and_then_the_course_goes_on() -> None:
    c = course()
    for i in range(4):
        c.fill("20", Filling(i, 90.0))
    for i in (2, 0, 1):
        c.reopen(Slot(TARGETS[i], "20"), i)
    seen = []
    for i in range(5):
        seen.append(c.next)
        c.fill("20", Filling(10 + i, 91.0))
    assert seen == [*TARGETS[:3], *TARGETS[4:6]]


def test_voiding_a_reading_that_no_longer_holds_the_place_changes_nothing() -> None:
    c = course()
    c.fill("20", Filling(1, 90.0))
    c.reopen(Slot(TARGETS[0], "20"), 77)
    assert c.next == TARGETS[1]


def test_a_target_of_two_geometries_waits_for_both() -> None:
    c = course(("20", "60"))
    c.fill("60", Filling(1, 95.0))
    assert c.next == TARGETS[0]
    assert c.wanted(TARGETS[0]) == ("20",)
    c.fill("20", Filling(2, 90.0))
    assert c.next == TARGETS[1]


def test_what_earlier_runs_filled_is_not_offered_again() -> None:
    c = Course(TARGETS, ("20",), {Slot(TARGETS[0], "20"): Filling(5, 91.0)})
    assert c.next == TARGETS[1]
    assert c.mean("A1", "20") == (1, 91.0)


@given(st.lists(st.sampled_from(["fill", "skip", "back", "void", "goto"]), max_size=60))
def test_whatever_the_person_does_the_next_target_is_open_and_the_count_is_right(
    acts: list[str],
) -> None:
    c = course(("20", "60"))
    held: dict[Slot, int] = {}
    for i, act in enumerate(acts):
        if act == "fill" and c.next is not None:
            channel = c.wanted(c.next)[0]
            held[Slot(c.next, channel)] = i
            c.fill(channel, Filling(i, float(i)))
        elif act == "skip":
            c.skip()
        elif act == "back":
            c.back()
        elif act == "void" and held:
            slot = sorted(held)[i % len(held)]
            c.reopen(slot, held.pop(slot))
            assert c.next is not None
            assert TARGETS.index(c.next) <= TARGETS.index(slot.target)
        elif act == "goto":
            c.go_to("A2", None)
        assert c.slots_left == c.slots_total - len(held)
        if c.next is None:
            assert c.slots_left == 0
        else:
            assert c.wanted(c.next)
    for zone in ("A1", "A2", "A3"):
        count, _ = c.mean(zone, "20")
        assert count == sum(1 for s in held if s.target.zone == zone and s.channel == "20")
