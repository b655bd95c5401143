#!/usr/bin/env python3
"""Civil-time cases worked out by Python's zoneinfo, an independent reader of the same zone files.

usage: civil_time.py SEED COUNT      prints one case a line: WHAT ZONE ARGUMENTS… = ANSWER…, instants in microseconds
"""
import calendar
import random
import sys
from datetime import date, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

UTC = timezone.utc
EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
ZONES = ["America/Halifax", "Europe/Berlin", "Australia/Lord_Howe", "America/Sao_Paulo", "Asia/Beirut", "America/Havana",
         "America/St_Johns", "Africa/Casablanca", "Africa/Cairo", "America/Nuuk", "America/Santiago", "Pacific/Apia",
         "Asia/Gaza", "Asia/Kathmandu", "UTC"]


def micros(moment):
    return (moment - EPOCH) // timedelta(microseconds=1)


def instants_of(local, zone):
    """The instants at which the zone's clocks show this naive local time: none, one or two."""
    found = []
    for fold in (0, 1):
        instant = local.replace(tzinfo=zone, fold=fold).astimezone(UTC)
        if instant.astimezone(zone).replace(tzinfo=None) == local and instant not in found:
            found.append(instant)
    return found


def first_after_skip(local, zone):
    a, b = sorted(local.replace(tzinfo=zone, fold=f).astimezone(UTC).replace(microsecond=0) for f in (0, 1))
    a -= timedelta(seconds=1)
    b += timedelta(seconds=1)
    before = a.astimezone(zone).utcoffset()
    while b - a > timedelta(seconds=1):
        middle = a + timedelta(seconds=(b - a) // timedelta(seconds=1) // 2)
        if middle.astimezone(zone).utcoffset() == before:
            a = middle
        else:
            b = middle
    return b


def at(local, zone):
    found = instants_of(local, zone)
    return max(found) if found else first_after_skip(local, zone)


def begin_of(day, zone):
    """Minute by minute where the clocks change near the day."""
    midnight = datetime(day.year, day.month, day.day)
    near = [midnight.replace(tzinfo=UTC) + timedelta(hours=h) for h in range(-40, 41, 4)]
    if len({n.astimezone(zone).utcoffset() for n in near}) == 1:
        return instants_of(midnight, zone)[0]
    instant = midnight.replace(tzinfo=UTC) - timedelta(hours=40)
    later = None
    for _ in range(80 * 60):
        shown = instant.astimezone(zone).date()
        if shown == day:
            return instant
        if shown > day and later is None:
            later = instant
        instant += timedelta(minutes=1)
    return later


def add_months(day, months):
    month0 = day.year * 12 + day.month - 1 + months
    year, month = divmod(month0, 12)
    return date(year, month + 1, min(day.day, calendar.monthrange(year, month + 1)[1]))


def changes(zone, rng):
    """An instant within two days of a clock change, where the zone has one that year."""
    year = rng.choice([rng.randint(1976, 2037), rng.randint(2015, 2030), rng.randint(2038, 2198)])
    instant = datetime(year, 1, 1, tzinfo=UTC)
    found = []
    for _ in range(366):
        following = instant + timedelta(days=1)
        if instant.astimezone(zone).utcoffset() != following.astimezone(zone).utcoffset():
            found.append(instant)
        instant = following
    start = rng.choice(found) if found else datetime(year, 1, 1, tzinfo=UTC) + timedelta(days=rng.randint(0, 364))
    step = rng.choice([timedelta(minutes=1), timedelta(minutes=30), timedelta(seconds=1)])
    return start + rng.randint(-2 * 86400, 3 * 86400) // step.seconds * step


def main():
    rng = random.Random(int(sys.argv[1]))
    for _ in range(int(sys.argv[2])):
        name = rng.choice(ZONES)
        zone = ZoneInfo(name)
        instant = changes(zone, rng)
        shown = instant.astimezone(zone)
        local = shown.replace(tzinfo=None, fold=0)
        t = micros(instant)
        seconds = (local - datetime(local.year, local.month, local.day)).seconds
        offset = shown.utcoffset() // timedelta(seconds=1)
        print("shows", name, t, "=", local.date(), seconds, offset)
        # local times around the change, some of which the clocks skip and some of which come twice
        wished = local + timedelta(minutes=rng.choice([0, 0, -90, -60, -30, 30, 60, 90]))
        found = instants_of(wished, zone)
        wished_seconds = (wished - datetime(wished.year, wished.month, wished.day)).seconds
        print("at", name, wished.date(), wished_seconds, len(found), "=", micros(at(wished, zone)))
        print("begin", name, wished.date(), "=", micros(begin_of(wished.date(), zone)))
        # spans that end near a clock change, begun before it
        days = rng.choice([0, 1, 2, 7, 14, 28, rng.randint(0, 400)])
        months = rng.choice([0, 0, 1, 3, 12, 18])
        elapsed = rng.choice([0, 0, 12 * 3600, 1800, rng.randint(0, 10**6)])
        back = at(datetime.combine(local.date() - timedelta(days=days), local.time()), zone)
        start = back.astimezone(zone).replace(tzinfo=None, fold=0)
        ends = add_months(start.date(), months) + timedelta(days=days)
        if months or days:
            due = at(datetime.combine(ends, start.time()), zone) + timedelta(seconds=elapsed)
        else:
            due = back + timedelta(seconds=elapsed)
        print("add", name, micros(back), months, days, elapsed, "=", micros(due))
        midnight = begin_of(ends + timedelta(days=1), zone) + timedelta(seconds=elapsed)
        print("calendar", name, micros(back), months, days, elapsed, "=", micros(midnight))


main()
