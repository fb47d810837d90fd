"""Writes places.json: whether a task has a place on 300 small excursions, by OR-Tools CP-SAT.

An excursion has one or two seats, tasks set in an order, and one task that looks for a place: a
choice of seats, a position in the order and a start. The checks are those of the design: what it
needs before it and what needs it after it, the limit, arm and light windows, inhibits in place from
one minute until another, a tool of which there is one, routes that need an aid, suit supplies that
run to the one common repressurisation.

Every excursion is asked twice, so that no answer hangs on a reading of the design:
- narrowly: the set tasks go as early as they can in their order and keep their windows; the task
  may start later than it could; bounds are drawn in. A place found here counts for everybody.
- widely: the set tasks may wait as long as they like and may miss their windows, the order between
  the seats is free, bounds are let out. Where nothing is found here there is no place for anybody.
Only excursions on which both agree are kept. Every number is a whole minute, no work varies. Of the
places found, half are not the one that ends first when inhibits, tool, limit and supplies are left
aside: whoever looks at that one alone misses them.
A test of src/compute/fit reads the file.
"""

import json
import pathlib
import platform
import random
import sys

import ortools

sys.dont_write_bytecode = True

from places_model import ALTITUDE, SUPPLIES, Narrow, Wide, beta, usage  # noqa: E402

SEED = 20_306
# How many of each kind: no place, the place that ends first, another place.
QUOTAS = {"none": 150, "first": 75, "another": 75}
RESERVE = 30  # minutes of every supply, kept back


def case(rng: random.Random) -> dict:
    seats = 1 if rng.random() < 0.2 else 2
    sites = rng.randint(3, 4)
    with_aid = rng.random() < 0.35
    legs = []
    for a in range(sites):
        for b in range(a + 1, sites):
            over_aid = with_aid and b == sites - 1 and (a == 0 or rng.random() < 0.5)
            legs.append([a, b, rng.randint(2, 12), over_aid])
            legs.append([b, a, rng.randint(2, 12), over_aid])
    tool = rng.random() < 0.45
    count = rng.randint(0, 4)
    stops = [stop(rng, seats, sites, at) for at in range(count)]
    if tool and stops:
        # There is one, so no two set tasks hold it.
        rng.choice(stops)["tool"] = True
    own = stop(rng, seats, sites, 0)
    own["arm"] = rng.random() < 0.3
    own["tool"] = tool
    own["needs"] = [at for at in range(count) if rng.random() < 0.15]
    own["needed_by"] = [
        at for at in range(count) if at not in own["needs"] and rng.random() < 0.12
    ]
    own["inhibits"] = []
    if rng.random() < 0.45:
        begins = rng.randint(20, 160)
        until = rng.choice([None, begins + rng.randint(30, 120)])
        own["inhibits"].append([rng.choice([None, begins, begins]), until])
    own.pop("seats")
    own["count"] = 2 if seats == 2 and rng.random() < 0.3 else 1
    row = {
        "seats": list(range(1, seats + 1)),
        "legs": legs,
        "sites": [[0, 0]] + [[rng.randint(0, 6), rng.randint(0, 4)] for _ in range(sites - 1)],
        "egress": rng.randint(15, 30),
        "ingress": rng.randint(10, 25),
        "arm": arm_windows(rng),
        "orbit": {
            "period": rng.choice([80, 90, 100]),
            "altitude": ALTITUDE,
            "beta": beta(),
            "sunrise": rng.randint(0, 99),
        },
        "stops": stops,
        "task": own,
        "brings_aid": None,
    }
    if with_aid and rng.random() < 0.8:
        # A set task brings the aid in, or now and then the one that looks for a place.
        row["brings_aid"] = rng.choice(list(range(count)) * 4 + [-1])
    suits(row, rng)
    return row


def stop(rng: random.Random, seats: int, sites: int, place: int) -> dict:
    return {
        "site": rng.randint(1, sites - 1),
        "seats": [1] if seats == 1 else rng.choice([[1], [2], [1], [2], [1, 2]]),
        "work": rng.randint(10, 50),
        "rate": rng.choice(["light", "moderate", "heavy"]),
        "arm": rng.random() < 0.2,
        "light": rng.choice(["any", "any", "any", "any", "day", "night"]),
        "tool": False,
        "needs": [rng.randrange(place)] if place and rng.random() < 0.15 else [],
    }


def arm_windows(rng: random.Random) -> list:
    spans, at = [], rng.randint(10, 80)
    for _ in range(rng.randint(1, 3)):
        until = at + rng.randint(35, 110)
        spans.append([at, until])
        at = until + rng.randint(10, 60)
    return spans


def suits(row: dict, rng: random.Random) -> None:
    row["rates"] = [
        {
            "light": float(rng.randint(120, 190)),
            "moderate": float(rng.randint(210, 290)),
            "heavy": float(rng.randint(340, 460)),
            "overhead": float(rng.randint(190, 270)),
            "quotient": rng.randint(78, 94) / 100,
            "leakage": 0.008,
            "external_work": 0.0,
            "electrics": 69.0,
            "environment": 0.0,
            "water_heat": 2_450_000.0,
        }
        for _ in row["seats"]
    ]
    row["limit"] = 0
    base = Narrow(row, None, None, "at start").least_end(None)
    row["limit"] = None if base is None else base + rng.choice([20, 45, 80, 120])
    if base is None:
        return
    # What the set tasks use by the limit, and a little less or more.
    row["carried"] = {}
    for supply in SUPPLIES:
        used = max(
            usage(row, seat, supply, row["limit"], False) for seat in row["seats"]
        )
        exact = used * rng.choice([rng.uniform(0.85, 1.05), 1.3, 1.3, 1.3])
        row["carried"][supply] = round(exact, 0 if supply == "battery" else 4)


def positions(row: dict) -> list:
    choices = [[1, 2]] if row["task"]["count"] == 2 else [[seat] for seat in row["seats"]]
    first = max([need + 1 for need in row["task"]["needs"]], default=0)
    last = min(row["task"]["needed_by"], default=len(row["stops"]))
    return [(at, seats) for at in range(first, last + 1) for seats in choices]


def narrowly(
    row: dict, aid_gone: str, all_checks: bool = True, waits: bool = False
) -> int | None:
    best = None
    for position, seats in positions(row):
        model = Narrow(row, position, seats, aid_gone, all_checks, waits)
        end = model.least_end(row["limit"] if all_checks else None)
        if end is not None and (best is None or end < best):
            best = end
    return best


def at_ease(row: dict, aid_gone: str, starts: list) -> int | None:
    """The best place that nothing speaks against: the reserve is kept, and so are set windows."""
    best = None
    for position, seats in positions(row):
        model = Narrow(row, position, seats, aid_gone)
        for at, was in enumerate(starts):
            model.stays_in_its_window(at, was)
        end = model.least_end(row["limit"], RESERVE)
        if end is not None and (best is None or end < best):
            best = end
    return best


def answered(row: dict) -> str | None:
    """Puts the answer into the row; else says why it is left out."""
    if row["limit"] is None:
        return "the plan itself misses a window or a route"
    readings = ["at start", "at end"] if row["brings_aid"] is not None else ["at start"]
    base = Narrow(row, None, None, readings[-1])
    if base.least_end(row["limit"]) is None:
        return "the plan itself does not keep its limit or its supplies"
    ends = [narrowly(row, reading) for reading in readings]
    wide = Wide(row).solve()
    if wide is None:
        assert ends[0] is None and ends[-1] is None, row
        row["place"] = "none"
        return None
    if any(end is None for end in ends):
        return "the readings differ"
    first = min(narrowly(row, reading, False) for reading in readings)
    row["place"] = "another" if first < min(ends) else "first"
    # A place that nothing speaks against goes before one that ends earlier.
    calm = [at_ease(row, reading, base.starts) for reading in readings]
    # Who brings the aid in may wait until others have passed; how well is left open.
    is_open = None in calm or row["brings_aid"] == -1
    row["end"] = [wide, row["limit"] if is_open else max(calm)]
    row["fits"] = None not in calm
    return None


def main() -> None:
    rng = random.Random(SEED)
    rows, left_out = {kind: [] for kind in QUOTAS}, {}
    while any(len(rows[kind]) < many for kind, many in QUOTAS.items()):
        row = case(rng)
        why = answered(row)
        if why is not None:
            left_out[why] = left_out.get(why, 0) + 1
        elif len(rows[row["place"]]) < QUOTAS[row["place"]]:
            rows[row["place"]].append(row)
    head = {
        "made_with": {"ortools": ortools.__version__, "python": platform.python_version()},
        "seed": SEED,
        "left_out": left_out,
        "fields": "minutes; worksite 0 is the airlock; legs [from, to, minutes, over the aid]; "
        "brings_aid: the set task that brings the aid in, -1 the one that looks for a place; "
        "inhibits [from, until]; place: none, the one that ends first, or another; "
        "fits: nothing speaks against the best place; end: bounds of the common end there",
    }
    lines = [json.dumps(row, separators=(",", ":")) for kind in rows.values() for row in kind]
    text = json.dumps(head)[:-1] + ', "cases": [\n' + ",\n".join(lines) + "\n]}\n"
    (pathlib.Path(__file__).parent / "places.json").write_text(text)


if __name__ == "__main__":
    main()
