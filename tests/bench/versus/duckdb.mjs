// The three rules in DuckDB. Only the keys that they need are read, with their types said, and only the events that
// they concern are kept; with `events`, every event is, as one loads what other rules are to be asked of; with
// `values`, every key of every event too, so that each value is seen to be of its type. Prints the three counts, then
// the seconds of loading and of the three questions on what is loaded.
//
//   node duckdb.mjs FILE THREADS [events|values]      where @duckdb/node-api is installed
import {createRequire} from 'node:module'

const {DuckDBInstance} = createRequire(process.cwd() + '/')('@duckdb/node-api')
const [file, threads, scope] = process.argv.slice(2)
const concerned = "list_filter(events, lambda e: e.type in ('dressing_change', 'fever', 'culture'))"

const needed = 'type varchar, "at" varchar, antiseptic varchar, dry_time double'
const others = `id varchar, recorded_at varchar, cleanser varchar, still_needed boolean, dressing_condition varchar,
  site_condition varchar, phlebitis_grade integer, pain integer, lumen integer, hub_antiseptic varchar,
  hub_scrub_time double, hub_dry_time double, volume double, solution varchar, blood_return boolean,
  resistance boolean, temperature double, specimen varchar, dressing varchar, scrub_time double,
  external_length double, steps varchar[]`

const values = scope === 'values'
const load = `
  create table records as
  select ${values ? '* exclude (events, line, observed_until), line.*,' : 'episode,'}
         line.inserted_at::timestamptz as begins, coalesce(line.removed_at, observed_until)::timestamptz as ends,
         ${scope ? 'events' : concerned} as kept
  from read_ndjson('${file}', columns = {
    ${values ? `facility: 'varchar', care_unit: 'varchar',
    patient: 'struct("key" varchar, age struct("value" double, unit varchar), setting varchar, chg_sensitivity boolean)',` : ''}
    episode: 'varchar', observed_until: 'varchar',
    line: 'struct(inserted_at varchar, removed_at varchar${values ? `, kind varchar, lumens integer,
      external_length double, dressing varchar, antiseptic varchar, scrub_time double, dry_time double` : ''})',
    events: 'struct(${needed}${values ? ', ' + others : ''})[]'});
  create table events as
  select * replace ("at"::timestamptz as "at"${values ? ', recorded_at::timestamptz as recorded_at' : ''})
  from (select episode, ends, unnest(kept, recursive := true) from records);
  alter table records drop column kept;`

const rules = [`
  select count(*) from (
    select "at" - lag("at") over (partition by episode order by "at") as gap from (
      select episode, "at" from events where type = 'dressing_change'
      union all select episode, begins from records
      union all select episode, ends from records))
  where gap > interval 168 hours`, `
  select count(*) from events f
  where type = 'fever' and "at" + interval 60 minutes < ends and not exists (
    select 1 from events c
    where c.type = 'culture' and c.episode = f.episode and c."at" between f."at" and f."at" + interval 60 minutes)`, `
  select count(*) from events
  where type = 'dressing_change' and antiseptic = 'chg_alcohol' and dry_time < 120`]

const database = await DuckDBInstance.create(':memory:', {threads})
const connection = await database.connect()
const count = async rule => String((await (await connection.runAndReadAll(rule)).getRows())[0][0])
const seconds = async work => {
  const begin = process.hrtime.bigint()
  await work()
  return Number(process.hrtime.bigint() - begin) / 1e9
}

const loading = await seconds(() => connection.run(load))
const counts = []
const asking = await seconds(async () => { for (const rule of rules) counts.push(await count(rule)) })
console.log(counts.join(' '), loading.toFixed(3), asking.toFixed(3))
