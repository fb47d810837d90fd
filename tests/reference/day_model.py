"""The day of an excursion as plain NumPy: what follows from where the crew stands now.

Written from the rules on the page "the day" alone. Work is lognormal with the moments of its three
points, all work of a day has one common factor, egress, ingress, travel, and setup with cleanup
have one factor each. What has been seen of a day counts by weights on draws from the law before
the day (importance sampling); work under way counts by leaving out the draws in which it would have
ended already. A seat that is not at work starts its next task no earlier than now. Work with a fallback is
given up after the trigger's minutes with a chance, and the fallback's work follows. Work that ended at its
stopping point tells of that share of it, work that was not completed tells nothing, and what needs either
does not go; nor does what needs a dropped task. A stop waits for the end of an earlier one that passes its
tools on, where that one goes.
"""

import math

import numpy as np

INF = float("inf")


def moments(points: list[float], share: float = 1.0) -> tuple[float, float]:
    a, m, b = points
    mean, sd = (a + 4 * m + b) / 6 * share, (b - a) / 6 * share
    square = math.log1p((sd / mean) ** 2)
    return math.log(mean) - square / 2, math.sqrt(square)


def factor(log_sd: float, rng: np.random.Generator, count: int) -> np.ndarray:
    return rng.lognormal(-(log_sd**2) / 2, log_sd, count) if log_sd else np.ones(count)


def case(rng: np.random.Generator, least: int, most: int, lanes: int | None = None) -> dict:
    lanes = lanes or int(rng.integers(2, 4))
    sites = int(rng.integers(2, 6))
    travel = [
        [0 if a == b else int(rng.integers(3, 18)) for b in range(sites + 1)]
        for a in range(sites + 1)
    ]
    for k in range(sites + 1):
        for a in range(sites + 1):
            for b in range(sites + 1):
                travel[a][b] = min(travel[a][b], travel[a][k] + travel[k][b])
    count = int(rng.integers(least, most + 1))
    stops = []
    for at in range(count):
        likely = int(rng.integers(12, 60))
        seats = [int(rng.integers(lanes))]
        if rng.random() < 0.2:
            seats = sorted(int(seat) for seat in rng.choice(lanes, 2, replace=False))
        stop = {
            "site": int(rng.integers(1, sites + 1)),
            "lanes": seats,
            "work": [round(likely * rng.uniform(0.5, 0.9)), likely, round(likely * rng.uniform(1.3, 3))],
            "must": bool(rng.random() < 0.2),
            "value": int(rng.choice([100, 55, 30, 16, 9])),
            "light": str(rng.choice(["day", "night"])) if rng.random() < 0.15 else "",
            "arm": bool(rng.random() < 0.12),
            "pauses": False,
            "until": None,
            "short": round(float(rng.uniform(0.3, 0.8)), 2) if rng.random() < 0.25 else None,
            "then": None,
        }
        if not stop["light"] and stop["short"] is None and rng.random() < 0.2:
            other = int(rng.integers(8, 40))
            stop["then"] = {
                "trigger": round(likely * float(rng.uniform(0.5, 1.1))),
                "chance": round(float(rng.uniform(0.1, 0.6)), 2),
                "work": [round(other * rng.uniform(0.5, 0.9)), other, round(other * rng.uniform(1.3, 3))],
            }
        if stop["light"]:
            # Work with the arm is not interrupted.
            stop["pauses"] = bool(rng.random() < 0.5) and not stop["arm"]
        elif rng.random() < 0.1:
            stop["until"] = int(rng.integers(250, 420))
        stops.append(stop)
    needs = []
    for then in range(1, count):
        if rng.random() < 0.15:
            needs.append([int(rng.integers(then)), then])
    waits = []
    for then in range(1, count):
        if rng.random() < 0.12:
            waits.append([int(rng.integers(then)), then])
    sunrise = int(rng.integers(0, 60))
    days = [[sunrise + 93 * k, sunrise + 93 * k + 57] for k in range(-1, 14)]
    nights = [[b, b + 36] for _, b in days]
    return {
        "lanes": lanes,
        "travel": travel,
        "sites": [[0, 0]]
        + [[int(rng.integers(0, 9)), int(rng.integers(0, 6))] for _ in range(sites)],
        "egress": int(rng.integers(15, 40)),
        "ingress": int(rng.integers(15, 30)),
        "log_sd": {
            what: round(float(rng.uniform(0.05, 0.3)), 2)
            for what in ("crew_day", "egress", "ingress", "travel", "site")
        },
        "stops": stops,
        "needs": needs,
        "waits": waits,
        "egress_ended": None,
        "days": [[max(a, 0), b] for a, b in days if b > 0],
        "nights": [[max(a, 0), b] for a, b in nights if b > 0],
        "arm": [[int(rng.integers(20, 70)), 220], [260, 900]],
        "now": 0,
        "progress": [["planned"]] * count,
    }


class Draws:
    """Factors and work of one state of a day, with the weight of every draw."""

    def __init__(self, row: dict, rng: np.random.Generator, count: int):
        self.row, self.count = row, count
        learns = row.get("learns", True)
        sd = row["log_sd"]
        self.day = factor(sd["crew_day"], rng, count)
        self.egress = row["egress"] * factor(sd["egress"], rng, count)
        if row["egress_ended"] is not None:
            self.egress = np.full(count, float(row["egress_ended"]))
        self.ingress = row["ingress"] * factor(sd["ingress"], rng, count)
        self.pace = factor(sd["travel"], rng, count)
        self.site = factor(sd["site"], rng, count)
        log_weight = np.zeros(count)
        alive = np.ones(count, bool)
        self.work = []
        for stop, progress in zip(row["stops"], row["progress"]):
            work = self.worked(stop, self.day, rng)
            if not learns:
                # Whatever the day has been, work under way is longer than what it has taken.
                taken = lit(row, stop, progress[1], row["now"]) if progress[0] == "running" else 0.0
                for _ in range(200):
                    again = np.flatnonzero(work <= taken)
                    if not again.size:
                        break
                    work[again] = self.worked(stop, self.day[again], rng)
            elif progress[0] == "ended" and progress[3] != "not":
                share = stop["short"] if progress[3] == "part" else 1.0
                taken = lit(row, stop, progress[1], progress[2]) / share
                log_weight += np.log(self.likely(stop, taken))
            elif progress[0] == "running":
                alive &= work > lit(row, stop, progress[1], row["now"])
            self.work.append(work)
        self.log_weight, self.alive = log_weight, alive
        weight = np.exp(log_weight - log_weight.max()) * alive
        self.weight = weight / max(weight.sum(), 1e-300)
        self.effective = 1 / max(np.sum(self.weight**2), 1e-300)

    @staticmethod
    def worked(stop: dict, day: np.ndarray, rng: np.random.Generator) -> np.ndarray:
        """Minutes of work on those days, by the approach or by what follows it."""
        work = day * rng.lognormal(*moments(stop["work"]), len(day))
        then = stop["then"]
        if then:
            other = then["trigger"] + day * rng.lognormal(*moments(then["work"]), len(day))
            work = np.where(rng.random(len(day)) < then["chance"], other, work)
        return work

    def likely(self, stop: dict, minutes: float) -> np.ndarray:
        """How likely those very minutes of work are on the day of each draw."""

        def density(points: list[float], work: float) -> np.ndarray:
            if work <= 0:
                return np.zeros(self.count)
            mu, sigma = moments(points)
            score = (math.log(work) - mu - np.log(self.day)) / sigma
            return np.exp(-(score**2) / 2) / (sigma * work)

        then = stop["then"]
        if not then:
            return np.maximum(density(stop["work"], minutes), 1e-300)
        both = (1 - then["chance"]) * density(stop["work"], minutes)
        both = both + then["chance"] * density(then["work"], minutes - then["trigger"])
        return np.maximum(both, 1e-300)

    def chance(self, what: np.ndarray) -> float:
        return float(np.sum(self.weight[what]))


def lit(row: dict, stop: dict, start: float, until: float) -> float:
    if not stop["pauses"]:
        return until - start
    return sum(max(0.0, min(b, until) - max(a, start)) for a, b in sun(row, stop))


def sun(row: dict, stop: dict) -> list:
    return row["nights"] if stop["light"] == "night" else row["days"]


def first_fit(windows: list, ready: np.ndarray, work: np.ndarray) -> np.ndarray:
    start = np.full_like(ready, INF)
    least = ready.min()
    for a, b in reversed(windows):
        if b < least:
            break
        begin = np.maximum(ready, a)
        start = np.where(begin + work <= b + 1e-9, begin, start)
    return start


def paused(windows: list, ready: np.ndarray, work: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    left, first, end = work.copy(), np.full_like(ready, INF), np.full_like(ready, INF)
    for a, b in windows:
        begin = np.maximum(ready, a)
        open_now = (begin < b) & np.isinf(end)
        first = np.where(open_now & np.isinf(first), begin, first)
        fits = open_now & (begin + left <= b + 1e-9)
        end = np.where(fits, begin + left, end)
        left = np.where(open_now & ~fits, left - (b - begin), left)
    return np.where(np.isinf(end), INF, first), end


def opened(row: dict, stop: dict, ready: np.ndarray, work: np.ndarray):
    start = ready.copy()
    if stop["pauses"]:
        start, end = paused(sun(row, stop), ready, work)
    else:
        for _ in range(60):
            before = start
            if stop["arm"]:
                start = first_fit(row["arm"], start, work)
            if stop["light"]:
                start = first_fit(sun(row, stop), start, work)
            if np.array_equal(before, start):
                break
        end = start + work
    until = INF if stop["until"] is None else stop["until"]
    missed = ~(end <= until + 1e-9) | np.isinf(end)
    return start, end, missed


def schedule(row: dict, stop: dict, ready: np.ndarray, work: np.ndarray):
    if not (stop["arm"] or stop["light"] or stop["until"] is not None):
        return ready, ready + work, np.zeros(len(ready), bool)
    start, end, missed = opened(row, stop, ready, work)
    if not missed.any():
        return start, end, missed
    never = missed.copy()
    never[missed] = opened(row, stop, np.zeros(int(missed.sum())), work[missed])[2]
    last = min(
        row["arm"][-1][1] if stop["arm"] else INF,
        sun(row, stop)[-1][1] if stop["light"] else INF,
        INF if stop["until"] is None else stop["until"],
    )
    late = np.maximum(np.maximum(ready, row["limit"]), np.where(never, 0.0, last))
    return np.where(missed, late, start), np.where(missed, late + work, end), missed


class Crew:
    """Where the seats stand; a copy is made before every step."""

    def __init__(self, drawn: Draws):
        row = drawn.row
        lanes = row["lanes"]
        self.drawn = drawn
        self.at = [drawn.egress.copy() for _ in range(lanes)]
        self.site = [0] * lanes
        self.ends: dict[int, np.ndarray] = {}
        self.arm = np.zeros(drawn.count)
        seen = [(p[2] if p[0] == "ended" else INF, k) for k, p in enumerate(row["progress"])
                if p[0] in ("ended", "running")]
        for _, k in sorted(seen):
            stop, progress = row["stops"][k], row["progress"][k]
            if progress[0] == "ended":
                end = np.full(drawn.count, float(progress[2]))
            else:
                end = self.under_way(k, 1.0)
            self.put(k, end)

    def under_way(self, k: int, share: float) -> np.ndarray:
        row, drawn = self.drawn.row, self.drawn
        stop, start = row["stops"][k], row["progress"][k][1]
        taken = lit(row, stop, start, row["now"])
        # Past its stopping point it goes on to its end: between the two it may not be left.
        short = drawn.work[k] * share
        work = np.where(short >= taken, short, np.maximum(drawn.work[k], taken))
        if stop["pauses"]:
            # A stop that reaches its stopping point in the dark ends when the light is back.
            end = paused(sun(row, stop), np.full(drawn.count, float(start)), work)[1]
            end = np.where(np.isinf(end), row["limit"] + work, end)
            return np.maximum(end, row["now"])
        return start + work

    def put(self, k: int, end: np.ndarray) -> None:
        stop = self.drawn.row["stops"][k]
        for lane in stop["lanes"]:
            self.at[lane], self.site[lane] = end, stop["site"]
        if stop["arm"]:
            self.arm = end
        self.ends[k] = end

    def copy(self) -> "Crew":
        new = object.__new__(Crew)
        new.drawn, new.arm = self.drawn, self.arm
        new.at, new.site, new.ends = list(self.at), list(self.site), dict(self.ends)
        return new

    def step(self, k: int, share: float = 1.0, mask: np.ndarray | None = None):
        drawn, row = self.drawn, self.drawn.row
        stop = row["stops"][k]
        ready = np.full(drawn.count, float(row["now"]))
        for lane in stop["lanes"]:
            there, here = self.at[lane], self.site[lane]
            if here != stop["site"]:
                clear = row["sites"][here][1] if here else 0
                there = there + row["travel"][here][stop["site"]] * drawn.pace
                there = there + (clear + row["sites"][stop["site"]][0]) * drawn.site
            ready = np.maximum(ready, there)
        for first, then in row["needs"] + row["waits"]:
            if then == k and first in self.ends:
                ready = np.maximum(ready, self.ends[first])
        if stop["arm"]:
            ready = np.maximum(ready, self.arm)
        start, end, missed = schedule(row, stop, ready, drawn.work[k] * share)
        self.put(k, end)
        return start, end, missed

    def home(self, lane: int) -> np.ndarray:
        drawn, row = self.drawn, self.drawn.row
        here, there = self.site[lane], self.at[lane]
        if here:
            there = there + row["travel"][here][0] * drawn.pace + row["sites"][here][1] * drawn.site
        return np.maximum(there, row["now"])

    def inside(self, lanes=None) -> np.ndarray:
        lanes = range(self.drawn.row["lanes"]) if lanes is None else lanes
        return np.maximum.reduce([self.home(lane) for lane in lanes]) + self.drawn.ingress


def may_go(row: dict, k: int) -> bool:
    """Whether nothing that it needs, however far back, was dropped or has ended otherwise than done."""
    for first, then in row["needs"]:
        if then == k:
            progress = row["progress"][first]
            if progress[0] == "dropped" or progress[0] == "ended" and progress[3] != "done":
                return False
            if progress[0] == "planned" and not may_go(row, first):
                return False
    return True


def remaining(row: dict) -> list[int]:
    """The stops that are still to start and can."""
    return [k for k, p in enumerate(row["progress"]) if p[0] == "planned" and may_go(row, k)]


CHUNK = 50_000  # draws that are walked through at a time: their arrays stay near the processor


def whole(row: dict, rng: np.random.Generator, count: int) -> dict | None:
    """The rest of the plan, nothing dropped; and what is reached by crews that end in time. None where what was
    seen is too unlikely for weights on these draws."""
    chunks = [rest(Draws(row, rng, min(CHUNK, count))) for _ in range(max(1, count // CHUNK))]

    def joined(of) -> np.ndarray:
        return np.concatenate([of(chunk) for chunk in chunks])

    logs, alive = joined(lambda c: c["log_weight"]), joined(lambda c: c["alive"])
    if not alive.any():
        return None
    weight = np.exp(logs - logs[alive].max()) * alive
    weight /= weight.sum()
    if 1 / np.sum(weight**2) < count / 10:
        return None

    def chance(what: np.ndarray) -> float:
        return round(float(np.sum(weight[what])), 4)

    def quantiles(values: np.ndarray) -> list[float]:
        order = np.argsort(values)
        at = np.searchsorted(np.cumsum(weight[order]), (0.5, 0.8))
        return [round(float(values[order[min(k, len(order) - 1)]]), 1) for k in at]

    def of_stop(k: int) -> dict:
        return {
            "ends": quantiles(joined(lambda c: c["stops"][k]["end"])),
            "missed": chance(joined(lambda c: c["stops"][k]["missed"])),
            "in_time": chance(joined(lambda c: c["stops"][k]["in_time"])),
            "reached": chance(joined(lambda c: c["stops"][k]["reached"])),
        }

    inside, days = joined(lambda c: c["inside"]), np.log(joined(lambda c: c["day"]))
    mean = float(np.sum(weight * days))
    return {
        "chance": chance(inside <= row["limit"]),
        "end": quantiles(inside),
        "stops": {str(k): of_stop(k) for k in remaining(row)},
        "log_day": [
            round(mean, 4),
            round(float(np.sqrt(np.sum(weight * (days - mean) ** 2))), 4),
        ],
    }


def rest(drawn: Draws) -> dict:
    """What becomes of every stop that is left, draw by draw."""
    row, limit = drawn.row, drawn.row["limit"]
    crew = Crew(drawn)
    stops = {}
    for k in remaining(row):
        _, end, missed = crew.step(k)
        in_time = crew.inside(row["stops"][k]["lanes"]) <= limit
        stops[k] = {"end": end.astype(np.float32), "missed": missed, "in_time": in_time}
    inside = crew.inside()
    reached = step_by_step(drawn, inside <= limit)
    for k in stops:
        stops[k]["reached"] = reached[k]
    return {
        "stops": stops,
        "inside": inside,
        "day": drawn.day,
        "log_weight": drawn.log_weight,
        "alive": drawn.alive,
    }


def step_by_step(drawn: Draws, in_time: np.ndarray) -> dict:
    """Draw by draw which stops are reached: a seat for whose next task no time is left drops that
    one and all after it, and what needs a dropped task is dropped too."""
    row, limit, count = drawn.row, drawn.row["limit"], drawn.count
    left = remaining(row)
    reached = {k: in_time.copy() for k in left}
    lanes = row["lanes"]
    working = [np.ones(count, bool) for _ in range(lanes)]
    # All draws share the order of stops, but differ in where each seat stands.
    crew = Crew(drawn)
    at = [crew.at[lane].copy() for lane in range(lanes)]
    site = [np.full(count, crew.site[lane]) for lane in range(lanes)]
    arm = crew.arm.copy()
    ends = {k: end.copy() for k, end in crew.ends.items()}
    done = {k: np.ones(count, bool) for k in ends}
    travel = np.array(row["travel"], float)
    setup, clear = np.array([s[0] for s in row["sites"]], float), np.array([s[1] for s in row["sites"]], float)
    for k in left:
        stop = row["stops"][k]
        here = stop["site"]
        may = np.ones(count, bool)
        ready = np.full(count, float(row["now"]))
        for lane in stop["lanes"]:
            may &= working[lane]
            moves = site[lane] != here
            gap = travel[site[lane], here] * drawn.pace
            gap = gap + (clear[site[lane]] + setup[here]) * drawn.site
            ready = np.maximum(ready, at[lane] + np.where(moves, gap, 0.0))
        dropped = np.zeros(count, bool)
        for first, then in row["needs"]:
            if then == k:
                dropped |= ~done[first]
                ready = np.maximum(ready, np.where(done[first], ends[first], 0.0))
        for first, then in row["waits"]:
            if then == k and first in ends:
                ready = np.maximum(ready, np.where(done[first], ends[first], 0.0))
        if stop["arm"]:
            ready = np.maximum(ready, arm)
        _, end, _ = schedule(row, stop, ready, drawn.work[k])
        home = np.full(count, float(row["now"]))
        for lane in range(lanes):
            if lane in stop["lanes"]:
                back = end + travel[here, 0] * drawn.pace + clear[here] * drawn.site
            else:
                gap = travel[site[lane], 0] * drawn.pace + clear[site[lane]] * drawn.site
                back = at[lane] + gap
            home = np.maximum(home, back)
        asks = may & ~dropped
        goes = asks & (home + drawn.ingress <= limit)
        for lane in stop["lanes"]:
            working[lane] &= ~(asks & ~goes)
            at[lane] = np.where(goes, end, at[lane])
            site[lane] = np.where(goes, here, site[lane])
        if stop["arm"]:
            arm = np.where(goes, end, arm)
        ends[k], done[k] = end, goes
        reached[k] |= goes
    return reached


def latest(drawn: Draws, k: int) -> int | None:
    """By search: the last whole minute at which work of a stop may start so that its own seats are
    inside by the limit with 80 %."""
    row, stop = drawn.row, drawn.row["stops"][k]
    home = row["travel"][stop["site"]][0] * drawn.pace + row["sites"][stop["site"]][1] * drawn.site
    found = None
    for minute in range(int(row["now"]), int(row["limit"]) + 1):
        ready = np.full(drawn.count, float(minute))
        _, end, missed = schedule(row, stop, ready, drawn.work[k])
        if drawn.chance(~missed & (end + home + drawn.ingress <= row["limit"])) >= 0.8:
            found = minute
    return found


def turn_back(drawn: Draws, site: int) -> int:
    """By search: the last whole minute at which work at a worksite may end."""
    row = drawn.row
    home = row["travel"][site][0] * drawn.pace + row["sites"][site][1] * drawn.site + drawn.ingress
    for minute in range(int(row["limit"]), -1, -1):
        if drawn.chance(minute + home <= row["limit"]) >= 0.8:
            return minute
    return 0


def lived(row: dict, rng: np.random.Generator, share: float) -> tuple[dict, float]:
    """The same excursion as one crew lives it, up to a share of its limit: what it has done by
    then, and the factor of its day."""
    drawn = Draws(row, rng, 1)
    crew = Crew(drawn)
    now = round(row["limit"] * share)
    progress = []
    for k, stop in enumerate(row["stops"]):
        start, end, missed = crew.step(k)
        start, end = round(float(start[0])), round(float(end[0]))
        if missed[0] or start >= now:
            dropped = rng.random() < 0.04 and not stop["must"]
            progress.append(["dropped"] if dropped else ["planned"])
        elif end <= now:
            how = "done"
            if not stop["pauses"] and rng.random() < 0.25:
                how = "part" if stop["short"] else "not"
                end = round(start + (end - start) * (stop["short"] or float(rng.uniform(0.3, 1))))
            progress.append(["ended", start, max(end, start + 1), how])
        else:
            progress.append(["running", start])
    # A stop that is not begun keeps those after it in its seats from having begun.
    blocked: set[int] = set()
    for k, stop in enumerate(row["stops"]):
        waits = any(
            then == k and (progress[first][0] != "ended" or progress[first][3] != "done")
            for first, then in row["needs"]
        ) or any(
            then == k and progress[first][0] in ("planned", "running")
            for first, then in row["waits"]
        )
        if progress[k][0] in ("running", "ended") and (waits or blocked & set(stop["lanes"])):
            progress[k] = ["planned"]
        if progress[k][0] in ("planned", "running"):
            blocked |= set(stop["lanes"])
    known = round(float(drawn.egress[0])) if now > drawn.egress[0] and rng.random() < 0.3 else None
    return row | {"now": now, "progress": progress, "egress_ended": known}, float(drawn.day[0])
