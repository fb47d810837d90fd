"""Writes if_then.json: minutes of tasks with fallbacks, from 10^6 NumPy samples each.

Approach A holds with one chance; with the other, A is given up after its trigger's minutes and
approach B follows, which is given up in the same way for C, and C perhaps for leaving the work as
it is. Every sample walks through the list. Mean, standard deviation and P80 of the whole, and P50 and P80 of what has not ended after some
minutes. A test of src/compute/day reads the file.
"""

import json
import math
import pathlib
import platform

import numpy as np

SEED = 20_312
CASES = 60
SAMPLES = 1_000_000


def lognormal(mean: float, sd: float, rng: np.random.Generator) -> np.ndarray:
    square = math.log1p((sd / mean) ** 2)
    return rng.lognormal(math.log(mean) - square / 2, math.sqrt(square), SAMPLES)


def case(rng: np.random.Generator) -> dict:
    def approach() -> list[float]:
        mean = float(rng.integers(10, 90))
        return [mean, round(mean * float(rng.uniform(0.1, 0.4)), 1)]

    works = [approach() for _ in range(int(rng.integers(1, 4)) + 1)]
    leaves = len(works) < 4 and rng.random() < 0.3
    then = [
        {
            "trigger": round(before[0] * float(rng.uniform(0.5, 1.2))),
            "chance": round(float(rng.uniform(0.05, 0.6)), 2),
            "work": work,
        }
        for before, work in zip(works, works[1:] + ([[0.0, 0.0]] if leaves else []))
    ]
    row = {"a": works[0], "then": then}
    minutes = lognormal(*row["a"], rng)
    spent = np.zeros(SAMPLES)
    going = np.ones(SAMPLES, dtype=bool)
    for fallback in then:
        going &= rng.random(SAMPLES) < fallback["chance"]
        spent = np.where(going, spent + fallback["trigger"], spent)
        mean, sd = fallback["work"]
        work = lognormal(mean, sd, rng) if mean > 0 else np.zeros(SAMPLES)
        minutes = np.where(going, spent + work, minutes)
    taken = round(float(np.quantile(minutes, rng.uniform(0.2, 0.8)))) + 0.5  # never just at a trigger
    left = minutes[minutes > taken]
    return row | {
        "mean": round(float(minutes.mean()), 2),
        "sd": round(float(minutes.std()), 2),
        "p80": round(float(np.quantile(minutes, 0.8)), 2),
        "taken": taken,
        "left": [round(float(np.quantile(left, q)), 2) for q in (0.5, 0.8)],
    }


def main() -> None:
    rng = np.random.default_rng(SEED)
    cases = [case(rng) for _ in range(CASES)]
    head = {
        "made_with": {"numpy": np.__version__, "python": platform.python_version()},
        "seed": SEED,
        "samples": SAMPLES,
        "fields": "minutes; a and work [mean, sd], [0, 0] where the work is left as it is; left [P50, P80] in all, of what has not ended after taken",
    }
    lines = ",\n".join(json.dumps(row, separators=(",", ":")) for row in cases)
    text = json.dumps(head)[:-1] + ', "cases": [\n' + lines + "\n]}\n"
    (pathlib.Path(__file__).parent / "if_then.json").write_text(text)


if __name__ == "__main__":
    main()
