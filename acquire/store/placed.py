"""Readings at their places in runs, and what the checks around say of them: for the recorder.

The view `readings` says the same and more, of every reading and by every bracket of the store; with
years of checks that takes seconds, which the thread that records does not have. Here only the
brackets of passes are worked out whose readings are asked for. Texts of SQL; nothing runs here.
"""

from __future__ import annotations

_PLACED = """SELECT q.id AS reading_id, q.instrument, q.zone, q.stage, q.replicate, q.channel,
    q.value_real, q.run_id, q.check_id, q.unchecked
FROM reading AS q WHERE q.run_id IS NOT NULL AND q.run_id IN ({runs})
UNION ALL
SELECT a.reading_id, q.instrument, a.zone, a.stage, a.replicate, q.channel,
    q.value_real, a.run_id, a.check_id, a.unchecked
FROM assignment AS a JOIN reading AS q ON q.id = a.reading_id WHERE a.run_id IN ({runs})"""

_WITH = """WITH placed AS MATERIALIZED (
    SELECT * FROM ({placed}) AS p
    WHERE NOT EXISTS (SELECT 1 FROM void AS v WHERE v.reading_id = p.reading_id)),
passes AS MATERIALIZED (
    SELECT check_id, state, closing_check_id, adjusted_id, reassessment_id FROM brackets
    WHERE check_id IN (SELECT DISTINCT check_id FROM placed WHERE unchecked = 0))
"""


def _with(runs: str) -> str:
    """What queries of one trial begin with: for the runs that a query gives."""
    return _WITH.format(placed=_PLACED.format(runs=runs))


# From the passes of a state to their readings, where the readings of no one trial are asked for: a
# store of years has millions of them, and few passes that are open or suspect. A pass covers what
# came after its own readings, so that the last one under its number says whether it covers any.
_OF_PASSES = """WITH passes AS MATERIALIZED (
    SELECT check_id, state, closing_check_id, adjusted_id, reassessment_id FROM brackets
    WHERE check_id IN (
        SELECT c.id FROM check_begin AS c WHERE (
            SELECT q.run_id FROM reading AS q WHERE q.check_id = c.id ORDER BY q.id DESC LIMIT 1
        ) IS NOT NULL
        UNION SELECT check_id FROM assignment WHERE check_id IS NOT NULL)
    AND state = {state}{only}),
placed AS MATERIALIZED (
    SELECT * FROM (
        SELECT q.id AS reading_id, q.instrument, q.run_id, q.check_id, q.unchecked
        FROM passes AS s CROSS JOIN reading AS q ON q.check_id = s.check_id
        WHERE q.run_id IS NOT NULL
        UNION ALL
        SELECT a.reading_id, q.instrument, a.run_id, a.check_id, a.unchecked
        FROM assignment AS a JOIN reading AS q ON q.id = a.reading_id
        WHERE a.check_id IN (SELECT check_id FROM passes)) AS p
    WHERE NOT EXISTS (SELECT 1 FROM void AS v WHERE v.reading_id = p.reading_id))
"""

_OF_STAGE = "SELECT run_id FROM runs WHERE trial = ?1 AND measure = ?2 AND stage = ?3"
_SAME_METER = " AND serial = (SELECT serial FROM check_begin WHERE id = ?1) AND check_id < ?1"
_ADJUSTED_METER = " AND serial = (SELECT serial FROM notice WHERE id = ?1)"

FILLED = f"""{_with(_OF_STAGE)}
SELECT reading_id, zone, stage, replicate, channel, value_real FROM placed
WHERE value_real IS NOT NULL AND (unchecked = 1 OR check_id NOT IN (
    SELECT check_id FROM passes WHERE state = 'suspect'))
ORDER BY reading_id"""  # noqa: S608 - our own texts alone
"""The readings that count for a measure at a stage of a trial."""

STAGES = f"""{_OF_PASSES.format(state="?1", only="")}
SELECT t.trial, r.measure, r.stage, p.instrument, count(*) AS readings
FROM placed AS p JOIN run AS r ON r.id = p.run_id JOIN trial AS t ON t.id = r.trial_id
WHERE p.unchecked = 0
GROUP BY t.trial, r.measure, r.stage, p.instrument
ORDER BY max(p.reading_id) DESC LIMIT 5"""  # noqa: S608
"""Stages with readings of a state, the latest first."""

# A check that did not fail makes readings suspect by the limits and certificates of the check that
# they were taken under: `limits_of` is the first such check.
_SUSPECT_RUNS = """SELECT s.closing_check_id AS check_id, p.instrument, p.run_id, t.trial, r.stage,
    count(*) AS readings, CASE WHEN (
        SELECT outcome FROM check_judgement WHERE check_id = s.closing_check_id
    ) <> 'fail' THEN min(s.check_id) END AS limits_of
FROM placed AS p JOIN passes AS s ON s.check_id = p.check_id
JOIN run AS r ON r.id = p.run_id JOIN trial AS t ON t.id = r.trial_id
WHERE p.unchecked = 0 AND {made_so} = ?1 AND s.reassessment_id IS NULL
GROUP BY p.run_id ORDER BY p.run_id"""

SUSPECT_RUNS = f"""{_OF_PASSES.format(state="'suspect'", only=_SAME_METER)}
{_SUSPECT_RUNS.format(made_so="s.closing_check_id")}"""
"""The runs of which one check made readings suspect: the columns of `SuspectRun`."""

ADJUSTED_RUNS = f"""{_OF_PASSES.format(state="'suspect'", only=_ADJUSTED_METER)}
{_SUSPECT_RUNS.format(made_so="s.adjusted_id")}"""
"""The runs of which one re-adjustment, by the number of its notice, made readings suspect, since no
check as found came before it: the same columns, without a check."""

_REASSESSED_METERS = """ AND reassessment_id IS NOT NULL AND serial IN (
        SELECT c.serial FROM reassessment AS x JOIN check_begin AS c ON c.id = x.check_id
        WHERE x.outcome <> 'pass')"""

REASSESSED = f"""{_OF_PASSES.format(state="'suspect'", only=_REASSESSED_METERS)}
SELECT t.trial, r.measure, r.stage, coalesce(a.zone, q.zone) AS zone,
    coalesce(a.replicate, q.replicate) AS replicate, q.channel, w.check_id
FROM placed AS p JOIN passes AS s ON s.check_id = p.check_id
JOIN reassessment AS w ON w.id = s.reassessment_id
JOIN reading AS q ON q.id = p.reading_id LEFT JOIN assignment AS a ON a.reading_id = q.id
JOIN run AS r ON r.id = p.run_id JOIN trial AS t ON t.id = r.trial_id
WHERE p.unchecked = 0 ORDER BY p.reading_id"""  # noqa: S608
"""The places of readings that are suspect since a check was judged anew, and that check."""

ADJUSTED_BEFORE = """SELECT a.id FROM check_begin AS c
JOIN notice AS a ON a.serial = c.serial AND a.kind = 'adjusted'
  AND a.after_reading <= c.after_reading
WHERE c.id = ? AND a.after_reading >= coalesce((
    SELECT max(g.after_reading) FROM check_begin AS f JOIN check_judgement AS g ON g.check_id = f.id
    WHERE f.serial = c.serial AND f.quantity = c.quantity AND f.id < c.id), 0)
ORDER BY a.id"""
"""The re-adjustments of a check's meter since the check before it: the numbers of their notices."""

ADJUSTED_LAST = """SELECT max(id) FROM notice WHERE kind = 'adjusted' AND after_reading >= coalesce(
    (SELECT after_reading FROM check_judgement ORDER BY id DESC LIMIT 1), 0)"""
"""The last re-adjustment of any meter that no check has been judged after."""

# A run has one stage and one meter, and a place of it is filled once under a pass: so its readings
# are counted by their passes alone, a row each. Only a place that became suspect may be filled
# again and become so again; of these the places are told apart.
PROGRESS = f"""WITH mine AS MATERIALIZED (
    SELECT r.id, r.measure, r.stage, r.instrument
    FROM trial AS t JOIN run AS r ON r.trial_id = t.id WHERE t.trial = ?1),
counted AS MATERIALIZED (
    SELECT m.measure, m.stage, m.instrument, g.check_id, g.unchecked, g.places, g.last FROM (
        SELECT q.run_id, q.check_id, q.unchecked, count(*) AS places, max(q.id) AS last
        FROM reading AS q WHERE q.run_id IN (SELECT id FROM mine) AND q.value_real IS NOT NULL
            AND NOT EXISTS (SELECT 1 FROM void AS v WHERE v.reading_id = q.id)
        GROUP BY q.run_id, q.check_id, q.unchecked
    ) AS g JOIN mine AS m ON m.id = g.run_id
    UNION ALL
    SELECT m.measure, a.stage, q.instrument, a.check_id, a.unchecked, 1, a.reading_id
    FROM assignment AS a JOIN reading AS q ON q.id = a.reading_id JOIN mine AS m ON m.id = a.run_id
    WHERE a.run_id IN (SELECT id FROM mine) AND q.value_real IS NOT NULL
        AND NOT EXISTS (SELECT 1 FROM void AS v WHERE v.reading_id = a.reading_id)),
passes AS MATERIALIZED (
    SELECT check_id, state FROM brackets
    WHERE check_id IN (SELECT DISTINCT check_id FROM counted WHERE unchecked = 0)),
told AS (
    SELECT c.*, CASE WHEN c.unchecked = 1 THEN 'unchecked' ELSE s.state END AS state
    FROM counted AS c LEFT JOIN passes AS s ON s.check_id = c.check_id)
SELECT o.measure, o.stage, o.instrument, o.state, CASE o.state WHEN 'suspect' THEN (
        SELECT count(DISTINCT p.zone || ' ' || p.replicate || ' ' || p.channel)
        FROM ({_PLACED.format(runs="SELECT id FROM mine")}) AS p
        JOIN mine AS m ON m.id = p.run_id JOIN passes AS s ON s.check_id = p.check_id
        WHERE s.state = 'suspect' AND p.unchecked = 0 AND p.value_real IS NOT NULL
            AND m.measure = o.measure AND p.stage = o.stage AND p.instrument = o.instrument
            AND NOT EXISTS (SELECT 1 FROM void AS v WHERE v.reading_id = p.reading_id)
    ) ELSE sum(o.places) END AS places
FROM told AS o
GROUP BY o.measure, o.stage, o.instrument, o.state ORDER BY max(o.last)"""  # noqa: S608
"""How many places of each measure and stage of a trial are taken, and how their checks stand."""
