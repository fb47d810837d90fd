"""Writes late_card.json: the cells of late cards, every choice of each tried.

A card has a row for the end of egress and one for the end of each task, and a column for each lateness.
Its cell is a state of the day: the milestone ends so much later than planned, everything else goes as
planned, at the mean of everything, and what waits for the late seats waits. The plan at the mean is walked
through here by a loop of its own. What the lateness says of the crew is not read out of it: the crew's day
stays as it was before the day, and work under way is longer than what it has taken. Every choice of what
is left is held against the same draws by day_model.py, as in drops.py; the file says which may be best,
whether anything must-do is left, and until when work may go on at the milestone's worksite. A test of
src/compute/day reads the file.
"""

import json
import pathlib
import platform
import sys

import numpy as np
from day_model import Crew, Draws, case, turn_back, whole
from drops import MANY, NARROW, best, choices

SEED = 20_312
CASES = 36
LATENESSES = (0, 15, 30, 45, 60, 90)
SAMPLES, SEARCHED = 60_000, 40_000


def mean(points: list[float]) -> float:
    a, m, b = points
    return (a + 4 * m + b) / 6


class AtTheMean:
    """A single draw in which every factor is one and all work takes its mean."""

    def __init__(self, row: dict, late_egress: float):
        self.row, self.count = row, 1
        self.egress = np.array([row["egress"] + late_egress], float)
        self.ingress = np.array([row["ingress"]], float)
        self.pace = self.site = np.ones(1)
        self.work = [np.array([mean(stop["work"])]) for stop in row["stops"]]


def planned(row: dict, milestone: int | None, late: float) -> list[tuple[float, float]]:
    """Start and end of every stop; milestone None is the end of egress."""
    crew = Crew(AtTheMean(row, late if milestone is None else 0.0))
    times = []
    for k in range(len(row["stops"])):
        start, end, _ = crew.step(k)
        if k == milestone:
            end = end + late
            crew.put(k, end)
        times.append((float(start[0]), float(end[0])))
    return times


def state(row: dict, milestone: int | None, late: float) -> dict:
    """The day when the milestone has just ended."""
    times = planned(row, milestone, late)
    now = row["egress"] + late if milestone is None else times[milestone][1]
    progress = []
    for start, end in times:
        if end <= now + 1e-6:
            progress.append(["ended", start, end, "done"])
        elif start < now - 1e-6:
            progress.append(["running", start])
        else:
            progress.append(["planned"])
    return row | {
        "now": now,
        "progress": progress,
        "egress_ended": row["egress"] + (late if milestone is None else 0.0),
        "learns": False,
    }


def cell(row: dict, milestone: int | None, late: float, rng: np.random.Generator) -> dict | None:
    there = state(row, milestone, late)
    found = choices(there, rng, SAMPLES)
    if found is None:
        return None
    may = best(found)
    if len(may) > 1:
        may = best(choices(there, rng, MANY, NARROW) or [], NARROW)
    left = [k for k, p in enumerate(there["progress"]) if p[0] in ("planned", "running")]
    told = {
        "at": round(there["now"], 4),
        "best": may,
        "must_left": any(row["stops"][k]["must"] for k in left),
        "running": any(p[0] == "running" for p in there["progress"]),
    }
    if milestone is not None:
        few = Draws(there, rng, SEARCHED)
        told["turn_back"] = turn_back(few, row["stops"][milestone]["site"])
        own = row["stops"][milestone]["lanes"]
        planned_left = [k for k, p in enumerate(there["progress"]) if p[0] == "planned"]
        told["last"] = not any(set(own) & set(row["stops"][k]["lanes"]) for k in planned_left)
    return told


def card(row: dict, rng: np.random.Generator) -> list[dict] | None:
    rows = []
    for milestone in [None, *range(len(row["stops"]))]:
        cells = [cell(row, milestone, late, rng) for late in LATENESSES]
        if None in cells:
            return None
        rows.append({"milestone": milestone, "cells": cells})
    return rows


def main() -> None:
    rng = np.random.default_rng(SEED)
    cases: list[dict] = []
    while len(cases) < CASES:
        row = case(rng, 2, 5)
        row["limit"] = 10_000
        ends = whole(row, rng, 2_000)["end"]
        # No window that is never long enough, at the mean neither.
        if ends[1] > 1_000 or max(end for _, end in planned(row, None, 0.0)) > 1_000:
            continue
        row["limit"] = int(ends[0] * rng.uniform(0.9, 1.4))
        row["card"] = card(row, rng)
        if row["card"] is None:
            continue
        cases.append(row)
        print(len(cases), file=sys.stderr, flush=True)
    head = {
        "made_with": {"numpy": np.__version__, "python": platform.python_version()},
        "seed": SEED,
        "samples": SAMPLES,
        "fields": "as in drops.json; milestone null: the end of egress; cells by lateness; "
        "turn_back: the last minute at the milestone's worksite",
    }
    lines = ",\n".join(json.dumps(row, separators=(",", ":")) for row in cases)
    text = json.dumps(head)[:-1] + ', "cases": [\n' + lines + "\n]}\n"
    (pathlib.Path(__file__).parent / "late_card.json").write_text(text)


if __name__ == "__main__":
    main()
