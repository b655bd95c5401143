// The three rules in DuckDB. Only the keys that they need are read, with their types said, and only the events that
// they concern are kept; with `all`, every event is, as one loads what other rules are to be asked of. Prints the
// three counts, then the seconds of loading and of the three questions on what is loaded.
//
//   node duckdb.mjs FILE THREADS [all]      where @duckdb/node-api is installed
import {createRequire} from 'node:module'

const {DuckDBInstance} = createRequire(process.cwd() + '/')('@duckdb/node-api')
const [file, threads, scope] = process.argv.slice(2)
const concerned = "list_filter(events, lambda e: e.type in ('dressing_change', 'fever', 'culture'))"

const load = `
  create table records as
  select episode, line.inserted_at::timestamptz as begins,
         coalesce(line.removed_at, observed_until)::timestamptz as ends,
         ${scope === 'all' ? 'events' : concerned} as kept
  from read_ndjson('${file}', columns = {
    episode: 'varchar', observed_until: 'varchar', line: 'struct(inserted_at varchar, removed_at varchar)',
    events: 'struct(type varchar, "at" varchar, antiseptic varchar, dry_time double)[]'});
  create table events as
  select episode, ends, e.type as type, e."at"::timestamptz as "at", e.antiseptic as antiseptic, e.dry_time as dry_time
  from (select episode, ends, unnest(kept) as e from records);
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
