"""The excursions of places.py as models for OR-Tools CP-SAT, read narrowly and widely.

Written from the words of the design: see places.py, which asks both. Nothing is written here.
"""

import math

from ortools.sat.python import cp_model

HORIZON = 2_000
RADIUS = 6378.137
ALTITUDE = 280.0
NIGHT = 0.4  # of every orbit
SUPPLIES = ("oxygen", "scrubber", "water", "battery")
# What hangs on less than this is left out: minutes, and a share of each supply.
MINUTES, SHARE = 3, 0.012


def beta() -> float:
    """The beta angle at which the night is that share of the orbit: a cylindrical shadow."""
    horizon = math.sqrt(ALTITUDE**2 + 2 * RADIUS * ALTITUDE) / (RADIUS + ALTITUDE)
    return math.degrees(math.acos(horizon / math.cos(math.pi * NIGHT)))


def lights(period: int, sunrise: int) -> tuple[list, list]:
    night = round(period * NIGHT)
    nights = [[at - night, at] for at in range(sunrise % period, HORIZON, period)]
    nights = [[max(a, 0), b] for a, b in nights if b > 0]
    days, at = [], 0
    for a, b in nights:
        if a > at:
            days.append([at, a])
        at = b
    return days, nights


def shortest(legs: list, sites: int, aid: bool) -> list:
    far = [[0 if a == b else None for b in range(sites)] for a in range(sites)]
    for a, b, minutes, over_aid in legs:
        if (aid or not over_aid) and (far[a][b] is None or minutes < far[a][b]):
            far[a][b] = minutes
    for k in range(sites):
        for a in range(sites):
            for b in range(sites):
                if far[a][k] is not None and far[k][b] is not None:
                    over = far[a][k] + far[k][b]
                    if far[a][b] is None or over < far[a][b]:
                        far[a][b] = over
    return far


def a_minute(suit: dict, work: str, supply: str) -> float:
    """What a minute uses: kilograms, or minutes of battery. Source: Weir, 1949, as supplies.py."""
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


def usage(row: dict, seat: int, supply: str, end: float, with_task: bool) -> float:
    suit = row["rates"][seat - 1]
    work = [stop for stop in row["stops"] if seat in stop["seats"]]
    work += [row["task"]] if with_task else []
    minute = a_minute(suit, "overhead", supply)
    extra = sum(stop["work"] * (a_minute(suit, stop["rate"], supply) - minute) for stop in work)
    return minute * end + extra


def lasts_until(row: dict, seat: int, with_task: bool, share: float) -> int:
    """The latest common end for which a seat's supplies are enough."""
    suit, latest = row["rates"][seat - 1], float(HORIZON)
    for supply in SUPPLIES:
        extra = usage(row, seat, supply, 0, with_task)
        has = row["carried"][supply] * (1 + share) - extra
        latest = min(latest, has / a_minute(suit, "overhead", supply))
    return math.floor(latest)


class Model:
    """What both readings have in common: times, legs, windows."""

    def __init__(self, row: dict):
        self.row, self.model = row, cp_model.CpModel()
        sites = len(row["sites"])
        self.with_aid = shortest(row["legs"], sites, True)
        aid_is_out = row["brings_aid"]
        self.without = self.with_aid if aid_is_out is None else shortest(row["legs"], sites, False)
        self.days, self.nights = lights(row["orbit"]["period"], row["orbit"]["sunrise"])
        self.start = [self.time(f"s{i}") for i in range(len(row["stops"]))]
        self.own = self.time("own")
        self.end = self.time("end")
        self.possible = True

    def time(self, name: str):
        return self.model.new_int_var(0, HORIZON, name)

    def windows(self, stop: dict) -> list | None:
        spans = None
        if stop["arm"]:
            spans = self.row["arm"]
        if stop["light"] != "any":
            light = self.days if stop["light"] == "day" else self.nights
            if spans is None:
                spans = light
            else:
                both = [[max(a, c), min(b, d)] for a, b in spans for c, d in light]
                spans = sorted([a, b] for a, b in both if a < b)
        return spans

    def stop(self, at: int) -> dict:
        return self.row["task"] if at == -1 else self.row["stops"][at]

    def begin(self, at: int):
        return self.own if at == -1 else self.start[at]

    def done(self, at: int):
        return self.begin(at) + self.stop(at)["work"]

    def solve(self) -> int | None:
        """The least end; none where there is no solution."""
        if not self.possible:
            return None
        self.model.minimize(self.end)
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = 1
        status = solver.solve(self.model)
        assert status in (cp_model.OPTIMAL, cp_model.INFEASIBLE), solver.status_name(status)
        if status == cp_model.INFEASIBLE:
            return None
        self.starts = [solver.value(start) for start in self.start]
        return solver.value(self.end)

    def inside(self, at: int, spans: list, drawn_in: int, let_out: int) -> None:
        chosen = []
        for k, (a, b) in enumerate(spans):
            here = self.model.new_bool_var(f"w{at}{k}")
            self.model.add(self.begin(at) >= a - let_out).only_enforce_if(here)
            self.model.add(self.done(at) <= b - drawn_in + let_out).only_enforce_if(here)
            chosen.append(here)
        self.model.add_bool_or(chosen)

    def checks_of_the_task(self, drawn_in: int, let_out: int) -> None:
        own, spans = self.row["task"], self.windows(self.row["task"])
        if spans is not None:
            self.inside(-1, spans, drawn_in, let_out)
        for begins, until in own["inhibits"]:
            if begins is not None:
                self.model.add(self.own >= begins - let_out)
            if until is not None:
                self.model.add(self.done(-1) <= until - drawn_in + let_out)
        for need in own["needs"]:
            self.model.add(self.own >= self.done(need))
        for then in own["needed_by"]:
            self.model.add(self.start[then] >= self.done(-1))

    def one_tool(self, at: int, elsewhere) -> None:
        """The task and a set one that both use the tool do not overlap, if in different seats."""
        first = self.model.new_bool_var(f"tool{at}")
        self.model.add(self.done(-1) <= self.start[at]).only_enforce_if(first, *elsewhere)
        self.model.add(self.own >= self.done(at)).only_enforce_if(~first, *elsewhere)


class Narrow(Model):
    """One position in the order and one choice of seats; the set tasks go as early as they can."""

    def __init__(
        self,
        row: dict,
        position: int | None,
        seats: list | None,
        aid_gone: str,
        all_checks: bool = True,
        waits: bool = False,
    ):
        super().__init__(row)
        self.aid_gone, self.seats, self.waits = aid_gone, seats, waits
        count = len(row["stops"])
        order = list(range(count))
        if position is not None:
            order.insert(position, -1)
        before = dict.fromkeys(row["seats"])
        arm_before = None
        for at in order:
            stop = self.stop(at)
            ready = [self.arrives(before[seat], at) for seat in self.seats_of(at)]
            ready += [self.done(need) for need in stop["needs"]]
            if at != -1 and position is not None and at in row["task"]["needed_by"]:
                ready.append(self.done(-1))
            if stop["arm"] and arm_before is not None:
                ready.append(self.done(arm_before))
            if not self.possible:
                return
            if at == -1:
                for one in ready:
                    self.model.add(self.own >= one)
            else:
                self.as_early_as_can_be(at, ready)
            for seat in self.seats_of(at):
                before[seat] = at
            if stop["arm"]:
                arm_before = at
        home = [self.goes_home(before[seat]) for seat in before]
        if not self.possible:
            return
        latest = self.time("latest")
        self.model.add_max_equality(latest, home)
        self.model.add(self.end == latest + row["ingress"])
        if position is not None and not all_checks:
            spans = self.windows(row["task"])
            if spans is not None:
                self.inside(-1, spans, 1, 0)
        if position is not None and all_checks:
            self.checks_of_the_task(1, 0)
            for at in range(count):
                others = not set(self.seats_of(at)) & set(seats)
                if row["task"]["tool"] and self.stop(at)["tool"] and others:
                    self.tool_in_order(at, at < position)

    def seats_of(self, at: int) -> list:
        return self.seats if at == -1 else self.stop(at)["seats"]

    def tool_in_order(self, at: int, before: bool) -> None:
        """The tool goes through the hands in the order, and no set task has to wait for it; where
        the task may begin on purpose later than it could, it may also wait for a later one."""
        if before:
            self.model.add(self.own >= self.done(at))
        elif self.waits:
            self.one_tool(at, [])
        else:
            self.model.add(self.done(-1) <= self.start[at])

    def as_early_as_can_be(self, at: int, ready: list) -> None:
        there, spans = self.time(f"ready{at}"), self.windows(self.stop(at))
        self.model.add_max_equality(there, ready)
        if spans is None:
            self.model.add(self.start[at] == there)
            return
        work, chosen = self.stop(at)["work"], []
        spans = [[a, b] for a, b in spans if b - a >= work]
        for k, (a, b) in enumerate(spans):
            here = self.model.new_bool_var(f"first{at}{k}")
            opens = self.time(f"opens{at}{k}")
            self.model.add_max_equality(opens, [there, a])
            self.model.add(self.start[at] == opens).only_enforce_if(here)
            # Drawn in: what ends with its window is left out.
            self.model.add(self.done(at) <= b - 1).only_enforce_if(here)
            for _, closes in spans[:k]:
                self.model.add(there > closes - work).only_enforce_if(here)
            chosen.append(here)
        if not chosen:
            self.possible = False
            return
        self.model.add_exactly_one(chosen)

    def leg(self, dep, a: int, b: int):
        """Minutes on the way, by whether the aid is out then."""
        over, around = self.with_aid[a][b], self.without[a][b]
        if over is None:
            self.possible = False
            return 0
        if over == around:
            return over
        by = self.row["brings_aid"]
        if by == -1 and self.seats is None:
            return over
        usable = self.model.new_bool_var("usable")
        if self.aid_gone == "at start":
            self.model.add(dep + over <= self.begin(by)).only_enforce_if(usable)
            self.model.add(dep + over > self.begin(by)).only_enforce_if(~usable)
        else:
            self.model.add(dep < self.done(by)).only_enforce_if(usable)
            self.model.add(dep >= self.done(by)).only_enforce_if(~usable)
        if around is None:
            self.model.add(usable == 1)
            return over
        return around + (over - around) * usable

    def arrives(self, before: int | None, at: int):
        site = self.stop(at)["site"]
        if before is None:
            dep, origin = self.row["egress"], 0
        else:
            origin = self.stop(before)["site"]
            if origin == site:
                return self.done(before)
            dep = self.done(before) + self.row["sites"][origin][1]
        return dep + self.leg(dep, origin, site) + self.row["sites"][site][0]

    def goes_home(self, before: int | None):
        if before is None:
            return self.row["egress"]
        origin = self.stop(before)["site"]
        dep = self.done(before) + self.row["sites"][origin][1]
        return dep + self.leg(dep, origin, 0)

    def stays_in_its_window(self, at: int, was: int) -> None:
        """A set task begins before the windows close in which it would be without the task."""
        stop = self.stop(at)
        spans = self.row["arm"] if stop["arm"] else []
        if stop["light"] != "any":
            spans = spans + (self.days if stop["light"] == "day" else self.nights)
        for a, b in spans:
            if a <= was < b:
                self.model.add(self.start[at] < b)

    def least_end(self, limit: int | None, reserve: int = 0) -> int | None:
        """The least end inside the limit and the supplies; no limit: none of both."""
        if limit:
            self.model.add(self.end <= limit - MINUTES)
            for seat in self.row["seats"]:
                with_task = self.seats is not None and seat in self.seats
                latest = lasts_until(self.row, seat, with_task, -SHARE) - reserve
                self.model.add(self.end <= latest)
        return self.solve()


class Wide(Model):
    """Any position in each seat; the set tasks keep their order in each seat and wait at will."""

    def __init__(self, row: dict):
        super().__init__(row)
        every = row["seats"]
        self.takes = {seat: self.model.new_bool_var(f"takes{seat}") for seat in every}
        self.model.add(sum(self.takes.values()) == row["task"]["count"])
        for seat in every:
            self.lane(seat)
        for at, stop in enumerate(row["stops"]):
            for need in stop["needs"]:
                self.model.add(self.start[at] >= self.done(need))
        arm = [at for at in [*range(len(row["stops"])), -1] if self.stop(at)["arm"]]
        interval = self.model.new_fixed_size_interval_var
        works = [interval(self.begin(at), self.stop(at)["work"], f"arm{at}") for at in arm]
        self.model.add_no_overlap(works)
        self.checks_of_the_task(0, 1)
        for at, stop in enumerate(row["stops"]):
            if row["task"]["tool"] and stop["tool"]:
                self.one_tool(at, [~self.takes[seat] for seat in stop["seats"]])
        self.model.add(self.end <= row["limit"] + MINUTES)
        for seat in every:
            for with_task in (False, True):
                literal = self.takes[seat] if with_task else ~self.takes[seat]
                latest = lasts_until(row, seat, with_task, SHARE) + 1
                self.model.add(self.end <= latest).only_enforce_if(literal)

    def lane(self, seat: int) -> None:
        mine = [None] + [at for at, stop in enumerate(self.row["stops"]) if seat in stop["seats"]]
        gaps = [self.model.new_bool_var(f"gap{seat}{k}") for k in range(len(mine))]
        self.model.add(sum(gaps) == self.takes[seat])
        for k, at in enumerate(mine):
            then = mine[k + 1] if k + 1 < len(mine) else None
            self.goes(at, then, ~gaps[k])
            self.goes(at, -1, gaps[k])
            self.goes(-1, then, gaps[k])

    def goes(self, at: int | None, then: int | None, literal) -> None:
        """The way from one task to the next; none stands for the airlock."""
        dep = self.row["egress"] if at is None else self.done(at)
        origin = 0 if at is None else self.stop(at)["site"]
        site = 0 if then is None else self.stop(then)["site"]
        by = self.end - self.row["ingress"] if then is None else self.begin(then)
        if origin == site and at is not None:
            self.model.add(by >= dep).only_enforce_if(literal)
            return
        dep = dep + (0 if at is None else self.row["sites"][origin][1])
        after = 0 if then is None else self.row["sites"][site][0]
        over, around = self.with_aid[origin][site], self.without[origin][site]
        if over is None:
            self.model.add(literal == 0)
            return
        usable = self.model.new_bool_var("usable")
        self.model.add(by >= dep + over + after).only_enforce_if(literal, usable)
        if over != around:
            gone = self.done(self.row["brings_aid"])
            self.model.add(dep < gone).only_enforce_if(literal, usable)
        if around is None:
            self.model.add_implication(literal, usable)
        else:
            self.model.add(by >= dep + around + after).only_enforce_if(literal, ~usable)
