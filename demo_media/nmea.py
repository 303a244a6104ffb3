"""The receiver's log: NMEA 0183 sentences at ten epochs a second.

Written as receivers write them: RMC, VTG and GGA each epoch, ZDA on the full second; the
course field is empty while the boat hardly moves, and without a fix nothing but the time is
told. Sentence layouts and the checksum (XOR of
what stands between `$` and `*`) follow the public NMEA 0183 descriptions.
"""

from __future__ import annotations

import math
from datetime import UTC, datetime
from functools import reduce
from operator import xor

import numpy as np

from demo_media.noise import coloured, generator
from demo_media.scenario import Scenario
from demo_media.simulate import Day

KNOT = 1852 / 3600
"""Knot in m/s."""

ORIGIN = (60.0412, 24.7135)
"""Latitude and longitude of the day's first place, on open water."""

LEAST_COURSE_KN = 1.0
"""Slower than this the receiver states no course."""

_EQUATOR_M, _FLATTENING = 6378137.0, 1 / 298.257223563


def sentence(body: str) -> str:
    """A sentence with its start, checksum and end around its body."""
    return f"${body}*{reduce(xor, body.encode('ascii'), 0):02X}\r\n"


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
    late = t - tools.gps_delay_s
    period = 1 / tools.gps_hz
    along, across = (
        coloured(
            generator(tools.seed, f"gps {way}"),
            t.size,
            sd=tools.gps_noise_mps,
            period_s=period,
            time_s=tools.gps_noise_time_s,
        )
        for way in ("along", "across")
    )
    speed = day.at("speed_mps", late) + along
    course = np.unwrap(day.course_rad)
    course_rad = np.interp(late, day.t_s, course) + across / np.maximum(np.abs(speed), 0.3)
    east, north, up = (
        coloured(generator(tools.seed, f"gps {way}"), t.size, sd=sd, period_s=period, time_s=40.0)
        for way, sd in (("east", 0.4), ("north", 0.5), ("up", 0.8))
    )
    x, y = day.at("x_m", t) + east, day.at("y_m", t) + north
    lines = []
    lost = (t >= scenario.drop_out.start_s) & (t < scenario.drop_out.stop_s)
    for i, t_s in enumerate(t.tolist()):
        when = datetime.fromtimestamp(round(scenario.utc(t_s), 3), tz=UTC)
        if lost[i]:
            lines.append(_no_fix(when))
            continue
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


def _no_fix(when: datetime) -> str:
    """An epoch without a fix: void, mode N, quality 0, and the receiver's own time going on."""
    clock = f"{when:%H%M%S}.{when.microsecond // 10000:02d}"
    text = sentence(f"GNRMC,{clock},V,,,,,,,{when:%d%m%y},,,N")
    text += sentence("GNVTG,,T,,M,,N,,K,N")
    text += sentence(f"GNGGA,{clock},,,,,0,00,99.9,,M,,M,,")
    if when.microsecond == 0:
        text += sentence(f"GNZDA,{clock},{when:%d,%m,%Y},00,00")
    return text


def _minutes(degrees: float, width: int) -> str:
    whole = int(degrees)
    return f"{whole:0{width}d}{(degrees - whole) * 60:08.5f}"
