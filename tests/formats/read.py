"""Reads a file of the service with a general library and says in JSON what the library made of it.

    read.py ics FILE          icalendar
    read.py atom FILE         feedparser
    read.py xlsx FILE CSV     openpyxl, held cell by cell against the same list as CSV
"""

import csv
import datetime
import json
import sys


def ics(path):
    import icalendar

    data = open(path, "rb").read()
    calendar = icalendar.Calendar.from_ical(data)
    events = []
    for event in calendar.walk("VEVENT"):
        start, end = event.decoded("DTSTART"), event.decoded("DTEND")
        zone = start.tzname() if isinstance(start, datetime.datetime) else "day"
        events.append(
            {
                "uid": str(event["UID"]),
                "sequence": int(event["SEQUENCE"]),
                "start": start.isoformat(),
                "end": end.isoformat(),
                "zone": zone,
                "stamp_zone": event.decoded("DTSTAMP").tzname(),
                "summary": str(event["SUMMARY"]),
                "errors": [str(error) for error in event.errors],
            }
        )
    longest = max(len(line) for line in data.split(b"\r\n"))
    return {
        "version": str(calendar["VERSION"]),
        "prodid": str(calendar["PRODID"]),
        "errors": [str(error) for error in calendar.errors],
        "longest": longest,
        "bare_line_ends": data.replace(b"\r\n", b"").count(b"\n"),
        "events": events,
    }


def atom(path):
    import feedparser

    feed = feedparser.parse(open(path, "rb").read())
    entries = [
        {name: entry.get(name, "") for name in ("id", "title", "author")}
        | {"updated": list(entry.updated_parsed or [])[:6]}
        for entry in feed.entries
    ]
    return {
        "bozo": bool(feed.bozo),
        "why": str(feed.get("bozo_exception", "")),
        "version": feed.version,
        "id": feed.feed.get("id", ""),
        "title": feed.feed.get("title", ""),
        "author": feed.feed.get("author", ""),
        "updated": list(feed.feed.updated_parsed or [])[:6],
        "entries": entries,
    }


def unguarded(text):
    rest = text.lstrip("'")
    return text[1:] if text != rest and rest[:1] in "=+-@\t\r" else text


def same(cell, text):
    """Whether a cell is what the text says, and as what."""
    value = cell.value
    if cell.data_type == "f":
        return "formula", False
    if value is None:
        return "empty", text == ""
    if isinstance(value, datetime.timedelta):
        minutes = round(value.total_seconds() / 60)
        hours, _, rest = text.partition(":")
        return "duration", minutes == (int(hours) * 60 + int(rest) if rest else int(text))
    if isinstance(value, datetime.datetime):
        told = datetime.datetime.fromisoformat(text.replace("Z", "+00:00")).replace(tzinfo=None)
        return "date", abs((value - told).total_seconds()) < 0.001
    if isinstance(value, (int, float)):
        return "number", float(text) == float(value)
    return "text", str(value).replace("\r\n", "\n") == unguarded(text).replace("\r\n", "\n")


def xlsx(path, beside):
    import openpyxl

    sheet = openpyxl.load_workbook(path).worksheets[0]
    with open(beside, encoding="utf-8-sig", newline="") as file:
        rows = list(csv.reader(file))
    found = {"rows": sheet.max_row, "told": len(rows), "wrong": [], "kinds": {}}
    for cells, texts in zip(sheet.iter_rows(), rows, strict=False):
        for cell, text in zip(cells, texts, strict=True):
            what, is_same = same(cell, text)
            found["kinds"][what] = found["kinds"].get(what, 0) + 1
            if not is_same and len(found["wrong"]) < 10:
                found["wrong"].append([cell.coordinate, what, str(cell.value), text])
    return found


if __name__ == "__main__":
    print(json.dumps({"ics": ics, "atom": atom, "xlsx": xlsx}[sys.argv[1]](*sys.argv[2:])))
