"""The story: every kind of row that matters is told in one line, with its tone."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC
from pathlib import Path

import pytest

from acquire.control.shapes import row_item
from acquire.live.story import Happening, Story
from acquire.live.telling import TOLD_TABLES
from acquire.live.tone import Tone
from acquire.model import (
    Batch,
    Disconnected,
    Flag,
    Incident,
    IncidentKind,
    Noise,
    Notice,
    NoticeKind,
)
from acquire.pipeline.recorder import Act
from acquire.store.rows import TABLES, IncidentRow, Row
from tests.unit.seen import Seen
from tests.unit.stored import S, spine_rows

ARRAYS = ("spectrum", "trace", "trace_block")
"""Evidence behind readings, which are told."""

SILENT = {
    "instrument",
    "certificate",
    "tape",
    "trial",
    "piece_judgement",
    "linearity_judgement",
    "trial_zone",
    *ARRAYS,
    "move",
    "piece",
    "certificate_file",
    "trial_key",
    "key_opening",
    "trial_closing",
    "giving_up",
    "scorecard",
    "score",
    "past_import",
    "past_result",
    "reassessment",
    "reassessed_piece",
    "reassessed_line",
}
"""Tables whose rows are no happenings: they are written at start, say what another row says, or are
of trials as a whole and not of the bench.
"""


@pytest.fixture
def seen(tmp_path: Path) -> Iterator[Seen]:
    seen = Seen(tmp_path)
    seen.yard.plug("shore")
    seen.watch_board()
    yield seen
    seen.close()


def tell(*rows: Row) -> list[Happening]:
    story = Story(zone=UTC)
    return [h for h in (story.fold(row_item(row)) for row in rows) if h is not None]


def test_every_table_is_told_or_known_to_be_silent() -> None:
    absent = IncidentRow(2, 64 * S, "shore", "link unavailable", "no such port")
    told = {h.table for h in tell(*spine_rows(), absent)}
    assert told | SILENT == set(TABLES.values())
    assert not told & SILENT
    assert set(TOLD_TABLES) == told


def test_a_line_says_when_who_what_and_how_it_was_meant_without_colour(seen: Seen) -> None:
    (told,) = seen.hear(seen.yard.press("shore", "82.4"))
    assert str(told) == (
        "08:00:00 x shore: 82.4 GU at 20° not accepted (reading 1, kept as loose): no run is open "
        "for this instrument"
    )
    assert told.tone is Tone.REFUSED
    assert len({tone.mark for tone in Tone}) == len(Tone)


def test_readings_of_a_check_and_of_a_run_are_accepted_with_their_place(seen: Seen) -> None:
    seen.yard.check("shore")
    seen.yard.begin()
    (told,) = seen.hear(seen.yard.press("shore", "82.4"))
    assert told.text == "82.4 GU at 20° accepted: A1 replicate 1, bare (reading 5)"
    assert told.tone is Tone.ACCEPTED


def test_an_out_of_range_press_is_told_by_its_flag(seen: Seen) -> None:
    (told,) = seen.hear(seen.yard.press("shore", None, flags=frozenset({Flag.OVER_RANGE})))
    assert told.text == (
        "over range at 20° not accepted (reading 1, kept as loose): above the range of the meter. "
        "Next: look whether the meter lies flat, then press again"
    )


@pytest.mark.parametrize(
    ("flags", "why"),
    [
        ({Flag.REPEAT}, "the same press sent again; nothing is to be done"),
        ({Flag.ECHO}, "an old value that the meter sent by itself; nothing is to be done"),
        (
            {Flag.UNSURE_WHOSE},
            "its meter did not tell its serial number at once, so another may have been there. "
            "Next: press again (if it always takes so long, a longer within_s in [answer] of its "
            "profile)",
        ),
        (
            {Flag.OTHER_RATE, Flag.UNSURE_WHOSE},
            "its meter did not tell its serial number at once, so another may have been there, its "
            "samples come at another rate than its profile says. Next: coatbench status says which "
            "rate; mend rate_hz in its profile",
        ),
        (
            {Flag.ECHO, Flag.REPEAT},
            "an old value that the meter sent by itself, the same press sent again; nothing is to "
            "be done",
        ),
    ],
)
def test_what_is_no_fresh_press_is_told_in_words_and_asks_nothing_of_anybody(
    seen: Seen, flags: set[Flag], why: str
) -> None:
    (told,) = seen.hear(seen.yard.press("shore", "82.4", flags=frozenset(flags)))
    assert told.text.endswith(f": {why}")


def test_noise_is_told_with_the_instrument_of_its_connection_and_harmless_bytes(seen: Seen) -> None:
    noise = Noise(seen.yard.clock.now(), b"\x1b[2J\xff", 0, 5, "no line of the profile")
    (told,) = seen.hear(seen.yard.take_in("shore", noise))
    assert told.who == "shore"
    assert told.tone is Tone.REFUSED
    assert told.text.startswith("noise on the line, no reading: no line of the profile")
    assert told.text.endswith(". Next: press again")
    assert "\x1b" not in str(told)


def test_what_a_meter_tells_of_itself_is_told(seen: Seen) -> None:
    texts = []
    for kind in NoticeKind:
        told = seen.hear(seen.yard.tell("shore", kind, "SH-0417"))
        texts.append((told[0].text, told[0].tone))
    assert texts == [
        ("says it is SH-0417", Tone.PLAIN),
        ("was switched on (SH-0417)", Tone.TROUBLE),
        ("was re-adjusted by its own button", Tone.TROUBLE),
        (
            "sends SH-0417, its own code for a trouble. Next: look it up in the meter's manual, "
            "then press again",
            Tone.REFUSED,
        ),
        ("typed once; look at the display again and type it once more", Tone.PLAIN),
        ("SH-0417", Tone.REFUSED),
        ("SH-0417", Tone.TROUBLE),
    ]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("E03", "sends E03, its own code for a trouble. Next: look it up in the meter's manual, "
         "then press again"),
        ('-222,"Data out of range"', 'sends -222,"Data out of range", its own code for a trouble. '
         "Next: look it up in the meter's manual, then press again"),
        ("low battery", "low battery. Next: see to that, then press again"),
    ],
)  # fmt: skip
def test_a_trouble_is_called_a_code_where_it_is_one(seen: Seen, text: str, said: str) -> None:
    assert seen.hear(seen.yard.tell("shore", NoticeKind.TROUBLE, text))[0].text == said


def test_a_pass_that_ends_is_trouble_but_not_when_a_new_one_takes_over(seen: Seen) -> None:
    seen.yard.check("shore")
    begun = seen.yard.acts.checks.begin("shore", seen.yard.clock.now())
    seen.hear(seen.yard.store(begun.rows))
    told = [
        h for v in ("93.2", "93.2", "0.0", "0.0") for h in seen.hear(seen.yard.press("shore", v))
    ]
    (over,) = [h for h in told if h.table == "pass_end"]
    assert over.tone is Tone.PLAIN
    assert over.text == "check 1 is renewed: shore was checked again and passed"
    told = seen.hear(seen.yard.tell("shore", NoticeKind.POWER_UP, "SH-0417"))
    ended = [h for h in told if h.table == "pass_end"]
    assert [h.tone for h in ended] == [Tone.TROUBLE]
    assert ended[0].text.startswith("check 2 no longer holds: ")


def test_an_unplug_is_one_line_with_the_check_that_ended_and_the_next_step(seen: Seen) -> None:
    yard = seen.yard
    yard.check("shore")
    seen.watch_board()
    seen.hear(yard.store(yard.acts.checks.begin("shore", yard.clock.now()).rows))
    for value in ("93.2", "93.2", "0.0", "0.0"):
        seen.hear(yard.press("shore", value))
    message = "the line /dev/shore broke. Next: plug the device in"
    lost = Incident("shore", IncidentKind.LINK_LOST, yard.clock.now(), f"shore: {message}")
    gone = Batch(
        "shore", 1, incidents=(lost,), disconnected=Disconnected(yard.clock.now(), message)
    )
    told = seen.hear(yard.store(yard.desk.take_in(gone)))
    assert [h.text for h in told] == [
        "disconnected: the line /dev/shore broke; check 2 ended with that. Next: plug the device "
        "in, then coatbench check shore"
    ]
    absent = [
        Incident("shore", IncidentKind.LINK_UNAVAILABLE, yard.clock.now(), f"shore: {told}")
        for told in ("/dev/shore is not there. Next: plug the device in", "it is in use")
    ]
    told = seen.hear(yard.store(yard.desk.take_in(Batch("shore", 1, incidents=tuple(absent)))))
    assert [h.text for h in told] == ["it is in use"]


def test_an_unplug_in_a_check_breaks_it_off_and_says_so_in_its_own_line(seen: Seen) -> None:
    yard = seen.yard
    seen.hear(yard.store(yard.acts.checks.begin("shore", yard.clock.now()).rows))
    seen.hear(yard.press("shore", "93.2"))
    told = seen.hear(yard.unplug("shore"))
    assert [h.text for h in told] == [
        "disconnected: shore is gone; check 1, which was under way, is broken off"
    ]


def test_a_check_that_is_broken_off_is_not_called_undecided(seen: Seen) -> None:
    yard = seen.yard
    seen.hear(yard.store(yard.acts.checks.begin("shore", yard.clock.now()).rows))
    seen.hear(yard.press("shore", "93.2"))
    told = seen.hear(yard.store(yard.acts.checks.abandon("shore", yard.clock.now()).rows))
    assert [h.text for h in told] == [
        "check 1 broken off: by the person at the bench. Next: coatbench check shore"
    ]


def test_a_check_left_before_its_first_press_asks_for_no_other_while_the_pass_goes_on(
    seen: Seen,
) -> None:
    yard = seen.yard
    yard.check("shore")
    seen.hear(yard.store(yard.acts.checks.begin("shore", yard.clock.now()).rows))
    told = seen.hear(yard.store(yard.acts.checks.abandon("shore", yard.clock.now()).rows))
    assert [h.text for h in told] == [
        "check 2 broken off: by the person at the bench. Next: nothing, the pass before it goes on"
    ]


def test_a_count_that_went_on_is_no_code_of_the_meter_and_leads_to_the_open_places(
    seen: Seen,
) -> None:
    text = "the meter's count went on by 2 without a reading here"
    leapt = Notice(NoticeKind.TROUBLE, seen.yard.clock.now(), b"", 0, 0, text)
    (told,) = seen.hear(seen.yard.take_in("shore", leapt))
    assert told.text == (
        f"{text}. Next: press again where it was; in a run coatbench targets shows what is open"
    )


def test_a_restart_that_only_a_count_or_a_silence_shows_is_not_told_as_one_that_was_said(
    seen: Seen,
) -> None:
    at = seen.yard.clock.now()
    for raw, words in (
        (b"READY\r\n", "was switched on"),
        (b"", "was switched on, used out of reach, or exchanged"),
    ):
        told = seen.hear(seen.yard.take_in("shore", Notice(NoticeKind.POWER_UP, at, raw, 0, 0)))
        assert words in [one.text for one in told]


def test_missed_rows_are_counted_and_said_to_be_stored() -> None:
    told = Story(zone=UTC).fold({"missed": 12})
    assert told is not None
    assert "12 rows" in told.text
    assert "all of them are stored" in told.text


def test_a_sign_of_life_and_unknown_tables_are_no_happenings() -> None:
    assert Story().fold({"alive": True}) is None
    assert Story().fold({"table": "something later"}) is None


def test_the_story_forgets_the_oldest_lines() -> None:
    story = Story(zone=UTC)
    for _ in range(500):
        story.fold({"missed": 1})
    assert len(story.happenings) == 200


def test_who_a_meter_is_comes_once_a_sitting_and_again_where_it_changed(seen: Seen) -> None:
    def said(text: str, meter: str = "shore") -> list[str]:
        told = seen.hear(seen.yard.tell(meter, NoticeKind.IDENTITY, text))
        return [h.text for h in told if h.text.startswith("says it is")]

    assert said("SH-0417") == ["says it is SH-0417"]
    assert said("SH-0417") == []
    seen.hear(seen.yard.unplug("shore"))
    seen.hear(seen.yard.plug("shore"))
    assert said("SH-0417") == []
    assert said("SH-9999") == ["says it is SH-9999"]
    assert said("SH-0417") == ["says it is SH-0417"]
    # Each meter for itself, and anew in a sitting of its own.
    seen.hear(seen.yard.plug("deck"))
    assert said("DK-2205", "deck") == ["says it is DK-2205"]
    assert said("DK-2205", "deck") == []
    done(seen, lambda at: seen.yard.acts.checks.begin("shore", at))
    assert said("SH-0417") == ["says it is SH-0417"]


def test_a_re_adjustment_says_who_told_of_it(seen: Seen) -> None:
    (told,) = seen.hear(seen.yard.tell("shore", NoticeKind.ADJUSTED))
    assert told.text == "was re-adjusted by its own button"
    (told,) = done(seen, lambda at: seen.yard.acts.checks.readjusted("shore", at))
    assert told.text == "was re-adjusted, as a person says"


def done(seen: Seen, act: Act) -> list[Happening]:
    """Do at the desk what a person asks for, and let the boards hear of it."""
    return seen.hear(seen.yard.store(act(seen.yard.clock.now())[1]))
