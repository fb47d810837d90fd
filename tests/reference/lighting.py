"""Writes lighting.json: sunset and sunrise on circular orbits, with the sun of Astropy.

Point sun, spherical Earth of 6378.137 km, no bending of light. The orbit's plane stands still
for the few hours that a case lasts; the sun moves as it does. A test of
src/compute/lighting.rs reads the file.
"""

import json
import math
import pathlib
import platform
import random

import astropy
import numpy as np
from astropy import units as u
from astropy.coordinates import get_sun
from astropy.time import Time, TimeDelta
from astropy.utils import iers

iers.conf.auto_download = False
iers.conf.auto_max_age = None
iers.conf.iers_degraded_accuracy = "warn"

SEED = 20_302
CASES = 320
RADIUS = 6378.137
MU = 398_600.4418


class Case:
    def __init__(self, rng: random.Random):
        self.altitude = round(rng.uniform(300, 1500), 1)
        self.start = Time("2031-01-01") + TimeDelta(rng.uniform(0, 365) * u.day)
        inclination, node = math.radians(rng.uniform(0, 110)), rng.uniform(0, 2 * math.pi)
        self.phase = rng.uniform(0, 2 * math.pi)
        self.size = RADIUS + self.altitude
        self.rate = math.sqrt(MU / self.size**3)
        self.period = 2 * math.pi / self.rate / 60
        x = np.array([math.cos(node), math.sin(node), 0.0])
        normal = np.array(
            [
                math.sin(inclination) * math.sin(node),
                -math.sin(inclination) * math.cos(node),
                math.cos(inclination),
            ]
        )
        self.axes = x, np.cross(normal, x)
        # The sun at the start and four hours on; between them it moves evenly.
        ends = get_sun(self.start + TimeDelta([0, 4] * u.hour)).cartesian.xyz.to_value(u.km)
        self.sun0, self.sun4 = ends[:, 0], ends[:, 1]
        sun = self.sun0 / np.linalg.norm(self.sun0)
        self.beta = math.degrees(math.asin(float(normal @ sun)))

    def lit(self, minute: float) -> float:
        """Above 0 in the sun: how far the ray to the sun passes outside the Earth, in km."""
        angle = self.phase + self.rate * 60 * minute
        here = self.size * (math.cos(angle) * self.axes[0] + math.sin(angle) * self.axes[1])
        to_sun = self.sun0 + (self.sun4 - self.sun0) * minute / 240 - here
        ray = to_sun / np.linalg.norm(to_sun)
        along = float(here @ ray)
        if along >= 0:
            return self.size
        return float(np.linalg.norm(here - along * ray)) - RADIUS

    def crossing(self, after: float, rising: bool) -> float | None:
        step = self.period / 720
        minute = after
        while minute < after + 1.5 * self.period:
            a, b = self.lit(minute), self.lit(minute + step)
            if (a < 0 <= b) if rising else (a >= 0 > b):
                low, high = minute, minute + step
                for _ in range(40):
                    middle = (low + high) / 2
                    if (self.lit(middle) >= 0) == rising:
                        high = middle
                    else:
                        low = middle
                return (low + high) / 2
            minute += step
        return None


def main() -> None:
    rng = random.Random(SEED)
    cases = []
    while len(cases) < CASES:
        case = Case(rng)
        critical = math.degrees(math.asin(RADIUS / case.size))
        if abs(abs(case.beta) - critical) <= 1.5:
            continue  # there the service says that it cannot tell
        sunset = case.crossing(0, rising=False)
        sunrise = None if sunset is None else case.crossing(sunset, rising=True)
        following = None if sunrise is None else case.crossing(sunrise, rising=False)
        row = {"altitude": case.altitude, "beta": round(case.beta, 4)}
        for name, value in [("sunset", sunset), ("sunrise", sunrise), ("next_sunset", following)]:
            row[name] = None if value is None else round(value, 3)
        cases.append(row)
    head = {
        "made_with": {
            "astropy": astropy.__version__,
            "numpy": np.__version__,
            "python": platform.python_version(),
        },
        "seed": SEED,
        "fields": "altitude km, beta degrees, then minutes from an arbitrary start",
    }
    lines = ",\n".join(json.dumps(case, separators=(",", ":")) for case in cases)
    text = json.dumps(head)[:-1] + ', "cases": [\n' + lines + "\n]}\n"
    (pathlib.Path(__file__).parent / "lighting.json").write_text(text)


if __name__ == "__main__":
    main()
