"""The receiver's log: NMEA 0183 sentences at ten epochs a second.

Written as receivers write them: RMC, VTG and GGA each epoch, ZDA on the full second; the
course field is empty while the boat hardly moves. Sentence layouts and the checksum (XOR of
what stands between `$` and `*`) follow the public NMEA 0183 descriptions.
"""

from __future__ import annotations

import math
from datetime import UTC, datetime
from functools import reduce

import numpy as np

from demo_media.noise import coloured, generator
from demo_media.scenario import Scenario
from demo_media.simulate import Day

KNOT = 1852 / 3600
"""Knot in m/s."""

ORIGIN = (60.0412, 24.7135)
"""Latitude and longitude of the day's first place, on open water."""

LEAST_COURSE_KN = 0.5
"""Slower than this the receiver states no course."""

_EQUATOR_M, _FLATTENING = 6378137.0, 1 / 298.257223563


def sentence(body: str) -> str:
    """A sentence with its start, checksum and end around its body."""
    check = reduce(lambda sum_, char: sum_ ^ ord(char), body, 0)
    return f"${body}*{check:02X}\r\n"


def place(x_m: float, y_m: float) -> tuple[float, float]:
    """Latitude and longitude of a point near the origin, on WGS 84's radii of curvature."""
    e2 = _FLATTENING * (2 - _FLATTENING)
    lat = math.radians(ORIGIN[0])
    bend = 1 - e2 * math.sin(lat) ** 2
    north = _EQUATOR_M * (1 - e2) / bend**1.5
    east = _EQUATOR_M / math.sqrt(bend) * math.cos(lat)
    return ORIGIN[0] + math.degrees(y_m / north), ORIGIN[1] + math.degrees(x_m / east)


def gps_log(day: Day, scenario: Scenario) -> str:
    """The whole log as text.

    Speed and course at an epoch are those of the receiver's delay earlier, with Doppler
    noise along and across the track; the position is timely and wanders a little.
    """
    tools = scenario.instruments
    t = np.arange(0.0, day.t_s[-1] - 1e-9, 1 / tools.gps_hz)
    rng = generator(tools.seed, "gps")
    late = t - tools.gps_delay_s
    period = 1 / tools.gps_hz
    along, across = (
        coloured(rng, t.size, sd=tools.gps_noise_mps, period_s=period, time_s=0.3) for _ in range(2)
    )
    speed = day.at("speed_mps", late) + along
    course = np.unwrap(day.course_rad)
    course_rad = np.interp(late, day.t_s, course) + across / np.maximum(np.abs(speed), 0.3)
    east, north, up = (
        coloured(rng, t.size, sd=sd, period_s=period, time_s=40.0) for sd in (0.4, 0.5, 0.8)
    )
    x, y = day.at("x_m", t) + east, day.at("y_m", t) + north
    lines = []
    for i, t_s in enumerate(t.tolist()):
        when = datetime.fromtimestamp(round(scenario.utc(t_s), 3), tz=UTC)
        speed_kn = abs(float(speed[i])) / KNOT
        course_deg = math.degrees(float(course_rad[i])) % 360
        latitude, longitude = place(float(x[i]), float(y[i]))
        lines.append(_epoch(when, speed_kn, course_deg, latitude, longitude, float(up[i])))
    return "".join(lines)


def _epoch(
    when: datetime, speed_kn: float, course_deg: float, lat: float, lon: float, up_m: float
) -> str:
    clock = f"{when:%H%M%S}.{when.microsecond // 10000:02d}"
    where = f"{_minutes(lat, 2)},N,{_minutes(lon, 3)},E"
    course = "" if speed_kn < LEAST_COURSE_KN else f"{course_deg:.1f}"
    knots = f"{speed_kn:.2f}"
    kmh = f"{float(knots) * 1.852:.2f}"
    text = sentence(f"GNRMC,{clock},A,{where},{knots},{course},{when:%d%m%y},,,A")
    text += sentence(f"GNVTG,{course},T,,M,{knots},N,{kmh},K,A")
    text += sentence(f"GNGGA,{clock},{where},1,14,0.7,{1.9 + up_m:.1f},M,17.6,M,,")
    if when.microsecond == 0:
        text += sentence(f"GNZDA,{clock},{when:%d,%m,%Y},00,00")
    return text


def _minutes(degrees: float, width: int) -> str:
    whole = int(degrees)
    return f"{whole:0{width}d}{(degrees - whole) * 60:08.5f}"
