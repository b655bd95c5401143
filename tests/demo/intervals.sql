-- The demo policy's `at least every` clauses as window functions over the records, row by row. Written from the
-- policy's sentences and the reference, chapter 4; no line of it comes from the engine.
--
-- Before: table raw(line), one JSON record a row; wall(t) and instant(w) turn seconds since the epoch into seconds on
-- Halifax's wall clock and back. After: table expected(episode, item, part, opened, outcome).

-- ---- The records as tables ------------------------------------------------------------------------------------

CREATE TABLE sound AS
SELECT line, json_extract(line, '$.episode') AS episode FROM raw
WHERE json_valid(line) AND json_type(line) = 'object' AND json_extract(line, '$.episode') LIKE 'q-%';

CREATE TABLE stay AS
SELECT episode, read_instant(json_extract(line, '$.line.inserted_at')) AS inserted,
       read_instant(json_extract(line, '$.line.removed_at')) AS removed,
       read_instant(json_extract(line, '$.observed_until')) AS observed_until,
       json_extract(line, '$.line.lumens') AS lumens,
       json_extract(line, '$.patient.setting') AS setting,
       json_extract(line, '$.patient.age') IS NULL AND json_extract(line, '$.patient.birth_date') IS NULL AS ageless,
       -- the first instant of the 29th day of life
       instant(strftime('%s', json_extract(line, '$.patient.birth_date')) + 29 * 86400) AS grown
FROM sound;

CREATE TABLE event AS
SELECT DISTINCT s.episode, json_extract(e.value, '$.id') AS id, json_extract(e.value, '$.type') AS type,
       read_instant(json_extract(e.value, '$.at')) AS at, json_extract(e.value, '$.dressing') AS dressing,
       json_extract(e.value, '$.reason') AS reason, json_extract(e.value, '$.refused') AS refused,
       json_extract(e.value, '$.infusion') AS infusion, json_extract(e.value, '$.fluid') AS fluid,
       json_extract(e.value, '$.delivery') AS delivery, json_extract(e.value, '$.setting') AS setting,
       CAST(coalesce(json_extract(e.value, '$.lumen'), '1') AS INTEGER) AS lumen
FROM sound AS s, json_each(s.line, '$.events') AS e;

CREATE INDEX event_of ON event(episode, type);
CREATE INDEX sound_of ON sound(episode);
CREATE INDEX stay_of ON stay(episode);

-- What lies past the end of observation is not seen.
DELETE FROM event WHERE at > (SELECT observed_until FROM stay WHERE stay.episode = event.episode);

-- The line's end, or the record's: whichever the episode has.
CREATE TABLE span AS
SELECT stay.*, coalesce(observed_until, removed, (SELECT max(at) FROM event WHERE event.episode = stay.episode)) AS horizon
FROM stay;

-- ---- Dressings ------------------------------------------------------------------------------------------------

-- Each dressing with the change that ended it. A value that is not in the vocabulary is no value.
CREATE TABLE dressing AS
WITH put_on AS (
  SELECT stay.episode, inserted AS at, 1 AS at_insertion,
         coalesce((SELECT dressing FROM event WHERE event.episode = stay.episode AND type = 'insertion'),
                  (SELECT json_extract(line, '$.line.dressing') FROM sound WHERE sound.episode = stay.episode)) AS dressing
  FROM stay
  UNION ALL
  SELECT episode, at, 0, dressing FROM event WHERE type = 'dressing_change'
)
SELECT put_on.episode, at, at_insertion,
       CASE WHEN dressing IN ('transparent', 'chg_transparent') THEN 'dressing.transparent'
            WHEN dressing IN ('gauze', 'gauze_under_transparent') THEN 'dressing.gauze'
            WHEN dressing = 'no_dressing' THEN 'none' ELSE 'unknown' END AS rule,
       lead(at) OVER (PARTITION BY put_on.episode ORDER BY at, at_insertion DESC) AS next,
       removed, horizon, ageless, grown
FROM put_on JOIN span USING (episode);

CREATE TABLE expected(episode TEXT, item TEXT, part TEXT, opened INTEGER, outcome TEXT);

CREATE TABLE dressing_rule(rule TEXT, days INTEGER, grace INTEGER);
INSERT INTO dressing_rule VALUES ('dressing.transparent', 7, 12 * 3600), ('dressing.gauze', 2, 4 * 3600);

-- Until the 29th day of life neither clause applies. Then the newest change counts on, if its limit is still to come.
CREATE TABLE dressing_due AS
WITH opened AS (
  SELECT d.*, r.days, r.grace,
         CASE WHEN grown > at AND (at_insertion OR instant(wall(at) + days * 86400) + grace <= grown) THEN grown ELSE at END AS opened
  FROM dressing AS d JOIN dressing_rule AS r USING (rule)
  WHERE NOT ageless AND (grown IS NULL OR coalesce(next, removed, horizon) > grown)
)
SELECT *, instant(wall(opened) + days * 86400) AS due, instant(wall(opened) + days * 86400) + grace AS last FROM opened;

INSERT INTO expected
SELECT episode, rule, '', opened,
       CASE WHEN verdict IN ('late', 'missed')
             AND EXISTS (SELECT 1 FROM event AS no WHERE no.episode = v.episode AND no.type = 'refusal'
                         AND no.refused = 'dressing_change' AND no.at <= v.last AND no.at + 24 * 3600 >= v.due)
            THEN 'excused' ELSE verdict END
FROM (SELECT *, CASE WHEN next IS NOT NULL THEN iif(next <= last, 'met', 'late')
                     WHEN removed IS NOT NULL THEN iif(removed <= last, 'no_longer_due', 'missed')
                     ELSE iif(horizon <= last, 'pending', 'missed') END AS verdict FROM dressing_due) AS v;

-- A stretch over which nobody can tell whether a clause applies gives one opportunity, where it begins.
INSERT INTO expected
SELECT episode, rule, '', CASE WHEN grown > at THEN grown ELSE at END, 'not_assessable'
FROM (SELECT *, coalesce(lag(unknown) OVER (PARTITION BY episode, rule ORDER BY at, at_insertion DESC), 0) AS before
      FROM (SELECT d.episode, d.at, d.at_insertion, d.grown, r.rule,
                   (d.rule = 'unknown' OR (d.rule = r.rule AND d.ageless))
                     AND (d.grown IS NULL OR coalesce(d.next, d.removed, d.horizon) > d.grown) AS unknown
            FROM dressing AS d, dressing_rule AS r))
WHERE unknown AND NOT before;

-- ---- Sets and connectors --------------------------------------------------------------------------------------

-- One row a part and clause: from when until when, and how it ends. `shortest`: no more often than.
CREATE TABLE part_rule(item TEXT, days INTEGER, elapsed INTEGER, grace INTEGER, shortest INTEGER);
INSERT INTO part_rule VALUES ('set.continuous', 7, 0, 0, 96 * 3600), ('set.nutrition_lipid_blood', 0, 24 * 3600, 3600, NULL),
  ('set.propofol', 0, 12 * 3600, 3600, NULL), ('connector.interval', 7, 0, 12 * 3600, 96 * 3600);

CREATE TABLE infusion AS
SELECT start.episode, start.infusion AS part, start.at AS began,
       coalesce((SELECT at FROM event AS stop WHERE stop.episode = start.episode AND stop.type = 'infusion_stop'
                 AND stop.infusion = start.infusion), removed) AS ended, horizon,
       CASE WHEN fluid IN ('crystalloid', 'medication', 'nutrition', 'lipid', 'blood', 'propofol', 'vesicant')
            THEN fluid END AS fluid, delivery
FROM event AS start JOIN span USING (episode) WHERE type = 'infusion_start';

CREATE TABLE part AS
SELECT episode, part, began, ended, horizon,
       CASE WHEN fluid IN ('nutrition', 'lipid', 'blood') THEN 'set.nutrition_lipid_blood'
            WHEN fluid = 'propofol' THEN 'set.propofol'
            WHEN fluid IS NOT NULL AND delivery = 'continuous' THEN 'set.continuous' END AS item
FROM infusion
UNION ALL
SELECT episode, number, inserted, removed, horizon, 'connector.interval'
FROM span JOIN (SELECT 1 AS number UNION SELECT 2 UNION SELECT 3 UNION SELECT 4 UNION SELECT 5) ON number <= lumens;

-- What runs is not charted: each clause that it could be under has one opportunity, not assessable. Likewise lumens.
INSERT INTO expected
SELECT episode, item, part, began, 'not_assessable' FROM infusion, part_rule
WHERE (fluid IS NULL AND item LIKE 'set.%' AND NOT (item = 'set.continuous' AND delivery IS 'intermittent'))
   OR (item = 'set.continuous' AND fluid IN ('crystalloid', 'medication', 'vesicant') AND delivery IS NULL)
UNION ALL
SELECT episode, 'connector.interval', '', inserted, 'not_assessable' FROM stay WHERE lumens IS NULL;

INSERT INTO expected
WITH renewal AS (
  SELECT p.*, e.at, e.reason FROM part AS p JOIN event AS e
    ON e.episode = p.episode AND ((p.item LIKE 'set.%' AND e.type = 'set_change' AND e.infusion = p.part)
                               OR (p.item = 'connector.interval' AND e.type = 'connector_change' AND e.lumen = p.part))
  WHERE p.item IS NOT NULL
  UNION ALL  -- the part's beginning opens the first
  SELECT part.*, began, NULL FROM part WHERE item IS NOT NULL
), paired AS (
  SELECT r.*, lead(at) OVER one AS next, lead(reason) OVER one AS next_reason, row_number() OVER one AS number
  FROM renewal AS r WINDOW one AS (PARTITION BY episode, item, part ORDER BY at)
), limited AS (
  SELECT paired.*, shortest, instant(wall(at) + days * 86400) + elapsed + grace AS last
  FROM paired JOIN part_rule USING (item)
)
SELECT episode, item, part, at,
       CASE WHEN next IS NOT NULL AND number > 1 AND next < at + shortest AND next_reason IS 'contaminated' THEN 'met'
            WHEN next IS NOT NULL AND number > 1 AND next < at + shortest THEN
              CASE WHEN next_reason IN (SELECT value FROM json_each(CASE WHEN item = 'set.continuous' THEN
                          '["leak"]' ELSE '["removed","blood_inside","before_culture"]' END)) THEN 'met'
                   WHEN next_reason IN ('routine', 'other', 'new_container') THEN 'early' ELSE 'not_assessable' END
            WHEN next IS NOT NULL THEN iif(next <= last, 'met', 'late')
            WHEN ended IS NOT NULL THEN iif(ended <= last, 'no_longer_due', 'missed')
            ELSE iif(horizon <= last, 'pending', 'missed') END
FROM limited;

-- ---- Looks at the site outside the hospital -------------------------------------------------------------------

CREATE TABLE away AS
WITH setting AS (
  SELECT episode, inserted AS at, setting FROM stay
  UNION ALL SELECT episode, at, setting FROM event WHERE type = 'transfer'
), turned AS (
  SELECT *, CASE WHEN setting IN ('icu', 'ward') THEN 'in' WHEN setting IN ('outpatient', 'home') THEN 'out' ELSE 'unknown' END AS place
  FROM setting
), turns AS (
  SELECT *, lag(place) OVER (PARTITION BY episode ORDER BY at) AS before FROM turned
)
SELECT t.episode, place, at AS began, lead(at) OVER (PARTITION BY t.episode ORDER BY at) AS moved, removed, horizon
FROM turns AS t JOIN span USING (episode) WHERE before IS NULL OR before <> place;

INSERT INTO expected SELECT episode, 'site.away', '', began, 'not_assessable' FROM away WHERE place = 'unknown';

INSERT INTO expected
WITH opener AS (  -- a look before the stretch counts on while its limit lies in it
  SELECT a.*, coalesce((SELECT max(at) FROM event AS e WHERE e.episode = a.episode AND e.type = 'site_assessment'
                        AND e.at <= a.began AND instant(wall(e.at) + 8 * 86400) > a.began), a.began) AS at
  FROM away AS a WHERE place = 'out'
), look AS (
  SELECT episode, began, moved, removed, horizon, at FROM opener
  UNION ALL
  SELECT a.episode, a.began, a.moved, a.removed, a.horizon, e.at FROM opener AS a JOIN event AS e
    ON e.episode = a.episode AND e.type = 'site_assessment' AND e.at > a.began
   AND e.at <= coalesce(a.moved, a.removed, a.horizon)
), paired AS (
  SELECT *, lead(at) OVER (PARTITION BY episode, began ORDER BY at) AS next, instant(wall(at) + 8 * 86400) AS last FROM look
)
SELECT episode, 'site.away', '', at,
       CASE WHEN next IS NOT NULL THEN iif(next <= last, 'met', 'late')
            WHEN coalesce(moved, removed) IS NOT NULL THEN iif(coalesce(moved, removed) <= last, 'no_longer_due', 'missed')
            ELSE iif(horizon <= last, 'pending', 'missed') END
FROM paired;
