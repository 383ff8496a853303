"""The board of a run: what it shows of the desk, what its keys ask for, how it ends."""

from __future__ import annotations

from datetime import UTC
from pathlib import Path

import pytest

from acquire.control.calls import act_of
from acquire.errors import ControlError
from acquire.live.blocks import keys_of
from acquire.live.board import Ask, Ending
from acquire.live.feed import Gone, Stood, Told
from acquire.live.past import recall, run_board
from acquire.live.places import Places, Wanted
from acquire.live.runboard import RunBoard
from acquire.live.runscreen import CHECKING_KEYS, KEYS
from acquire.live.story import Story
from acquire.live.tone import Tone
from acquire.model import Target
from acquire.store import StoreReader
from tests.unit.seen import Seen
from tests.yard import TRIAL


def test_the_next_target_and_the_running_mean_follow_the_readings(seen: Seen) -> None:
    board = seen.run_board()
    assert board.next_words() == "zone A1 (untreated), bare, replicate 1 of 2"
    assert board.means() == ""
    seen.press("80.1", "81.2", "80.4")
    assert board.next_words() == "zone A2 (Brine Shield), bare, replicate 2 of 2"
    assert board.means() == "zone A1: mean 80.25 GU of 2"
    assert board.last is not None
    assert board.last["value"] == "80.4"


def test_a_loose_reading_leaves_the_mean_of_the_zone_in_sight(seen: Seen) -> None:
    board = seen.run_board()
    seen.press("80.1")
    seen.yard.clock.advance(4000)
    seen.hear(seen.yard.tick())
    seen.press("99.9")
    assert board.last is not None
    assert board.last["role"] == "loose"
    assert board.means() == "zone A1: mean 80.10 GU of 1"


def test_the_mean_counts_a_reading_that_a_loose_one_followed_at_once(seen: Seen) -> None:
    board = seen.run_board()
    seen.press("80.1")
    seen.hear([*seen.yard.press("shore", "81.2"), *seen.yard.press("shore", None)])
    assert board.last is not None
    assert board.last["role"] == "loose"
    assert board.means() == "zone A2: mean 81.20 GU of 1"


def test_a_shut_gate_is_a_stop_sign_with_reason_and_next_step(seen: Seen) -> None:
    board = seen.run_board()
    assert board.stop_sign() is None
    seen.yard.clock.advance(4000)
    seen.hear(seen.yard.tick())
    sign = board.stop_sign()
    assert sign is not None
    assert sign[0].startswith("BLOCKED")
    assert "older than" in sign[1]
    assert sign[2] == "coatbench check shore"


def test_a_check_begun_from_the_run_leads_through_its_pieces_and_reopens_the_gate(
    seen: Seen,
) -> None:
    board = seen.run_board()
    seen.yard.clock.advance(4000)
    seen.hear(seen.yard.tick())
    seen.press_keys(board, "c")
    sign = board.stop_sign()
    assert sign is not None
    assert sign[:2] == ("CHECK UNDER WAY", "piece 1 of 2: place shore on T1 and press 2 times")
    seen.press("93.2", "93.2", "0.0", "0.0")
    assert board.stop_sign() is None
    assert board.taken == []


def test_a_key_of_places_says_that_a_check_is_under_way_and_changes_nothing(seen: Seen) -> None:
    board = seen.run_board()
    seen.press("80.1")
    seen.press_keys(board, "c")
    before = board.next_words()
    assert board.press("s") == []
    assert board.prompt is None
    assert board.message_tone is Tone.REFUSED
    assert board.message.startswith(
        "a check is under way: place shore on T1 and press 2 times. Next: when it has passed, "
    )
    assert board.next_words() == before


def test_an_unplugged_meter_is_a_stop_sign(seen: Seen) -> None:
    board = seen.run_board()
    seen.hear(seen.yard.unplug("shore"))
    assert board.stop_sign() is not None


def test_skip_back_and_go_to_steer_the_course(seen: Seen) -> None:
    board = seen.run_board()
    seen.press_keys(board, "s")
    assert "zone A2" in board.next_words()
    seen.press_keys(board, "b")
    assert "zone A1" in board.next_words()
    seen.press_keys(board, "g", "A2 2", "enter")
    assert board.next_words() == "zone A2 (Brine Shield), bare, replicate 2 of 2"
    seen.press_keys(board, "g", "A1", "enter")
    assert "zone A1" in board.next_words()


def test_a_zone_that_is_not_there_is_refused_in_words(seen: Seen) -> None:
    board = seen.run_board()
    seen.press_keys(board, "g", "Q9", "enter")
    assert board.message_tone is Tone.REFUSED
    assert board.message == "there is no zone Q9. Next: g and one of A1, A2"


def test_a_replicate_that_is_not_there_and_places_that_are_filled_are_told_apart(
    seen: Seen,
) -> None:
    board = seen.run_board()
    seen.press_keys(board, "g", "A1 7", "enter")
    assert board.message == "zone A1 has no replicate 7. Next: g A1 and one of 1 to 2"
    seen.press("80.1", "81.2", "80.4")
    seen.press_keys(board, "g", "a1", "enter")
    assert board.message.startswith("zone A1 has every place filled. Next: ")
    seen.press_keys(board, "g", "a2 1", "enter")
    assert board.message.startswith("zone A2 replicate 1 is filled. Next: ")
    assert board.message_tone is Tone.REFUSED


def test_capitals_of_a_zone_do_not_matter_unless_two_zones_differ_in_nothing_else() -> None:
    places = Places([Target(z, "bare", r) for z in ("A1", "b", "B", "Deck 2") for r in (1, 2)])
    assert places.find("a1 2") == Wanted("A1", 2)
    assert places.find("b") == Wanted("b", None)
    assert places.find("deck 2") == Wanted("Deck 2", None)
    assert places.find("deck 2 1") == Wanted("Deck 2", 1)
    either = Places([Target(z, "bare", 1) for z in ("ab", "AB")])
    assert either.find("Ab 1") == "Ab may be ab or AB. Next: g, as written"


def test_going_back_stays_at_the_first_open_place_and_says_so(seen: Seen) -> None:
    board = seen.run_board()
    seen.press_keys(board, "b")
    assert board.message == (
        "A1 replicate 1 is the first open place; none is before it. Next: g goes to any zone"
    )
    assert board.next_words().startswith("zone A1 ")
    seen.press_keys(board, "s", "s", "b")
    assert board.message == "next: A2 replicate 1"


def test_the_only_open_place_cannot_be_skipped(seen: Seen) -> None:
    board = seen.run_board()
    seen.press("80.1", "80.2", "80.3")
    seen.press_keys(board, "s")
    assert board.message == "A2 replicate 2 is the only open place; nothing was skipped"


def test_void_names_the_reading_and_wants_a_reason_and_its_place_comes_next(seen: Seen) -> None:
    board = seen.run_board()
    seen.press("80.1", "81.2")
    asked = board.press("v")
    assert asked == []
    assert board.prompt is not None
    assert board.prompt.question == ("why is reading 6 (81.2 GU at 20°, A2 replicate 1) void")
    seen.press_keys(board, "slipped!", "backspace", "enter")
    (void,) = seen.yard.readings("void_reason IS NOT NULL")
    assert (void["reading_id"], void["void_reason"]) == (6, "slipped")
    assert board.next_words() == "zone A2 (Brine Shield), bare, replicate 1 of 2"
    assert board.message == (
        "reading 6 (81.2 GU at 20°, A2 replicate 1, bare) is void; its place is open again"
    )


def test_the_last_reading_of_the_run_can_be_voided_by_a_board_that_never_saw_it(
    seen: Seen,
) -> None:
    seen.run_board()
    seen.press("80.1")
    late = seen.run_board()
    assert late.taken == []
    late.press("v")
    assert late.prompt is not None
    assert late.prompt.question == "why is reading 5 (80.1 GU at 20°, A1 replicate 1) void"


def test_v_in_a_check_begun_from_the_run_voids_the_reading_of_the_piece(seen: Seen) -> None:
    board = seen.run_board()
    seen.press("80.1")
    seen.press_keys(board, "c")
    seen.press("61.0")
    seen.press_keys(board, "v", "slipped", "enter")
    assert board.message == "reading 6 (61.0 GU at 20°, piece T1) is void; T1 is read anew in full"
    assert [t[0] for t in board.taken] == [5]


def test_a_meter_that_cannot_be_asked_is_not_asked_and_its_key_not_offered(seen: Seen) -> None:
    board = seen.run_board()
    assert board.press("t") == []
    assert board.message == ("shore cannot be asked for a reading. Next: press the button of shore")
    assert ("t", "take") not in keys_of(KEYS, board, "shore")
    seen.takers.add("shore")
    seen.hear([])
    assert board.press("t") == [Ask("take", {"instrument": "shore"})]
    assert ("t", "take") in keys_of(KEYS, board, "shore")


def test_a_reading_that_comes_while_the_reason_is_typed_is_not_the_one_that_goes(
    seen: Seen,
) -> None:
    board = seen.run_board()
    seen.press("80.1")
    board.press("v")
    seen.press("81.2")
    seen.press_keys(board, "dust", "enter")
    (void,) = seen.yard.readings("void_reason IS NOT NULL")
    assert void["value"] == "80.1"


def test_void_twice_takes_the_one_before_too(seen: Seen) -> None:
    board = seen.run_board()
    seen.press("80.1", "81.2")
    seen.press_keys(board, "v", "dust", "enter", "v", "dust", "enter")
    assert [r["value"] for r in seen.yard.readings("void_reason IS NOT NULL")] == ["80.1", "81.2"]


def test_no_reason_and_escape_void_nothing(seen: Seen) -> None:
    board = seen.run_board()
    seen.press("80.1")
    seen.press_keys(board, "v", "  ", "enter", "v", "dust", "escape")
    assert seen.yard.readings("void_reason IS NOT NULL") == []
    assert board.prompt is None


def test_void_with_nothing_taken_says_so(seen: Seen) -> None:
    board = seen.run_board()
    seen.press_keys(board, "v")
    assert board.prompt is None
    assert "there is nothing to void" in board.message
    assert "coatbench readings" in board.message


def test_letters_typed_into_a_prompt_are_no_keys(seen: Seen) -> None:
    board = seen.run_board()
    seen.press_keys(board, "g", "qsf?")
    assert board.ending is None
    assert board.prompt is not None
    assert board.prompt.text == "qsf?"


def test_enter_finishes_only_when_all_is_taken(seen: Seen) -> None:
    board = seen.run_board()
    assert board.press("enter") == []
    seen.press("80.1", "81.2", "80.4", "81.4")
    assert board.is_complete
    seen.press_keys(board, "enter")
    assert board.ending == Ending("ended", open_slots=0)
    assert seen.yard.writer.query("SELECT why FROM run_end")[0][0] == "complete"


def test_finishing_early_asks_for_the_reason(seen: Seen) -> None:
    board = seen.run_board()
    seen.press("80.1")
    seen.press_keys(board, "f")
    assert board.prompt is not None
    assert board.prompt.question == "3 readings still to take; why finish now"
    seen.press_keys(board, "rain", "enter")
    assert board.ending == Ending("ended", open_slots=3)
    assert seen.yard.writer.query("SELECT why FROM run_end")[0][0] == "rain"


def test_leaving_leaves_the_run_open(seen: Seen) -> None:
    board = seen.run_board()
    assert board.press("q") == []
    assert board.ending == Ending("left")
    assert seen.yard.desk.run is not None


def test_a_run_ended_elsewhere_ends_the_board_even_if_its_row_was_missed(seen: Seen) -> None:
    board = seen.run_board()
    seen.yard.act(lambda at: seen.yard.acts.runs.finish("", at))
    seen.hear([])
    assert board.ending == Ending("ended", open_slots=4)


def test_a_status_from_before_the_run_does_not_end_the_board(tmp_path: Path) -> None:
    seen = Seen(tmp_path)
    seen.yard.plug("shore")
    seen.yard.check("shore")
    before = seen.status()
    seen.yard.begin()
    board = seen.run_board()
    fresh = RunBoard(board.story, run_id=board.run_id, meter="shore")
    fresh.fold(Stood(before))
    assert fresh.ending is None
    fresh.fold(Stood(seen.status()))
    assert fresh.run is not None
    seen.close()


def test_a_daemon_that_is_gone_ends_the_board_with_its_error(seen: Seen) -> None:
    board = seen.run_board()
    error = ControlError("the daemon has stopped")
    board.fold(Gone(error))
    assert board.ending == Ending("gone", error)


def test_the_cautions_cover_the_board_until_a_key_and_that_key_does_nothing_else(
    seen: Seen,
) -> None:
    board = seen.run_board()
    board.page = ["BEFORE YOU BEGIN"]
    assert board.press("q") == []
    assert not board.page
    assert board.ending is None
    board.press("?")
    assert board.page[0] == "KEYS OF A RUN"


def test_news_tell_each_state_once_and_in_sentences(seen: Seen) -> None:
    board = seen.run_board()
    assert board.news() == ["next: zone A1 (untreated), bare, replicate 1 of 2; 4 readings left"]
    assert board.news() == []
    seen.press("80.1")
    assert len(board.news()) == 1
    seen.yard.clock.advance(4000)
    seen.hear(seen.yard.tick())
    (blocked,) = board.news()
    assert blocked.startswith("BLOCKED, no reading counts now: the check of shore is older than")
    assert blocked.endswith("Next: coatbench check shore")


def test_unattended_a_complete_run_is_finished_once(seen: Seen) -> None:
    board = seen.run_board()
    assert board.unattended() == []
    seen.press("80.1", "81.2", "80.4", "81.4")
    assert board.unattended() == [Ask("finish_run", {"why": "complete"})]
    assert board.unattended() == []


def test_a_meter_of_two_angles_shows_a_mean_for_each(tmp_path: Path) -> None:
    text = TRIAL.replace("geometry = 20", "geometry = [20, 60]")
    seen = Seen(tmp_path)
    seen.yard.plug("shore")
    seen.yard.check("shore")
    seen.yard.begin(text=text)
    board = seen.run_board()
    seen.press("80.1")
    assert board.run is not None
    means = {g: {"count": 2, "mean": 80.0} for g in ("20", "60")}
    status = {**seen.status(), "run": {**board.run, "zone_means": means}}
    board.fold(Stood(status))
    assert board.means() == "zone A1: 20°: mean 80.00 GU of 2; 60°: mean 80.00 GU of 2"
    seen.close()


def test_a_void_within_the_moment_of_its_press_tells_the_place_again(seen: Seen) -> None:
    board = seen.run_board()
    first = "next: zone A1 (untreated), bare, replicate 1 of 2; 4 readings left"
    assert board.news() == [first]
    # Both were stored before anybody asked how the bench stands.
    rows = seen.yard.press("shore", "80.1")
    reading = seen.yard.readings("role = 'run'")[-1]["reading_id"]
    reply = act_of(seen.yard.acts, "void", {"reading_id": reading, "reason": "slipped"})
    seen.hear([*rows, *seen.yard.store(reply(seen.yard.clock.now())[1])])
    assert board.news() == [first]
    assert board.news() == []


def test_a_void_within_the_moment_of_a_press_on_a_piece_tells_the_piece_again(seen: Seen) -> None:
    board = seen.run_board()
    seen.grant(board, [Ask("begin_check", {"instrument": "shore"})])
    (sign,) = [line for line in board.news() if line.startswith("CHECK UNDER WAY")]
    assert "T1" in sign
    rows = seen.yard.press("shore", "93.1")
    reading = seen.yard.readings("role = 'check'")[-1]["reading_id"]
    reply = act_of(seen.yard.acts, "void", {"reading_id": reading, "reason": "slipped"})
    seen.hear([*rows, *seen.yard.store(reply(seen.yard.clock.now())[1])])
    assert board.news() == [sign]
    assert board.news() == []


def test_a_board_opened_late_recalls_readings_and_voids_and_hears_none_twice(seen: Seen) -> None:
    early = seen.run_board()
    seen.press("80.1", "81.2")
    seen.press_keys(early, "v", "dust", "enter")
    late = RunBoard(Story(zone=UTC), run_id=1, meter="shore")
    with StoreReader(seen.yard.bench.store) as store:
        recall(late, store, seen.yard.clock.now().utc_ns)
    late.fold(Stood(seen.status()))
    assert late.last is not None
    assert (late.last["id"], late.last["void_reason"]) == (6, "dust")
    assert late.taken == early.taken == [(5, "80.1 GU at 20°, A1 replicate 1")]
    before = len(late.story.happenings)
    late.fold(Told({"table": "reading", **dict(late.last)}))
    assert len(late.story.happenings) == before


def test_what_is_older_than_an_hour_is_not_recalled_unless_it_is_of_the_run(seen: Seen) -> None:
    seen.press("80.1")
    seen.yard.clock.advance(3700)
    late = RunBoard(Story(zone=UTC), run_id=1, meter="shore")
    now_utc_ns = seen.yard.clock.now().utc_ns
    with StoreReader(seen.yard.bench.store) as store:
        recall(late, store, now_utc_ns)
        assert late.last is None
        late = run_board(store, 1, "shore", now_utc_ns, zone=UTC)
    assert late.last is not None
    assert late.taken == [(5, "80.1 GU at 20°, A1 replicate 1")]


def test_a_run_screen_opened_late_tells_what_has_happened_in_the_run(seen: Seen) -> None:
    seen.press("80.1")
    seen.yard.clock.advance(1)
    seen.yard.unplug("shore")
    seen.yard.clock.advance(1)
    seen.yard.plug("shore")
    with StoreReader(seen.yard.bench.store) as store:
        late = run_board(store, 1, "shore", seen.yard.clock.now().utc_ns, zone=UTC)
    assert [str(h) for h in late.story.happenings][-4:] == [
        "08:00:05 - shore: run 1 began: gloss20, bare",
        "08:00:06 + shore: 80.1 GU at 20° accepted: A1 replicate 1, bare (reading 5)",
        "08:00:07 ! shore: disconnected: shore is gone; check 1 ended with that",
        "08:00:08 - shore: connected as /dev/shore",
    ]
    assert late.ending is None


def test_the_last_word_to_the_person_goes_when_something_newer_happens(seen: Seen) -> None:
    board = seen.run_board()
    seen.press_keys(board, "s")
    assert board.message
    seen.press("80.1")
    assert board.message == ""


def test_a_void_without_a_reason_asks_again_and_takes_no_letter_for_a_key(seen: Seen) -> None:
    board = seen.run_board()
    seen.press("80.1")
    seen.press_keys(board, "v", "enter")
    assert board.prompt is not None
    assert board.prompt.question == (
        "why is reading 5 (80.1 GU at 20°, A1 replicate 1) void; a reason in words"
    )
    seen.press_keys(board, "enter", "slipped", "enter")
    assert board.prompt is None
    assert board.taken == []
    assert board.next_words() == "zone A1 (untreated), bare, replicate 1 of 2"


@pytest.mark.parametrize("value", ["95.5", "61.0", "12.0"])
def test_a_reading_far_from_the_others_of_its_zone_counts_with_a_word(
    tmp_path: Path, value: str
) -> None:
    wide = Seen(tmp_path)
    wide.yard.plug("shore")
    wide.yard.check("shore")
    wide.yard.begin(text=TRIAL.replace("replicates = 2", "replicates = 4"))
    board = wide.run_board()
    wide.press("80.1", "81.2", "80.4", "80.9")
    assert board.message == ""
    wide.press(value)
    assert board.last is not None
    assert board.last["role"] == "run"
    assert board.message == (
        f"{value} GU at 20° is far from the others here (mean 80.25 GU of 2). "
        "Next: if the press slipped, v (or coatbench void --last) voids it"
    )
    wide.press("81.0")
    assert board.message == ""
    wide.close()


def test_no_gloss_at_all_on_a_zone_is_worth_a_word_at_once(seen: Seen) -> None:
    board = seen.run_board()
    seen.press("0.0")
    assert board.message.startswith("0.0 GU at 20° is far from what a zone reads. Next: ")
    assert board.taken == [(5, "0.0 GU at 20°, A1 replicate 1")]


def test_a_press_for_the_run_that_went_into_a_check_is_worth_a_word_on_the_run_s_screen(
    seen: Seen,
) -> None:
    board = seen.run_board()
    seen.yard.act(lambda at: seen.yard.acts.checks.begin("shore", at))
    seen.hear([])
    seen.press("93.1")
    assert board.message == ""
    seen.press("80.1")
    assert board.message.startswith(
        "80.1 GU at 20° is far from 93.2 GU, the certificate of T1. Next: if the press slipped"
    )


def test_a_rocking_meter_is_told_on_the_run_s_screen_too(seen: Seen) -> None:
    board = seen.run_board()
    seen.yard.act(lambda at: seen.yard.acts.checks.begin("shore", at))
    seen.press("93.1", "94.6")
    assert board.message.startswith("T1 scatters by 1.06 GU, more than 0.4 GU: the meter rocks")


def test_a_check_begun_by_mistake_is_left_from_the_run_and_the_pass_goes_on(seen: Seen) -> None:
    board = seen.run_board()
    seen.press("80.1")
    seen.press_keys(board, "c")
    assert [k[0] for k in CHECKING_KEYS if k[1] == "abandon check"] == ["a"]
    assert any("a    abandon such a check" in line for line in board.help())
    seen.press_keys(board, "c")
    assert board.message.endswith("Next: read it, or a abandons it")
    seen.press_keys(board, "a", "no", "enter")
    assert board.message == "the check goes on"
    assert board.checking is not None
    seen.press_keys(board, "a", "yes", "enter")
    assert board.checking is None
    assert board.stop_sign() is None
    seen.press("80.3")
    assert len(board.taken) == 2


def test_a_check_with_readings_is_left_from_the_run_under_the_same_warning_as_elsewhere(
    seen: Seen,
) -> None:
    board = seen.run_board()
    seen.press("80.1")
    seen.press_keys(board, "c")
    seen.press("61.0")
    seen.press_keys(board, "a")
    told = "\n".join(board.page)
    assert "will be judged by what was read: T1 at 20° read 61.00 GU at its one press" in told
    seen.press_keys(board, "x", "yes", "enter")
    sign = board.stop_sign()
    assert sign is not None
    assert sign[0].startswith("BLOCKED")


def test_no_check_under_way_is_none_to_abandon(seen: Seen) -> None:
    board = seen.run_board()
    assert board.press("a") == []
    assert board.prompt is None


def one_press(seen: Seen, values: dict[str, str]) -> list[str]:
    """Values of one press, angle by angle; what is told of each."""
    told = []
    for angle, value in values.items():
        seen.yard.clock.advance(0.02)
        told += [h.tone.mark for h in seen.hear(seen.yard.press("shore", value, channel=angle))]
    seen.yard.clock.advance(3)
    return told


@pytest.mark.parametrize("angles", ["20 60 85", "60 20 85", "85 60 20"])
def test_the_other_angles_of_a_press_are_no_alarm_and_leave_the_value_that_counts_in_sight(
    seen: Seen, angles: str
) -> None:
    """Whatever the order: from the first press at the latest it is known that several come."""
    board = seen.run_board()
    sent = {"20": "80.1", "60": "90.2", "85": "95.3"}
    one_press(seen, {angle: sent[angle] for angle in angles.split()})
    told = one_press(seen, {angle: sent[angle] for angle in angles.split()})
    assert sorted(told) == ["+", "-", "-"]
    assert board.last is not None
    assert (board.last["role"], board.last["channel"]) == ("run", "20")


def test_a_meter_that_sends_another_angle_alone_is_refused_each_time(seen: Seen) -> None:
    board = seen.run_board()
    seen.press("80.1")
    seen.yard.clock.advance(5)
    for _ in range(2):
        assert one_press(seen, {"60": "90.2"}) == ["x"]
    assert board.last is not None
    assert board.last["loose_reason"] == "the run does not want 60°"
