"""The three rules in pandas: lines through json.loads (several times faster here than pandas.read_json), the events
that the rules concern into frames, or with `values` every value of every event, then three counts.

    /usr/bin/python3 pandas_rules.py FILE [values]
"""
import json
import sys

import pandas as pd

columns = ["type", "at", "antiseptic", "dry_time"]
every = len(sys.argv) > 2
if every:
    columns += ["id", "recorded_at", "cleanser", "still_needed", "dressing_condition", "site_condition", "phlebitis_grade",
                "pain", "lumen", "hub_antiseptic", "hub_scrub_time", "hub_dry_time", "volume", "solution", "blood_return",
                "resistance", "temperature", "specimen", "dressing", "scrub_time", "external_length", "steps"]

records, events = [], []
with open(sys.argv[1], "rb") as file:
    for number, text in enumerate(file):
        record = json.loads(text)
        line = record["line"]
        records.append((number, line["inserted_at"], line["removed_at"] or record["observed_until"]))
        for event in record["events"]:
            if every:
                events.append((number, *map(event.get, columns)))
                continue
            kind = event["type"]
            if kind == "dressing_change":
                events.append((number, kind, event["at"], event.get("antiseptic"), event.get("dry_time")))
            elif kind == "fever" or kind == "culture":
                events.append((number, kind, event["at"], None, None))

records = pd.DataFrame(records, columns=["episode", "begins", "ends"])
events = pd.DataFrame(events, columns=["episode", *columns])
instants = [(records, "begins"), (records, "ends"), (events, "at")] + ([(events, "recorded_at")] if every else [])
for frame, column in instants:
    frame[column] = pd.to_datetime(frame[column], utc=True, format="%Y-%m-%dT%H:%M:%S%z")

changes = events[events.type == "dressing_change"]
bounds = pd.concat([
    changes[["episode", "at"]],
    records[["episode", "begins"]].rename(columns={"begins": "at"}),
    records[["episode", "ends"]].rename(columns={"ends": "at"}),
]).sort_values(["episode", "at"])
gaps = (bounds.groupby("episode")["at"].diff() > pd.Timedelta(hours=168)).sum()

hour = pd.Timedelta(minutes=60)
fevers = events[events.type == "fever"].merge(records[["episode", "ends"]], on="episode")
fevers = fevers[fevers["at"] + hour < fevers["ends"]].sort_values("at")
cultures = events[events.type == "culture"][["episode", "at"]].rename(columns={"at": "taken"}).sort_values("taken")
answered = pd.merge_asof(fevers, cultures, left_on="at", right_on="taken", by="episode", direction="forward",
                         tolerance=hour)
unanswered = answered["taken"].isna().sum()

wet = ((changes.antiseptic == "chg_alcohol") & (changes.dry_time < 120)).sum()
print(gaps, unanswered, wet)
