-- The three rules in SQLite's shell: lines in, the events that the rules concern out into a table, then three counts.
-- side_by_side.py makes it load every value of every event too: without the line that says so, with those marked.
--   sqlite3 :memory: ".read sqlite.sql"      with lines.ndjson in the folder, which `.import` cannot be told
create table lines (line text);
.mode ascii
.separator "\001" "\n"
.import lines.ndjson lines
create table records as
select rowid as episode,
       unixepoch(line ->> '$.line.inserted_at') as begins,
       unixepoch(coalesce(line ->> '$.line.removed_at', line ->> '$.observed_until')) as ends
from lines;
create table events as
select lines.rowid as episode, value ->> '$.type' as type, unixepoch(value ->> '$.at') as at,
       value ->> '$.antiseptic' as antiseptic, value ->> '$.dry_time' as dry_time
--values , value ->> '$.id' as id, unixepoch(value ->> '$.recorded_at') as recorded_at, value ->> '$.cleanser' as cleanser
--values , value ->> '$.still_needed' as still_needed, value ->> '$.dressing_condition' as dressing_condition
--values , value ->> '$.site_condition' as site_condition, value ->> '$.phlebitis_grade' as phlebitis_grade
--values , value ->> '$.pain' as pain, value ->> '$.lumen' as lumen, value ->> '$.hub_antiseptic' as hub_antiseptic
--values , value ->> '$.hub_scrub_time' as hub_scrub_time, value ->> '$.hub_dry_time' as hub_dry_time
--values , value ->> '$.volume' as volume, value ->> '$.solution' as solution, value ->> '$.blood_return' as blood_return
--values , value ->> '$.resistance' as resistance, value ->> '$.temperature' as temperature
--values , value ->> '$.specimen' as specimen, value ->> '$.dressing' as dressing, value ->> '$.scrub_time' as scrub_time
--values , value ->> '$.external_length' as external_length, value ->> '$.steps' as steps
from lines, json_each(lines.line, '$.events')
where value ->> '$.type' in ('dressing_change', 'fever', 'culture')  -- only what the rules concern
;
create index cultures on events (episode, at) where type = 'culture';
.mode list
select count(*) from (
  select at - lag(at) over (partition by episode order by at) as gap from (
    select episode, at from events where type = 'dressing_change'
    union all select episode, begins from records
    union all select episode, ends from records))
where gap > 168 * 3600;
select count(*) from events f join records r on r.rowid = f.episode
where type = 'fever' and at + 3600 < ends and not exists (
  select 1 from events c
  where c.type = 'culture' and c.episode = f.episode and c.at between f.at and f.at + 3600);
select count(*) from events where type = 'dressing_change' and antiseptic = 'chg_alcohol' and dry_time < 120;
