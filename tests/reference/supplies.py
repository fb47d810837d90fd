"""Writes supplies.json: how long the suits of 200 excursions last, from 100,000 NumPy samples each.

Energy of the gases by Weir's equation, kcal = 3.941 l O2 + 1.106 l CO2 (Weir, New methods for
calculating metabolic rate with special reference to protein metabolism, Journal of Physiology 109,
1949), which is not the table that the service uses. Carbon dioxide in litres is the quotient times
the oxygen; 22.414 l of a mole. Cooling water takes away the metabolic heat less the work done
outside, and the heat of electrics and surroundings.

Each sample draws the minutes of every piece of work (lognormal, three-point moments, a crew-day
factor shared by all) and follows each seat from egress to the one common repressurisation, minute
by minute in the order of the work: all that is not work goes at the overhead rate. A supply that is
left at the end goes on at the overhead rate. A test of src/compute/fit reads the file.

For each seat and supply: the minutes from the end to the moment at which it runs out, as the mean
over the samples whose end lies at the 80 % quantile of the ends, with the standard error.
"""

import json
import math
import pathlib
import platform

import numpy as np

SEED = 20_305
CASES = 200
SAMPLES = 100_000
BAND = 1_000  # samples on either side of the 80 % quantile
CREW_DAY = 0.12
SUPPLIES = ("oxygen", "scrubber", "water", "battery")
RATES = ("light", "moderate", "heavy")


def rates(rng: np.random.Generator) -> dict:
    overhead = float(rng.integers(180, 280))
    return {
        "overhead": overhead,
        "light": float(rng.integers(120, 200)),
        "moderate": float(rng.integers(200, 300)),
        "heavy": float(rng.integers(330, 460)),
        "quotient": float(rng.integers(75, 96)) / 100,
        "leakage": float(rng.integers(0, 13)) / 1000,  # kg an hour
        "external_work": float(rng.integers(0, 9)) / 100,
        "electrics": float(rng.integers(50, 90)),
        "environment": float(rng.integers(0, 40)),
        "water_heat": 2.45e6,
    }


def case(rng: np.random.Generator) -> dict:
    seats = [1] if rng.random() < 0.15 else [1, 2]
    travel = [[0 if a == b else int(rng.integers(3, 20)) for b in range(3)] for a in range(3)]
    for k in range(3):
        for a in range(3):
            for b in range(3):
                travel[a][b] = min(travel[a][b], travel[a][k] + travel[k][b])
    choices = [[1]] if seats == [1] else [[1], [2], [1, 2]]
    stops = []
    for _ in range(int(rng.integers(2, 7))):
        likely = int(rng.integers(20, 75))
        stops.append(
            {
                "site": int(rng.integers(1, 3)),
                "seats": choices[int(rng.integers(len(choices)))],
                "work": [
                    int(likely * rng.uniform(0.6, 1.0)),
                    likely,
                    int(likely * rng.uniform(1.1, 3.0)),
                ],
                "rate": RATES[int(rng.integers(3))],
            }
        )
    row = {
        "seats": seats,
        "travel": travel,
        "sites": [[0, 0]] + [[int(rng.integers(0, 10)), int(rng.integers(0, 6))] for _ in "12"],
        "egress": int(rng.integers(15, 40)),
        "ingress": int(rng.integers(15, 35)),
        "stops": stops,
        "rates": [rates(rng) for _ in seats],
    }
    sampled = sample(row, rng)
    end = float(np.quantile(sampled["end"], 0.8))
    # Every suit carries the same; it is about what the thirstier seat takes.
    carried = {}
    for supply in SUPPLIES:
        used = max(mean_use(row, seat, supply, sampled, end) for seat in seats)
        exact = used * rng.uniform(0.88, 1.35)
        carried[supply] = round(exact, 0) if supply == "battery" else round(exact, 3)
    row["carried"] = carried
    answer(row, sampled, end)
    return row


def minutes(work: list[int], rng: np.random.Generator) -> np.ndarray:
    a, m, b = work
    mean, sd = (a + 4 * m + b) / 6, (b - a) / 6
    square = math.log1p((sd / mean) ** 2)
    return rng.lognormal(math.log(mean) - square / 2, math.sqrt(square), SAMPLES)


def sample(row: dict, rng: np.random.Generator) -> dict:
    """The pieces of every seat's excursion: (until, rate of energy, place in the order or None)."""
    day = rng.lognormal(-CREW_DAY**2 / 2, CREW_DAY, SAMPLES)
    clock = {seat: np.full(SAMPLES, float(row["egress"])) for seat in row["seats"]}
    at = dict.fromkeys(row["seats"], 0)
    pieces = {seat: [(clock[seat], "overhead", None)] for seat in row["seats"]}
    for place, stop in enumerate(row["stops"]):
        site, ready = stop["site"], []
        for seat in stop["seats"]:
            there = clock[seat]
            if at[seat] != site:
                leave = row["sites"][at[seat]][1] if at[seat] else 0
                there = there + leave + row["travel"][at[seat]][site] + row["sites"][site][0]
            ready.append(there)
        start = np.maximum.reduce(ready)
        done = start + day * minutes(stop["work"], rng)
        for seat in stop["seats"]:
            pieces[seat] += [(start, "overhead", None), (done, stop["rate"], place)]
            clock[seat], at[seat] = done, site
    back = [
        clock[seat] + (row["sites"][at[seat]][1] + row["travel"][at[seat]][0] if at[seat] else 0)
        for seat in row["seats"]
    ]
    end = np.maximum.reduce(back) + row["ingress"]
    for seat in row["seats"]:
        pieces[seat].append((end, "overhead", None))
    return {"end": end, "pieces": pieces}


def a_minute(suit: dict, work: str, supply: str) -> float:
    """What a minute of that work uses of a supply: kilograms, or minutes of battery."""
    kcal = suit[work] / 60
    litres = kcal / (3.941 + 1.106 * suit["quotient"])
    if supply == "oxygen":
        return litres / 22.414 * 31.9988 / 1000 + suit["leakage"] / 60
    if supply == "scrubber":
        return litres * suit["quotient"] / 22.414 * 44.0095 / 1000
    if supply == "water":
        heat = kcal * 4184 * (1 - suit["external_work"])
        return (heat + 60 * (suit["electrics"] + suit["environment"])) / suit["water_heat"]
    return 1.0


def suit_of(row: dict, seat: int) -> dict:
    return row["rates"][row["seats"].index(seat)]


def near(end: np.ndarray, at: float) -> np.ndarray:
    order = np.argsort(np.abs(end - at), kind="stable")
    return order[: 2 * BAND]


def mean_use(row: dict, seat: int, supply: str, sampled: dict, at: float) -> float:
    pick, used, before = near(sampled["end"], at), 0.0, 0.0
    for until, work, _ in sampled["pieces"][seat]:
        used = used + (until[pick] - before) * a_minute(suit_of(row, seat), work, supply)
        before = until[pick]
    return float(np.mean(used))


def runs_out(row: dict, seat: int, supply: str, sampled: dict, pick: np.ndarray):
    """When a supply runs out in the picked samples, and in which piece of work (-1: none)."""
    left = np.full(len(pick), row["carried"][supply])
    before = np.zeros(len(pick))
    when, where = np.full(len(pick), np.inf), np.full(len(pick), -1)
    for until, work, place in sampled["pieces"][seat]:
        rate = a_minute(suit_of(row, seat), work, supply)
        here = np.isinf(when) & (left < (until[pick] - before) * rate)
        when[here] = before[here] + left[here] / rate
        where[here] = -1 if place is None else place
        left = left - (until[pick] - before) * rate
        before = until[pick]
    rest = np.isinf(when)
    when[rest] = before[rest] + left[rest] / a_minute(suit_of(row, seat), "overhead", supply)
    return when, where


def answer(row: dict, sampled: dict, end: float) -> None:
    pick = near(sampled["end"], end)
    row["p80"] = round(end, 1)
    rows, first = [], None
    for seat in row["seats"]:
        of_seat = []
        for supply in SUPPLIES:
            when, where = runs_out(row, seat, supply, sampled, pick)
            left = when - sampled["end"][pick]
            error = float(np.std(left)) / math.sqrt(len(left))
            of_seat.append([round(float(np.mean(left)), 1), round(error, 2)])
            if first is None or float(np.mean(when)) < first[0]:
                places, counts = np.unique(where, return_counts=True)
                most = int(np.argmax(counts))
                first = (
                    float(np.mean(when)),
                    seat,
                    supply,
                    int(places[most]),
                    round(float(counts[most]) / len(when), 2),
                )
        rows.append(of_seat)
    row["left"] = rows
    row["first"] = {"seat": first[1], "supply": first[2], "during": first[3], "share": first[4]}


def main() -> None:
    rng = np.random.default_rng(SEED)
    cases = [case(rng) for _ in range(CASES)]
    head = {
        "made_with": {"numpy": np.__version__, "python": platform.python_version()},
        "seed": SEED,
        "samples": SAMPLES,
        "crew_day_log_sd": CREW_DAY,
        "fields": "minutes, kg, kcal/h, W; sites [setup, cleanup]; left: per seat, oxygen, "
        "scrubber, water, battery, each [mean, standard error]; during: place of the work, "
        "-1 outside all work; share: of the samples that say so",
    }
    lines = ",\n".join(json.dumps(row, separators=(",", ":")) for row in cases)
    text = json.dumps(head)[:-1] + ', "cases": [\n' + lines + "\n]}\n"
    (pathlib.Path(__file__).parent / "supplies.json").write_text(text)


if __name__ == "__main__":
    main()
