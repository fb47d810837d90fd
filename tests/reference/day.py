"""Writes day.json: what follows from where the crew stands, on made-up excursions, from
400,000 NumPy draws each by day_model.py.

Each excursion stands there twice: before the day, and some time into it as one crew lives it, whose
factor of the day is known. For every task that is left: the chance to be begun in time, to be
reached, to miss its window, and when it ends. By search: the latest start of every task and the
minute to turn back by. A test of src/compute/day reads the file.
"""

import json
import pathlib
import platform
import sys

import numpy as np
from day_model import Draws, case, latest, lived, remaining, turn_back, whole

SEED = 20_310
CASES = 200
SAMPLES = 400_000
SEARCHED = 10_000  # draws of a search, of a minute each


def answers(row: dict, rng: np.random.Generator) -> dict | None:
    drawn = Draws(row, rng, SAMPLES)
    if drawn.effective < SAMPLES / 10:
        return None  # what was seen is too unlikely for weights on these draws
    told = whole(drawn)
    logs = np.log(drawn.day)
    mean = float(np.sum(drawn.weight * logs))
    told["log_day"] = [
        round(mean, 4),
        round(float(np.sqrt(np.sum(drawn.weight * (logs - mean) ** 2))), 4),
    ]
    few = Draws(row, rng, SEARCHED)
    told["latest"] = {str(k): latest(few, k) for k in remaining(row)}
    told["turn_back"] = [turn_back(few, site) for site in range(len(row["sites"]))]
    return told


def main() -> None:
    rng = np.random.default_rng(SEED)
    cases = []
    while len(cases) < CASES:
        row = case(rng, 3, 12)
        row["limit"] = 10_000
        ends = whole(Draws(row, rng, 2_000))["end"]
        if ends[1] > 1_000:
            continue  # a window that is never long enough
        row["limit"] = int(ends[0] * rng.uniform(0.85, 1.1))
        under_way, factor = lived(row, rng, float(rng.uniform(0.2, 0.7)))
        if not remaining(under_way):
            continue
        before, after = answers(row, rng), answers(under_way, rng)
        if before is None or after is None:
            continue
        row["before"] = before
        row["then"] = {"now": under_way["now"], "progress": under_way["progress"],
                       "factor": round(factor, 3)} | after
        cases.append(row)
        print(len(cases), file=sys.stderr, flush=True)
    head = {
        "made_with": {"numpy": np.__version__, "python": platform.python_version()},
        "seed": SEED,
        "samples": SAMPLES,
        "fields": "minutes; worksite 0 is the airlock; sites [setup, cleanup]; work [a, m, b]; "
        "log_day [mean, sd] of the logarithm of the day's factor",
    }
    lines = ",\n".join(json.dumps(row, separators=(",", ":")) for row in cases)
    text = json.dumps(head)[:-1] + ', "cases": [\n' + lines + "\n]}\n"
    (pathlib.Path(__file__).parent / "day.json").write_text(text)


if __name__ == "__main__":
    main()
