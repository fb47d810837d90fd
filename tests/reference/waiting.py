"""Writes waiting.json: 40 small excursions on which a task has a place only if it begins on purpose
later than it could, by OR-Tools CP-SAT.

The excursions and the narrow reading are those of places.py, made so that a set task holds the one
tool, and an earlier one in the order of the slots, in another seat, waits for the task. There, a
tool goes through the hands in the order of the slots. Here the task may also wait for a tool that a
later slot holds: kept are excursions without a place under the first rule, and with one under the
second. A test of src/compute/fit reads the file.
"""

import json
import pathlib
import platform
import random
import sys

import ortools

sys.dont_write_bytecode = True

from places import case, narrowly, suits  # noqa: E402
from places_model import Narrow  # noqa: E402

SEED = 20_307
MANY = 40


def with_tool(rng: random.Random) -> dict:
    """An excursion of which a set task and the one that looks for a place use the same tool."""
    while True:
        row = case(rng)
        stops, own = row["stops"], row["task"]
        one_seat = own["count"] == 1 and len(row["seats"]) == 2
        if not one_seat or len(stops) < 2 or row["brings_aid"] is not None:
            continue
        holder = rng.randrange(1, len(stops))
        first = rng.randrange(holder)
        if len(stops[holder]["seats"]) != 1 or stops[first]["seats"] == stops[holder]["seats"]:
            continue
        for stop in stops:
            stop["tool"] = False
        stops[holder]["tool"] = own["tool"] = True
        own["needs"], own["needed_by"], own["inhibits"] = [], [first], []
        suits(row, rng)
        if row["limit"] is not None:
            row["limit"] += rng.choice([30, 60, 90])
            return row


def waits(row: dict) -> bool:
    if Narrow(row, None, None, "at start").least_end(row["limit"]) is None:
        return False
    if narrowly(row, "at start") is not None:
        return False
    return narrowly(row, "at start", waits=True) is not None


def main() -> None:
    rng, rows, tried = random.Random(SEED), [], 0
    while len(rows) < MANY:
        row = with_tool(rng)
        tried += 1
        if waits(row):
            rows.append({**row, "place": "another"})
    head = {
        "made_with": {"ortools": ortools.__version__, "python": platform.python_version()},
        "seed": SEED,
        "tried": tried,
        "fields": "as in places.json; each has a place, and only one that is begun later on purpose",
    }
    lines = [json.dumps(row, separators=(",", ":")) for row in rows]
    text = json.dumps(head)[:-1] + ', "cases": [\n' + ",\n".join(lines) + "\n]}\n"
    (pathlib.Path(__file__).parent / "waiting.json").write_text(text)


if __name__ == "__main__":
    main()
