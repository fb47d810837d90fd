"""Writes day.json: what follows from where the crew stands, on made-up excursions, from
a million NumPy draws each by day_model.py.

Each excursion stands there twice: before the day, and some time into it as one crew lives it, whose
factor of the day is known. For every task that is left: the chance to be begun in time, to be
reached, to miss its window, and when it ends. By search: the latest start of every task and the
minute to turn back by. A test of src/compute/day reads the file.
"""

import json
import multiprocessing
import pathlib
import platform
import sys

import numpy as np
from day_model import Draws, case, latest, lived, remaining, turn_back, whole

SEED = 20_310
CASES = 200
SAMPLES = 1_000_000
SEARCHED = 10_000  # draws of a search, of a minute each


def answers(row: dict, rng: np.random.Generator) -> dict | None:
    told = whole(row, rng, SAMPLES)
    if told is None:
        return None
    few = Draws(row, rng, SEARCHED)
    told["latest"] = {str(k): latest(few, k) for k in remaining(row)}
    told["turn_back"] = [turn_back(few, site) for site in range(len(row["sites"]))]
    return told


def made(number: int) -> dict | None:
    """One excursion with its answers; None where they would rest on too few draws."""
    rng = np.random.default_rng([SEED, number])
    row = case(rng, 3, 12)
    row["limit"] = 10_000
    ends = whole(row, rng, 2_000)["end"]
    if ends[1] > 1_000:
        return None  # a window that is never long enough
    row["limit"] = int(ends[0] * rng.uniform(0.85, 1.1))
    under_way, factor = lived(row, rng, float(rng.uniform(0.2, 0.7)))
    if not remaining(under_way):
        return None
    before, after = answers(row, rng), answers(under_way, rng)
    if before is None or after is None:
        return None
    row["before"] = before
    row["then"] = {
        "now": under_way["now"],
        "progress": under_way["progress"],
        "egress_ended": under_way["egress_ended"],
        "factor": round(factor, 3),
    } | after
    return row


def main() -> None:
    cases: list[dict] = []
    with multiprocessing.Pool() as pool:
        for row in pool.imap(made, range(10 * CASES)):
            if row is not None:
                cases.append(row)
                print(len(cases), file=sys.stderr, flush=True)
            if len(cases) == CASES:
                pool.terminate()
                break
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
