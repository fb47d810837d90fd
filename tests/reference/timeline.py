"""Writes timeline.json: completion times of 300 small random plans, by OR-Tools CP-SAT.

Two lanes in a fixed order, two-seat tasks, travel that differs by direction, setup once per
visit, arm and light windows, the arm serving one at a time, tasks that wait for another. Each
plan is minimised for its makespan; a test of src/compute/timeline reads the file.
"""

import json
import pathlib
import platform
import random

import ortools
from ortools.sat.python import cp_model

SEED = 20_303
PLANS = 300
LATE = 4_000


def windows(rng: random.Random) -> list[list[int]]:
    spans, at = [], rng.randint(0, 60)
    for _ in range(rng.randint(1, 4)):
        until = at + rng.randint(20, 110)
        spans.append([at, until])
        at = until + rng.randint(5, 60)
    spans.append([at, LATE])  # so that there is always a way
    return spans


def closed(minutes: list[list[int]]) -> list[list[int]]:
    count = len(minutes)
    for k in range(count):
        for i in range(count):
            for j in range(count):
                minutes[i][j] = min(minutes[i][j], minutes[i][k] + minutes[k][j])
    return minutes


def plan(rng: random.Random) -> dict:
    sites = rng.randint(2, 4)
    travel = closed(
        [[0 if a == b else rng.randint(2, 30) for b in range(sites)] for a in range(sites)]
    )
    site_minutes = [[rng.randint(0, 10), rng.randint(0, 6)] for _ in range(sites)]
    stops = []
    for place in range(rng.randint(1, 8)):
        stops.append(
            {
                "site": rng.randrange(sites),
                "lanes": rng.choice([1, 2, 1, 2, 3]),
                "work": rng.randint(5, 70),
                "arm": rng.random() < 0.3,
                "light": rng.choice(["any", "any", "day", "night"]),
                "needs": [rng.randrange(place)] if place and rng.random() < 0.25 else [],
            }
        )
    row = {
        "travel": travel,
        "sites": site_minutes,
        "egress": rng.randint(5, 40),
        "ingress": rng.randint(5, 30),
        "arm": windows(rng),
        "day": windows(rng),
        "night": windows(rng),
        "stops": stops,
    }
    row["end"] = solve(row)
    return row


def solve(row: dict) -> int:
    model = cp_model.CpModel()
    stops = row["stops"]
    start = [model.new_int_var(0, LATE, f"s{i}") for i in range(len(stops))]
    end = model.new_int_var(0, 2 * LATE, "end")
    arm_intervals = []
    arm_before = None
    for i, stop in enumerate(stops):
        for earlier in stop["needs"]:
            model.add(start[i] >= start[earlier] + stops[earlier]["work"])
        for kind in (["arm"] if stop["arm"] else []) + (
            [stop["light"]] if stop["light"] != "any" else []
        ):
            inside = []
            for a, b in row[kind]:
                chosen = model.new_bool_var(f"{i}{kind}{a}")
                model.add(start[i] >= a).only_enforce_if(chosen)
                model.add(start[i] + stop["work"] <= b).only_enforce_if(chosen)
                inside.append(chosen)
            model.add_exactly_one(inside)
        if stop["arm"]:
            arm_intervals.append(
                model.new_fixed_size_interval_var(start[i], stop["work"], f"arm{i}")
            )
            if arm_before is not None:  # the arm serves in the order of the plan
                model.add(start[i] >= start[arm_before])
            arm_before = i
    model.add_no_overlap(arm_intervals)
    for lane in (1, 2):
        mine = [i for i, stop in enumerate(stops) if stop["lanes"] & lane]
        model.add(end >= row["egress"] + row["ingress"])
        before, at, visiting = None, 0, False
        for i in mine:
            site = stops[i]["site"]
            if visiting and site == at:
                gap = 0
            else:
                gap = (row["sites"][at][1] if visiting else 0) + row["travel"][at][site]
                gap += row["sites"][site][0]
            if before is None:
                model.add(start[i] >= row["egress"] + gap)
            else:
                model.add(start[i] >= start[before] + stops[before]["work"] + gap)
            before, at, visiting = i, site, True
        if before is not None:
            home = row["sites"][at][1] + row["travel"][at][0] + row["ingress"]
            model.add(end >= start[before] + stops[before]["work"] + home)
    model.minimize(end)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    status = solver.solve(model)
    assert status == cp_model.OPTIMAL, solver.status_name(status)
    return solver.value(end)


def main() -> None:
    rng = random.Random(SEED)
    head = {
        "made_with": {"ortools": ortools.__version__, "python": platform.python_version()},
        "seed": SEED,
        "fields": "minutes; lanes 1 = EV1, 2 = EV2, 3 = both; worksite 0 is the airlock",
    }
    lines = [json.dumps(plan(rng), separators=(",", ":")) for _ in range(PLANS)]
    text = json.dumps(head)[:-1] + ', "plans": [\n' + ",\n".join(lines) + "\n]}\n"
    (pathlib.Path(__file__).parent / "timeline.json").write_text(text)


if __name__ == "__main__":
    main()
