"""Writes drops.json: the best choice of what to drop and what to shorten, every choice tried.

Up to ten tasks; each is kept, dropped, or, where it has one, shortened to its stopping point. A
must-do task is not dropped; a task under way is not dropped; what needs a task that is not done
whole is dropped too. A shortened task is worth that share of its value. Every choice is held
against the same weighted draws by day_model.py. "best" lists every choice that may be the best one
where each chance is off by up to BAND, mostly one: its own chance may reach the bound, and that of
no better choice surely does. A test of src/compute/day reads the file.
"""

import json
import pathlib
import platform
import sys

import numpy as np
from day_model import Crew, Draws, case, lived, may_go, remaining, whole

SEED = 20_311
CASES = 500
SAMPLES = 60_000
# The band is two standard errors of the difference at 80 % or more: 60,000 samples that weigh as
# much as 20,000 even ones at least (0.28 points), against 10,240 draws (0.40 points as if each were
# drawn alone): 0.49 points together.
BOUND, BAND = 0.8, 0.01
# Where that leaves several: half a million samples (0.10 points) and a band of what our own draws may be
# off by: as Sobol points they are several times more even than the 0.40 points of plain ones.
MANY, NARROW = 500_000, 0.004


def choices(row: dict, rng: np.random.Generator, samples: int = SAMPLES) -> list | None:
    """Every choice with its value, its drops and its chance to end inside the limit."""
    drawn = Draws(row, rng, samples)
    if drawn.effective < samples / 3:
        return None
    under_way = [k for k, p in enumerate(row["progress"]) if p[0] == "running"]
    found = []

    def go(left: list[int], crew: Crew, made: dict, value: float) -> None:
        if not left:
            chance = drawn.chance(crew.inside() <= row["limit"])
            found.append((value, sum(c == "drop" for c in made.values()), chance, made))
            return
        k, rest = left[0], left[1:]
        stop = row["stops"][k]
        needs = [first for first, then in row["needs"] if then == k]
        whole_before = all(
            made.get(first, "keep") == "keep" for first in needs
        )
        if whole_before:
            for choice, share in (("keep", 1.0), ("short", stop["short"])):
                if share is None or (choice == "short" and stop["must"]):
                    continue
                after = crew.copy()
                if k in under_way:
                    after.put(k, after.under_way(k, share))
                else:
                    after.step(k, share)
                go(rest, after, made | {k: choice}, value + share * stop["value"])
        if k not in under_way and not stop["must"]:
            go(rest, crew, made | {k: "drop"}, value)

    # Under way first: the crew of `Crew` has them in place already, whole.
    barred = [k for k, p in enumerate(row["progress"]) if p[0] == "planned" and not may_go(row, k)]
    # A must-do that cannot go any more leaves no choice.
    if not any(row["stops"][k]["must"] for k in barred):
        go(under_way + remaining(row), Crew(drawn), dict.fromkeys(barred, "drop"), 0.0)
    return found


def best(found: list, band: float = BAND) -> list[str | None]:
    """What may be best: nothing that is better surely ends inside the limit."""

    def beats(one: tuple, other: tuple) -> bool:
        if abs(one[0] - other[0]) > 1e-9:
            return one[0] > other[0]
        return one[1] < other[1]

    sure = [one for one in found if one[2] >= BOUND + band]
    may = [one for one in found if one[2] >= BOUND - band]
    bests: list = [worded(one[3]) for one in may if not any(beats(other, one) for other in sure)]
    return sorted(bests) + ([] if sure else [None])


def worded(made: dict) -> str:
    letters = {"keep": "k", "short": "s", "drop": "d"}
    return " ".join(f"{k}{letters[choice]}" for k, choice in sorted(made.items()))


def main() -> None:
    rng = np.random.default_rng(SEED)
    cases = []
    while len(cases) < CASES:
        row = case(rng, 3, 10)
        row["limit"] = 10_000
        ends = whole(row, rng, 2_000)["end"]
        if ends[1] > 1_000:
            continue
        row["limit"] = int(ends[0] * rng.uniform(0.6, 1.25))
        if len(cases) % 2:
            row, _ = lived(row, rng, float(rng.uniform(0.1, 0.6)))
            if not remaining(row):
                continue
        found = choices(row, rng)
        if found is None:
            continue
        row["best"] = best(found)
        if len(row["best"]) > 1:
            row["best"] = best(choices(row, rng, MANY) or [], NARROW)
        row["choices"] = len(found)
        cases.append(row)
        if len(cases) % 20 == 0:
            print(len(cases), file=sys.stderr, flush=True)
    head = {
        "made_with": {"numpy": np.__version__, "python": platform.python_version()},
        "seed": SEED,
        "samples": SAMPLES,
        "fields": "as in day.json; best: each task k kept, s shortened, d dropped; null: none fits",
    }
    lines = ",\n".join(json.dumps(row, separators=(",", ":")) for row in cases)
    text = json.dumps(head)[:-1] + ', "cases": [\n' + lines + "\n]}\n"
    (pathlib.Path(__file__).parent / "drops.json").write_text(text)


if __name__ == "__main__":
    main()
