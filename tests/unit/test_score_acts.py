"""Points and past results on their way into the store, and the table that is made of them."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from acquire.analysis.scoring.scored import Condition, as_text
from acquire.control.calls import act_of
from acquire.errors import Misuse, NotFound, Refused
from acquire.model import StudyKind
from acquire.report.page import write_page
from acquire.report.points.alltime import all_time, past_groups, scorecards_of
from acquire.report.points.alltimelines import due, past_tables, tables, told
from acquire.report.points.rescoring import card_of, scored, trials_of
from acquire.report.points.scores import trial_score
from acquire.report.record.loading import load_trial
from acquire.settings.scorecard import parse_scorecard
from acquire.store.reader import StoreReader
from acquire.trial.key import digest_of, key_text
from tests.attack.calls import MAPPING
from tests.scorecard import CARD
from tests.unit.reported import SMALL, SMALL_VALUES, read_stage, small
from tests.unit.store.test_seals import strangely
from tests.yard import Yard

_WIDE_PLAN = """
[trial]
id = "wide"
title = "Everything at once"
stages = ["bare", "applied", "wash-5"]
[trial.washes]
wash-5 = 5
[trial.recipe]
shampoo = "soft"
[panel]
name = "Panel"
material = "dark gelcoat"
[[treatment]]
id = "none"
name = "Untreated"
control = true
[[treatment]]
id = "tern"
name = "Tern"
[[zone]]
id = "A1"
treatment = "none"
[[zone]]
id = "A2"
treatment = "tern"
[[measure]]
id = "gloss"
quantity = "gloss"
geometry = 20
replicates = 2
[[measure]]
id = "slick"
quantity = "force"
replicates = 2
[measure.sled]
mass = "203.0 g"
standard_uncertainty = "0.1 g"
[[measure]]
id = "film"
quantity = "transmittance"
band = "315-400"
replicates = 2
"""
_WIDE_CARD = """[scorecard]
id = "wide"
version = 1
title = "Wide"
[[change]]
id = "gloss"
title = "Gloss"
quantity = "gloss"
geometry = 20
direction = "up"
points = 2
[[change]]
id = "slick"
title = "Slickness"
quantity = "force"
coefficient = "static"
direction = "down"
points = 50
[[change]]
id = "film"
title = "Film"
quantity = "transmittance"
band = "315-400"
direction = "down"
points = 1
"""

CSV = "dGVzdCxwcm9kdWN0LEdVCjIwMTksVGVybiwxMi41CjIwMTksPGI+R3JlYmU8L2I+LDEzCg=="
"""test,product,GU / 2019,Tern,12.5 / 2019,<b>Grebe</b>,13"""


@pytest.fixture
def yard(tmp_path: Path) -> Iterator[Yard]:
    found = small(tmp_path)
    yield found
    found.close()


def keep(yard: Yard, text: str = CARD, trial: str = "small") -> dict[str, object]:
    card = parse_scorecard(text, "card")
    found = scored(yard.bench.store, trial, card)
    return ask(
        yard, "keep_score", text=text, source="card", trial=trial, edition=found.score.edition,
        rests_on=found.rests_on, points=found.points,
    )  # fmt: skip


def ask(yard: Yard, call: str, **arguments: object) -> dict[str, object]:
    return yard.act(act_of(yard.acts, call, arguments))


def stale(yard: Yard) -> tuple[str, ...]:
    found = all_time(yard.bench.store, "yard")
    return found.stale[0][1] if found.stale else ()


def test_points_are_kept_once_and_shown_in_the_table(yard: Yard) -> None:
    assert keep(yard) == {"trial": "small", "scorecard": "yard, version 1", "is_new": True}
    assert keep(yard)["is_new"] is False
    found = all_time(yard.bench.store, "yard")
    (group,) = found.groups
    (entry,) = group.entries
    # By hand (`tests.unit.reported`): a net change of 3.2 GU at 2 points each.
    assert entry.product.total == pytest.approx(6.4)
    assert (entry.name, entry.trial, entry.stale) == ("Brine Shield", "small", ())
    assert ("panel", "dark gelcoat") in found.alike
    (table,) = tables(found)
    assert table.rows[1][1:3] == ("Brine Shield", "6.4")
    assert told(found)[2].startswith("All totals may be compared")
    assert due(found) == []


def test_a_scorecard_under_its_version_never_has_another_text(yard: Yard) -> None:
    keep(yard)
    other = CARD.replace("points = 2", "points = 3")
    with pytest.raises(Refused, match="no points are kept by yard, version 1") as caught:
        keep(yard, other)
    assert caught.value.next_step.startswith("write version = 2")
    keep(yard, other.replace("version = 1", "version = 4"))
    with pytest.raises(Refused, match="version 2") as caught:
        keep(yard, CARD.replace("version = 1", "version = 2"))
    assert "after version 4" in caught.value.got
    keep(yard)
    # The highest version is the one that counts in the table.
    (group,) = all_time(yard.bench.store, "yard").groups
    assert (group.version, group.entries[0].product.total) == (4, pytest.approx(9.6))
    assert card_of(yard.bench.store, "yard").version == 4


def test_what_comes_in_later_makes_points_out_of_date(yard: Yard) -> None:
    keep(yard)
    assert stale(yard) == ()
    number = yard.readings("role = 'run'")[0]["reading_id"]
    ask(yard, "void", reading_id=number, reason="slip")
    assert stale(yard) == ("a reading was voided",)
    lines = due(all_time(yard.bench.store, "yard"))
    assert lines == [
        "OUT OF DATE: small, since a reading was voided",
        "next: coatbench rescore small --scorecard yard",
    ]
    keep(yard)
    assert stale(yard) == ()


def test_a_check_that_closes_an_open_pass_makes_points_out_of_date(yard: Yard) -> None:
    keep(yard)
    yard.check("shore", tile="93.3")
    assert stale(yard) == ()  # every pass of the trial was closed before
    read_stage(yard, "cured", SMALL.replace("replicates = 3", "replicates = 6"),
               [SMALL_VALUES[z, "cured"] for z in ("A1", "A2")])  # fmt: skip
    assert stale(yard) == ("the plan was changed", "readings came in")
    keep(yard)
    assert stale(yard) == ()
    yard.check("shore", tile="90.0")
    assert stale(yard) == ("a check or a re-adjustment of its meter came after",)


def test_points_that_name_something_else_or_nothing_are_not_kept(yard: Yard) -> None:
    found = scored(yard.bench.store, "small", parse_scorecard(CARD, "card"))
    for points in ("{}", "[", found.points.replace('"small"', '"other"')):
        with pytest.raises(Misuse, match="are not kept"):
            ask(yard, "keep_score", text=CARD, source="card", trial="small", edition="1",
                rests_on="{}", points=points)  # fmt: skip
    with pytest.raises(NotFound):
        ask(yard, "keep_score", text=CARD, source="card", trial="x", edition="1", rests_on="{}",
            points=found.points)  # fmt: skip


def test_points_that_cannot_be_read_or_are_of_other_rules_are_named(yard: Yard) -> None:
    found = scored(yard.bench.store, "small", parse_scorecard(CARD, "card"))
    own = {k: json.loads(found.points)[k] for k in ("trial", "scorecard", "version", "digest")}
    for edition, points, told_by in (("0", found.points, "by other rules"),
                                     ("1", json.dumps(own), "cannot be read")):  # fmt: skip
        ask(yard, "keep_score", text=CARD, source="card", trial="small", edition=edition,
            rests_on=found.rests_on, points=points)  # fmt: skip
        assert told_by in due(all_time(yard.bench.store, "yard"))[0]


def test_a_trial_without_points_and_a_scorecard_nobody_used_are_named(yard: Yard) -> None:
    with pytest.raises(NotFound, match="no points were kept"):
        all_time(yard.bench.store, "yard")
    with pytest.raises(NotFound, match="there is no scorecard films"):
        card_of(yard.bench.store, "films")
    assert scorecards_of(yard.bench.store) == []
    assert trials_of(yard.bench.store) == ["small"]
    keep(yard)
    ask(yard, "keep_trial", text=SMALL.replace('"small"', '"other"'), source="t.toml")
    found = all_time(yard.bench.store, "yard")
    assert found.unscored == ("other",)
    assert due(found)[-1] == "next: coatbench rescore other --scorecard yard"


def test_a_blind_trial_stands_under_its_codes_until_it_is_unsealed(yard: Yard) -> None:
    keep(yard)
    key = key_text("dark", {"brine": "Brine Shield"}, bytes(16))
    text = SMALL.replace('"small"', '"dark"').replace("Brine Shield", "Code brine")
    text = text.replace("[panel]", f'[trial.blind]\nkey = "{digest_of(key)}"\n[panel]')
    ask(yard, "keep_trial", text=text, source="t.toml", key=key)
    own = scored(yard.bench.store, "small", parse_scorecard(CARD, "card")).score
    points = as_text(
        replace(own, trial="dark", products=(replace(own.products[0], name="Code brine"),))
    )
    ask(
        yard, "keep_score", text=CARD, source="card", trial="dark", edition="1", rests_on="{}",
        points=points,
    )  # fmt: skip

    def shown() -> tuple[str, bool]:
        entries = [e for g in all_time(yard.bench.store, "yard").groups for e in g.entries]
        return next((e.name, e.is_blind) for e in entries if e.trial == "dark")

    assert shown() == ("Code brine", True)
    ask(yard, "show_key", trial="dark", who="Ada")
    assert shown() == ("Code brine", True)
    ask(yard, "unseal", trial="dark", who="Ada")
    assert shown() == ("Brine Shield (brine)", False)


def test_trials_that_differ_in_what_matters_stand_in_groups_with_the_reason(yard: Yard) -> None:
    keep(yard)
    own = scored(yard.bench.store, "small", parse_scorecard(CARD, "card")).score
    other = tuple(
        replace(c, value="white gelcoat") if c.what == "panel" else c for c in own.conditions
    )
    ask(yard, "keep_trial", text=SMALL.replace('"small"', '"white"'), source="t.toml")
    ask(
        yard, "keep_score", text=CARD, source="card", trial="white", edition="1", rests_on="{}",
        points=as_text(replace(own, trial="white", conditions=other, is_unchecked=True)),
    )  # fmt: skip
    found = all_time(yard.bench.store, "yard")
    assert found.differs == ("readings", "panel")
    assert [dict(g.apart)["panel"] for g in found.groups] == ["dark gelcoat", "white gelcoat"]
    assert "Only totals of one group may be compared." in told(found)[2]
    assert [t.title for t in tables(found)][1] == (
        "Group 2: readings: unchecked; panel: white gelcoat"
    )


def test_of_two_sleds_of_a_trial_both_have_to_be_alike(yard: Yard) -> None:
    keep(yard)
    own = scored(yard.bench.store, "small", parse_scorecard(CARD, "card")).score
    for trial, first in (("light", "150 g"), ("heavy", "700 g")):
        sleds = (Condition("sled", first), Condition("sled", "203 g"))
        ask(yard, "keep_trial", text=SMALL.replace('"small"', f'"{trial}"'), source="t.toml")
        ask(
            yard, "keep_score", text=CARD, source="card", trial=trial, edition="1", rests_on="{}",
            points=as_text(replace(own, trial=trial, conditions=(*own.conditions, *sleds))),
        )  # fmt: skip
    found = all_time(yard.bench.store, "yard")
    assert found.differs == ("sled",)
    assert {dict(g.apart)["sled"] for g in found.groups} == {
        "none", "150 g; and 203 g", "203 g; and 700 g",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("change", "what"),
    [
        (("geometry = 20", "geometry = 60"), "what is measured for gloss"),
        (('material = "dark gelcoat"', 'material = "white gelcoat"'), "panel"),
        (('shampoo = "soft"', 'shampoo = "strong"'), "wash recipe"),
        (('mass = "203.0 g"', 'mass = "700.0 g"'), "sled"),
        (('band = "315-400"', 'band = "300-380"'), "what is measured for film"),
    ],
)
def test_what_must_be_alike_differs_by_name_where_a_plan_differs(
    yard: Yard, change: tuple[str, str], what: str
) -> None:
    found = []
    for trial, swap in (("one", ("", "")), ("other", change)):
        text = _WIDE_PLAN.replace('"wide"', f'"{trial}"').replace(*swap)
        ask(yard, "keep_trial", text=text, source="t.toml")
        # A scorecard names geometry and band, so the one for the other trial names the other ones.
        own = _WIDE_CARD.replace(*swap) if swap[0] in _WIDE_CARD else _WIDE_CARD
        card = parse_scorecard(own, "card")
        score = trial_score(load_trial(yard.bench.store, trial), card, draws=50)
        found.append({(c.what, c.value) for c in score.conditions})
    assert change[0] in _WIDE_PLAN
    assert {name for name, _ in found[0] ^ found[1]} == {what}


def test_the_page_has_the_points_that_were_kept(yard: Yard, tmp_path: Path) -> None:
    out = tmp_path / "page.html"
    keep(yard)
    text = write_page(yard.bench.store, "small", out).read_text("utf-8")
    assert "By the scorecard yard, version 1" in text
    assert '<th scope="row">Brine Shield</th><td class="n">6.4</td>' in text
    other = parse_scorecard(CARD.replace("points = 2", "points = 5"), "card")
    assert '<td class="n">16.0</td>' in write_page(yard.bench.store, "small", out, other).read_text(
        "utf-8"
    )


def test_past_results_are_kept_with_their_file_and_marked_wherever_they_are_shown(
    yard: Yard,
) -> None:
    reply = ask(yard, "import_past", file="past.csv", content=CSV, mapping=MAPPING)
    assert reply["results"] == 2
    (group,) = past_groups(yard.bench.store)
    (table,) = past_tables([group])
    assert table.title.startswith("imported, unchecked: Gloss (gloss at 20°; higher is better")
    assert [row[1:3] for row in table.rows[1:]] == [("<b>Grebe</b>", "13"), ("Tern", "12.5")]
    assert table.rows[1][-1] == "imported, unchecked: past.csv, line 3"
    with pytest.raises(Refused, match="is not imported again"):
        ask(yard, "import_past", file="other.csv", content=CSV, mapping=MAPPING)
    with StoreReader(yard.bench.store) as reader:
        kept = reader.rows("SELECT bytes, sha256 FROM past_import")
        assert bytes(kept[0]["bytes"]).startswith(b"test,product")
        assert len(kept) == 1


def test_nothing_of_a_file_with_a_fault_is_kept(yard: Yard) -> None:
    for content in ("?", "dGVzdCxwcm9kdWN0LEdVCjIwMTksVGVybiwxCjIwMTksVGVybix4Cg=="):
        with pytest.raises(Misuse, match="fault"):
            ask(yard, "import_past", file="past.csv", content=content, mapping=MAPPING)
    assert past_groups(yard.bench.store) == ()


def test_a_store_that_was_changed_earns_no_points(yard: Yard) -> None:
    yard.close()
    strangely(yard.bench.store, "UPDATE reading SET value = '99.9', value_real = 99.9 WHERE id = 5")
    with pytest.raises(Refused, match="earns no points") as caught:
        scored(yard.bench.store, "small", parse_scorecard(CARD, "card"))
    assert caught.value.reason == "store changed"


def test_a_study_earns_no_points(yard: Yard) -> None:
    record = load_trial(yard.bench.store, "small")
    study = replace(record, plan=replace(record.plan, study=StudyKind.REPEATABILITY))
    with pytest.raises(Refused, match="is a study and earns no points"):
        trial_score(study, parse_scorecard(CARD, "card"))
