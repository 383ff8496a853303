"""The views of the store: what a person reads in any SQLite tool, and what reports are made of.

Views hold no rows of their own, so a migration that changes a table drops them all and makes them
anew as they are written here.
"""

from __future__ import annotations

from acquire.model import TYPED_BY_HAND

NAMES = ("troubles", "readings", "runs", "brackets", "checks")
"""In the order in which they can be dropped: none is used by one after it."""

_TINY = 1e-9
"""Figures are compared as floats; exactly on the limit is inside."""

_ISO = (
    "strftime('%Y-%m-%dT%H:%M:%S', {0} / 1000000000, 'unixepoch')"
    " || printf('.%03dZ', {0} / 1000000 % 1000)"
)

# The number of the latest reassessment of a check, where that came to `so`.
_LATEST = """(SELECT x.id FROM reassessment AS x WHERE x.check_id = {check} AND {so}
    AND x.id = (SELECT max(y.id) FROM reassessment AS y WHERE y.check_id = x.check_id))"""
_P_DOUBTED = _LATEST.format(check="p.id", so="x.outcome <> 'pass'")
_N_DOUBTED = _LATEST.format(check="n.id", so="x.outcome <> 'pass'")
# As with the judgement of then: by a piece at a channel of the pass, or by its line.
_N_FAILED = _LATEST.format(
    check="n.id",
    so="""x.outcome = 'fail' AND (EXISTS (
        SELECT 1 FROM reassessed_piece AS m WHERE m.reassessment_id = x.id AND m.outcome = 'fail'
          AND instr(',' || p.channels || ',', ',' || m.channel || ',') > 0)
      OR EXISTS (
        SELECT 1 FROM reassessed_line AS m WHERE m.reassessment_id = x.id AND m.outcome = 'fail'
          AND instr(',' || p.channels || ',', ',' || m.channel || ',') > 0)
      OR NOT EXISTS (
        SELECT 1 FROM reassessed_piece AS m WHERE m.reassessment_id = x.id AND m.outcome = 'fail'
        UNION ALL
        SELECT 1 FROM reassessed_line AS m WHERE m.reassessment_id = x.id
          AND m.outcome = 'fail'))""",
)
# A pass is held to its own certified value, and where it was judged anew to that of the certificate
# in the place: a check that came after knew the one alone, one from before is held to both. So a
# certificate brings nothing back that a check before it had found outside; but where the one that
# it was judged by stands again, all is as it was.
_REPLACED = """EXISTS (SELECT 1 FROM reassessment AS z WHERE z.check_id = o.check_id
              AND z.id > {since} AND z.after_check < n.id)"""
_OFF = "abs(CAST(m.mean AS REAL) - CAST({certified} AS REAL))"
# Most stores have none that was judged anew, which is asked once a query.
_ANEW = f"""((SELECT 1 FROM reassessment LIMIT 1) IS NOT NULL AND EXISTS (
            SELECT 1 FROM reassessed_piece AS y WHERE y.check_id = o.check_id
              AND y.piece = o.piece AND y.channel = o.channel
              AND CAST(y.expanded_uncertainty AS REAL) > 0
              AND {_OFF.format(certified="y.certified")} {{doubt}}
                  CAST(m.expanded_uncertainty AS REAL) > CAST(o.limit_ AS REAL) + {_TINY}
              AND NOT {_REPLACED.format(since="y.reassessment_id")}
              AND NOT o.certificate_id IS (
                SELECT x.certificate_id FROM reassessed_piece AS x WHERE x.check_id = o.check_id
                  AND x.piece = o.piece AND x.channel = o.channel ORDER BY x.id DESC LIMIT 1)))"""

# Of a pass (check `p`) and a later check of the same meter (`n`, judged as `l`). The first later
# check that closes well or badly is the one, so that the database need not look at those after it:
# with ten years of checks all pairs would be millions.
_IS_WELL = f"""(l.outcome = 'pass' AND {_N_DOUBTED} IS NULL AND NOT EXISTS (
    SELECT 1 FROM piece_judgement AS o WHERE o.check_id = p.id AND NOT EXISTS (
        SELECT 1 FROM piece_judgement AS m
        WHERE m.check_id = n.id AND m.piece = o.piece AND m.channel = o.channel
          AND ({_OFF.format(certified="o.certified")} + CAST(m.expanded_uncertainty AS REAL)
              <= CAST(o.limit_ AS REAL) + {_TINY} OR {_REPLACED.format(since=0)})
          AND NOT {_ANEW.format(doubt="+")}))
  AND NOT EXISTS (
    SELECT 1 FROM linearity_judgement AS o WHERE o.check_id = p.id AND NOT EXISTS (
        SELECT 1 FROM linearity_judgement AS m
        WHERE m.check_id = n.id AND m.piece = o.piece AND m.channel = o.channel
          AND abs(CAST(m.departure AS REAL)) + CAST(m.expanded_uncertainty AS REAL)
              <= CAST(o.limit_ AS REAL) + {_TINY})))"""
_IS_BAD = f"""((l.outcome = 'fail' AND EXISTS (
    SELECT 1 FROM json_each('["' || replace(p.channels, ',', '","') || '"]') AS g
    WHERE instr(',' || n.channels || ',', ',' || g.value || ',') > 0
      AND (EXISTS (
          SELECT 1 FROM piece_judgement AS m
          WHERE m.check_id = n.id AND m.channel = g.value AND m.outcome = 'fail')
        OR EXISTS (
          SELECT 1 FROM linearity_judgement AS m
          WHERE m.check_id = n.id AND m.channel = g.value AND m.outcome = 'fail')
        OR NOT EXISTS (
          SELECT 1 FROM piece_judgement AS m
          WHERE m.check_id = n.id AND m.channel = g.value
            AND CAST(m.expanded_uncertainty AS REAL) > 0)
        OR NOT EXISTS (
          SELECT 1 FROM piece_judgement AS m WHERE m.check_id = n.id AND m.outcome = 'fail'
          UNION ALL
          SELECT 1 FROM linearity_judgement AS m
          WHERE m.check_id = n.id AND m.outcome = 'fail'))))
    OR EXISTS (
        SELECT 1 FROM piece_judgement AS o JOIN piece_judgement AS m
          ON m.check_id = n.id AND m.piece = o.piece AND m.channel = o.channel
        WHERE o.check_id = p.id AND CAST(m.expanded_uncertainty AS REAL) > 0
          AND ({_OFF.format(certified="o.certified")} - CAST(m.expanded_uncertainty AS REAL)
              > CAST(o.limit_ AS REAL) + {_TINY} AND NOT {_REPLACED.format(since=0)}
            OR {_ANEW.format(doubt="-")}))
    OR EXISTS (
        SELECT 1 FROM linearity_judgement AS o JOIN linearity_judgement AS m
          ON m.check_id = n.id AND m.piece = o.piece AND m.channel = o.channel
        WHERE o.check_id = p.id
          AND abs(CAST(m.departure AS REAL)) - CAST(m.expanded_uncertainty AS REAL)
              > CAST(o.limit_ AS REAL) + {_TINY}))"""
# Of a pass `p` (judged as `j`): the first re-adjustment after it that comes before any check which
# closes it, and whether the meter was read as it was found. So it was by a check up to then that
# read every piece of the pass steadily and in full, and was held to its line where the pass was. It
# found none outside, or it would have closed the pass. Sources: ISO/IEC 17025:2017, 7.8.4.1 d
# (results before and after an adjustment) and 7.10 (work that may not conform is held back), from
# memory.
_ADJUSTED = """SELECT a.id FROM notice AS a WHERE a.serial = p.serial AND a.kind = 'adjusted'
      AND a.after_reading >= j.after_reading
      AND a.after_reading < coalesce(l.after_reading, 9223372036854775807) ORDER BY a.id LIMIT 1"""
AS_FOUND = """EXISTS (
    SELECT 1 FROM check_begin AS f JOIN check_judgement AS g ON g.check_id = f.id
    WHERE f.serial = p.serial AND f.quantity = p.quantity AND f.id > p.id
      AND g.after_reading <= {until}
      AND NOT EXISTS (
        SELECT 1 FROM piece_judgement AS o WHERE o.check_id = p.id AND NOT EXISTS (
            SELECT 1 FROM piece_judgement AS m
            WHERE m.check_id = f.id AND m.piece = o.piece AND m.channel = o.channel
              AND CAST(coalesce((
                  SELECT y.expanded_uncertainty FROM reassessed_piece AS y
                  WHERE y.check_id = f.id AND y.piece = m.piece AND y.channel = m.channel
                  ORDER BY y.id DESC LIMIT 1), m.expanded_uncertainty) AS REAL) > 0
              AND CAST(m.spread AS REAL) <= CAST(m.spread_limit AS REAL)))
      AND NOT EXISTS (
        SELECT 1 FROM linearity_judgement AS o WHERE o.check_id = p.id AND NOT EXISTS (
            SELECT 1 FROM linearity_judgement AS m
            WHERE m.check_id = f.id AND m.piece = o.piece AND m.channel = o.channel)))"""

VIEWS = f"""
CREATE VIEW checks AS
SELECT c.id AS check_id, {_ISO.format("c.at_utc_ns")} AS begun, c.instrument, c.serial,
    c.quantity, c.channels, c.sitting_id, c.policy,
    coalesce(j.outcome, 'not judged') AS outcome, {_ISO.format("j.at_utc_ns")} AS judged,
    j.message, j.next_step, {_ISO.format("j.expires_utc_ns")} AS expires,
    {_ISO.format("e.at_utc_ns")} AS ended, e.reason AS end_reason, e.message AS end_message,
    c.at_utc_ns AS begun_utc_ns, j.at_utc_ns AS judged_utc_ns, j.expires_utc_ns,
    e.at_utc_ns AS ended_utc_ns
FROM check_begin AS c LEFT JOIN check_judgement AS j ON j.check_id = c.id
LEFT JOIN pass_end AS e ON e.check_id = c.id;

-- For every pass the check that closes it, found by serial number, whatever the instrument was
-- called meanwhile. A later check closes it well if it passed and read every piece that the pass
-- read, and found it where the pass itself would have passed it, and as straight where the pass
-- was held to that: by the certified value and the limits of then, whatever the policy says now.
-- It closes it badly if a piece of it failed at a channel of the pass or lay off the line there, or
-- if it failed and judged no piece at such a channel though it covered it, or failed by readings
-- that a person had voided, or found one of these pieces outside such a limit, whatever it came to
-- otherwise. A piece that it
-- could not judge has no uncertainty and says nothing. Other checks say nothing of the pass.
-- A re-adjustment in between breaks the bracket: no later check says anything of what came before,
-- and it stays not closed for good. What was read then stands only where the meter was read as it
-- was found, be it that this check was undecided; else nobody knows how it read, and it is suspect
-- as after a check that failed, with `adjusted_id`, the notice of that, in the place of a check.
-- A check that was judged anew, since a certificate it rested on was withdrawn as wrong, opens and
-- closes nothing well unless it passes by the one in its place, too, and what it had opened is
-- suspect then; it closes badly where it fails by it. `reassessment_id` is in the place of a check
-- then, and what closes a pass that opens nothing is not looked for: where there are many in a row,
-- each would be held against all after it. A check that failed by the wrong certificate stays one
-- that failed: nothing that was suspect counts again because of a certificate that came later.
-- What is in between goes by the order of recording, since clocks can be set.
CREATE VIEW brackets AS
SELECT p.id AS check_id, p.instrument, p.serial, j.at_utc_ns AS opened_utc_ns,
    CASE WHEN a.id IS NULL THEN n.id END AS closing_check_id,
    CASE WHEN a.id IS NULL THEN l.at_utc_ns END AS closed_utc_ns,
    CASE WHEN {_P_DOUBTED} IS NOT NULL THEN 'suspect'
         WHEN a.id IS NOT NULL AND {AS_FOUND.format(until="a.after_reading")} THEN 'not closed'
         WHEN a.id IS NOT NULL THEN 'suspect'
         WHEN n.id IS NULL THEN 'open'
         WHEN {_IS_BAD} OR {_N_FAILED} IS NOT NULL THEN 'suspect'
         ELSE 'bracketed' END AS state,
    a.id AS adjusted_id,
    coalesce({_P_DOUBTED}, CASE WHEN a.id IS NULL AND {_N_FAILED} IS NOT NULL AND NOT {_IS_BAD}
        THEN {_N_FAILED} END) AS reassessment_id
FROM check_begin AS p JOIN check_judgement AS j ON j.check_id = p.id AND j.outcome = 'pass'
LEFT JOIN check_begin AS n ON n.id = CASE WHEN {_P_DOUBTED} IS NULL THEN (
    SELECT n.id FROM check_begin AS n JOIN check_judgement AS l ON l.check_id = n.id
    WHERE n.serial = p.serial AND n.quantity = p.quantity AND n.id > p.id
      AND ({_IS_WELL} OR {_IS_BAD} OR {_N_FAILED} IS NOT NULL)
    ORDER BY n.id LIMIT 1) END
LEFT JOIN check_judgement AS l ON l.check_id = n.id
LEFT JOIN notice AS a ON a.id = CASE WHEN {_P_DOUBTED} IS NULL THEN ({_ADJUSTED}) END;

CREATE VIEW runs AS
SELECT r.id AS run_id, {_ISO.format("r.at_utc_ns")} AS begun, t.trial, r.measure, r.stage,
    r.instrument, r.serial, r.sitting_id, r.trial_id, t.unchecked,
    {_ISO.format("e.at_utc_ns")} AS ended, e.open_slots, e.why AS end_reason
FROM run AS r JOIN trial AS t ON t.id = r.trial_id LEFT JOIN run_end AS e ON e.run_id = r.id;

CREATE VIEW readings AS
SELECT q.id AS reading_id, {_ISO.format("q.at_utc_ns")} AS at, q.instrument, q.serial, q.quantity,
    q.channel, q.value, q.unit, q.value_real, q.text AS sent_text, q.sent_unit, q.press, q.flags,
    CASE WHEN a.id IS NOT NULL THEN 'run' ELSE q.role END AS role,
    t.trial, r.measure, coalesce(a.zone, q.zone) AS zone, coalesce(a.stage, q.stage) AS stage,
    coalesce(a.replicate, q.replicate) AS replicate,
    z.treatment, z.treatment_name, z.is_control, r.id AS run_id, q.sitting_id,
    coalesce(a.check_id, q.check_id) AS check_id, q.piece,
    CASE WHEN q.role = 'check' OR r.id IS NULL THEN NULL
         WHEN coalesce(a.unchecked, q.unchecked) THEN 'unchecked' ELSE b.state END AS bracket,
    b.closing_check_id, b.adjusted_id, b.reassessment_id,
    CASE WHEN a.id IS NULL THEN q.loose_reason END AS loose_reason,
    a.reason AS assigned_reason, v.reason AS void_reason,
    CASE WHEN r.id IS NOT NULL AND v.id IS NULL AND q.value IS NOT NULL
          AND (coalesce(a.unchecked, q.unchecked) = 1 OR b.state <> 'suspect')
         THEN 1 ELSE 0 END AS counts,
    CASE WHEN c.opened_as = '{TYPED_BY_HAND}' THEN 1 ELSE 0 END AS typed,
    q.connection_id, q.raw, q.raw_start, q.raw_end, q.at_utc_ns
FROM reading AS q JOIN connection AS c ON c.id = q.connection_id
LEFT JOIN assignment AS a ON a.reading_id = q.id
LEFT JOIN void AS v ON v.reading_id = q.id
LEFT JOIN run AS r ON r.id = coalesce(a.run_id, q.run_id)
LEFT JOIN trial AS t ON t.id = r.trial_id
LEFT JOIN trial_zone AS z ON z.trial_id = t.id AND z.zone = coalesce(a.zone, q.zone)
LEFT JOIN brackets AS b ON b.check_id = coalesce(a.check_id, q.check_id);

CREATE VIEW troubles AS
SELECT {_ISO.format("at_utc_ns")} AS at, instrument, kind, message FROM incident
UNION ALL
SELECT {_ISO.format("since_utc_ns")}, instrument, 'gap',
    lost_bytes || ' bytes went unrecorded until ' || {_ISO.format("until_utc_ns")} FROM gap
ORDER BY 1;
"""
