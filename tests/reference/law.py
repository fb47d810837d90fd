"""Writes law.json: when 200 excursions with long-tailed work end, from 10^6 NumPy samples each.

Pessimistic minutes are 4 to 12 times the likely ones, and every excursion has work that takes both
seats. From the three points: mean (a + 4m + b)/6, standard deviation (b - a)/6, minutes lognormal
with those moments. One crew-day factor multiplies all work of an excursion. On the first 100 the
overheads take their minutes without spread; on the others egress, ingress, all travel, and all
setup and cleanup have a factor of their own each, drawn once an excursion. Factors are lognormal
with mean 1. A two-seat task begins when the later seat is there; ingress begins when the last seat
is back. A test of src/compute/fit reads the file.
"""

import json
import math
import pathlib
import platform

import numpy as np

SEED = 20_304
CASES = 100  # of each kind
SAMPLES = 1_000_000
CREW_DAY = 0.12
OVERHEADS = ("egress", "ingress", "travel", "site")


def case(rng: np.random.Generator, overheads_vary: bool) -> dict:
    sites = int(rng.integers(2, 4))
    travel = [
        [0 if a == b else int(rng.integers(3, 20)) for b in range(sites + 1)]
        for a in range(sites + 1)
    ]
    for k in range(sites + 1):  # the shortest route, as the service takes it
        for a in range(sites + 1):
            for b in range(sites + 1):
                travel[a][b] = min(travel[a][b], travel[a][k] + travel[k][b])
    stops = []
    for _ in range(int(rng.integers(2, 8))):
        likely = int(rng.integers(8, 45))
        stops.append(
            {
                "site": int(rng.integers(1, sites + 1)),
                "seats": [[1], [2], [1, 2]][int(rng.choice(3, p=[0.35, 0.35, 0.3]))],
                "work": [
                    int(likely * rng.uniform(0.5, 1.0)),
                    likely,
                    int(likely * rng.uniform(4.0, 12.0)),
                ],
            }
        )
    stops[int(rng.integers(len(stops)))]["seats"] = [1, 2]
    log_sd = {"crew_day": CREW_DAY} | dict.fromkeys(OVERHEADS, 0.0)
    if overheads_vary:
        log_sd = {what: round(float(rng.uniform(0.05, 0.35)), 2) for what in log_sd}
    return {
        "log_sd": log_sd,
        "seats": [1, 2],
        "travel": travel,
        "sites": [[0, 0]]
        + [[int(rng.integers(0, 10)), int(rng.integers(0, 6))] for _ in range(sites)],
        "egress": int(rng.integers(15, 40)),
        "ingress": int(rng.integers(15, 35)),
        "stops": stops,
    }


def minutes(work: list[int], rng: np.random.Generator) -> np.ndarray:
    a, m, b = work
    mean, sd = (a + 4 * m + b) / 6, (b - a) / 6
    square = math.log1p((sd / mean) ** 2)
    return rng.lognormal(math.log(mean) - square / 2, math.sqrt(square), SAMPLES)


def factor(log_sd: float, rng: np.random.Generator) -> np.ndarray:
    if log_sd == 0:
        return np.ones(SAMPLES)
    return rng.lognormal(-(log_sd**2) / 2, log_sd, SAMPLES)


def ends(row: dict, rng: np.random.Generator) -> np.ndarray:
    slow = {what: factor(log_sd, rng) for what, log_sd in row["log_sd"].items()}
    sites, travel = row["sites"], row["travel"]
    clock = dict.fromkeys((1, 2), row["egress"] * slow["egress"])
    at = {1: 0, 2: 0}
    for stop in row["stops"]:
        site, ready = stop["site"], []
        for seat in stop["seats"]:
            there = clock[seat]
            if at[seat] != site:
                cleanup = sites[at[seat]][1] if at[seat] else 0
                there = there + travel[at[seat]][site] * slow["travel"]
                there = there + (cleanup + sites[site][0]) * slow["site"]
            ready.append(there)
        done = np.maximum.reduce(ready) + slow["crew_day"] * minutes(stop["work"], rng)
        for seat in stop["seats"]:
            clock[seat], at[seat] = done, site
    for seat, site in at.items():
        if site:
            home = travel[site][0] * slow["travel"] + sites[site][1] * slow["site"]
            clock[seat] = clock[seat] + home
    return np.maximum(clock[1], clock[2]) + row["ingress"] * slow["ingress"]


def main() -> None:
    rng = np.random.default_rng(SEED)
    cases = []
    for number in range(2 * CASES):
        row = case(rng, number >= CASES)
        sampled = ends(row, rng)
        # The plan and the limit lie where the chance is in doubt.
        planned, limit = sorted(rng.uniform(0.25, 0.95, 2))
        row["planned"] = int(np.quantile(sampled, planned))
        row["limit"] = int(np.quantile(sampled, limit)) + 1
        row["p80"] = round(float(np.quantile(sampled, 0.8)), 1)
        row["inside_plan"] = round(float(np.mean(sampled <= row["planned"])), 3)
        row["inside_limit"] = round(float(np.mean(sampled <= row["limit"])), 3)
        cases.append(row)
    head = {
        "made_with": {"numpy": np.__version__, "python": platform.python_version()},
        "seed": SEED,
        "samples": SAMPLES,
        "fields": "minutes; log_sd of the factors; worksite 0 is the airlock; "
        "sites [setup, cleanup]; work [a, m, b]",
    }
    lines = ",\n".join(json.dumps(row, separators=(",", ":")) for row in cases)
    text = json.dumps(head)[:-1] + ', "cases": [\n' + lines + "\n]}\n"
    (pathlib.Path(__file__).parent / "law.json").write_text(text)


if __name__ == "__main__":
    main()
