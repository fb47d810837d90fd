"""Writes drops.json: the best choice of what to drop and what to shorten, every choice tried.

Up to ten tasks; each is kept, dropped, or, where it has one, shortened to its stopping point. A
must-do task is not dropped; a task under way is not dropped; what needs a task that is not done
whole is dropped too. A shortened task is worth that share of its value. Every choice is held
against the same weighted draws by day_model.py. "best" lists every choice that may be the best one
where each chance is off by up to BAND, mostly one: its own chance may reach the bound, and that of
no better choice surely does. A test of src/compute/day reads the file.

Choices that cannot be the best one are left out, which changes nothing in the file; `--every` tries them too
and takes three times as long or more.
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
EVERY = "--every" in sys.argv


def ways(row: dict, k: int, made: dict) -> list[tuple[str, float]]:
    """What may be done with a stop after those choices, with the share of its work."""
    stop = row["stops"][k]
    needs = [first for first, then in row["needs"] if then == k]
    found = []
    if all(made.get(first, "keep") == "keep" for first in needs):
        found.append(("keep", 1.0))
        if stop["short"] is not None and not stop["must"]:
            found.append(("short", stop["short"]))
    if row["progress"][k][0] != "running" and not stop["must"]:
        found.append(("drop", 0.0))
    return found


def to_choose(row: dict) -> tuple[list[int], dict] | None:
    """The stops of which each is chosen, those under way first, and the choices that are made already. None where
    a must-do cannot go any more: that leaves no choice."""
    barred = [k for k, p in enumerate(row["progress"]) if p[0] == "planned" and not may_go(row, k)]
    if any(row["stops"][k]["must"] for k in barred):
        return None
    under_way = [k for k, p in enumerate(row["progress"]) if p[0] == "running"]
    return under_way + remaining(row), dict.fromkeys(barred, "drop")


def count(row: dict) -> int:
    """How many choices there are."""

    def of(left: list[int], made: dict) -> int:
        if not left:
            return 1
        return sum(of(left[1:], made | {left[0]: choice}) for choice, _ in ways(row, left[0], made))

    start = to_choose(row)
    return of(*start) if start else 0


def choices(
    row: dict, rng: np.random.Generator, samples: int = SAMPLES, band: float = BAND
) -> list | None:
    """Every choice that may be best with its value, its drops and its chance to end inside the limit: a branch is
    left where one is surely inside that is better than all of it, or where too many draws are late already."""
    drawn = Draws(row, rng, samples)
    if drawn.effective < samples / 3:
        return None
    limit = row["limit"]
    found: list = []
    sure: list = []

    def go(left: list[int], crew: Crew, made: dict, value: float, drops: int) -> None:
        most = value + sum(row["stops"][k]["value"] for k in left)
        if not EVERY and any(better(one, (most, drops)) for one in sure):
            return
        if not left:
            chance = drawn.chance(crew.inside() <= limit)
            one = (value, sum(c == "drop" for c in made.values()), chance, made)
            found.append(one)
            if chance >= BOUND + band:
                sure.append(one)
            return
        k, rest = left[0], left[1:]
        is_under_way = row["progress"][k][0] == "running"
        # Work under way stands in the crew whole: stopped early, it may end earlier.
        if not EVERY and not is_under_way:
            last = np.maximum.reduce(crew.at) + drawn.ingress
            if drawn.chance(last <= limit) < BOUND - band:
                return
        for choice, share in ways(row, k, made):
            after = crew
            if choice != "drop":
                after = crew.copy()
                if is_under_way:
                    after.put(k, after.under_way(k, share))
                else:
                    after.step(k, share)
            dropped = drops + (choice == "drop")
            go(rest, after, made | {k: choice}, value + share * row["stops"][k]["value"], dropped)

    start = to_choose(row)
    if start:
        go(start[0], Crew(drawn), start[1], 0.0, len(start[1]))
    return found


def better(one: tuple, other: tuple) -> bool:
    """More value, or as much with fewer drops."""
    if abs(one[0] - other[0]) > 1e-9:
        return one[0] > other[0]
    return one[1] < other[1]


def best(found: list, band: float = BAND) -> list[str | None]:
    """What may be best: nothing that is better surely ends inside the limit."""
    sure = [one for one in found if one[2] >= BOUND + band]
    may = [one for one in found if one[2] >= BOUND - band]
    bests: list = [worded(one[3]) for one in may if not any(better(other, one) for other in sure)]
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
            row["best"] = best(choices(row, rng, MANY, NARROW) or [], NARROW)
        row["choices"] = count(row)
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
