"""The names that crews give the columns of tables: common practice, no published source.

A test holds these lists against the product's.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

_NAMES = """
speed: speed, sog, speed over ground, gps speed, ground speed
water_speed: stw, speed through water, water speed
course: cog, course, course over ground, track
heading: heading, hdg, true heading, heading true, hdt
magnetic_heading: magnetic heading, heading magnetic, compass, hdm
latitude: latitude, lat
longitude: longitude, lon, long, lng
altitude: altitude, alt
engine_speed: rpm, engine speed, engine rpm, revs, engine revs
throttle: throttle, throttle position, throttle opening, tps
fuel_flow: fuel flow, fuel rate, flow, fuel consumption, fuel burn
fuel_supply: fuel supply, fuel supply flow, supply flow, fuel feed
fuel_return: fuel return, fuel return flow, return flow
gear: gear, gear position, shift
pitch: pitch, pitch angle
roll: roll, roll angle, heel, heel angle
turn_rate: turn rate, rate of turn, rot, yaw rate
acceleration: acceleration, accel, acc, accel x, acc x, ax, acceleration x
acceleration: forward acceleration, longitudinal acceleration
rudder: rudder, rudder angle, rudder position
variation: variation, magnetic variation, declination, magnetic declination
trim: trim, drive trim, trim position, engine trim
engine_load: engine load, load, percent load
engine_torque: engine torque, torque, percent torque
engine_hours: engine hours, hours run, running hours, total engine hours
engine_temperature: engine temperature, coolant temperature, engine coolant temperature
engine_temperature: coolant temp, engine temp, engine coolant temp, ect
oil_temperature: oil temperature, engine oil temperature, oil temp, engine oil temp
oil_pressure: oil pressure, engine oil pressure, oil press
coolant_pressure: coolant pressure, engine coolant pressure, cooling pressure
fuel_pressure: fuel pressure, fuel press, fuel rail pressure, rail pressure
boost_pressure: boost pressure, boost, manifold pressure, charge pressure
voltage: voltage, battery voltage, alternator voltage, alternator potential, volts
gear_oil_pressure: gear oil pressure, transmission oil pressure, gearbox oil pressure
gear_oil_temperature: gear oil temperature, transmission oil temperature
gear_oil_temperature: gearbox oil temperature, gear oil temp
trip_fuel: trip fuel, trip fuel used, fuel used, fuel since reset
fuel_level: fuel level, tank level, fuel tank level
water_temperature: water temperature, sea temperature, sea water temperature, water temp
water_temperature: sea temp, sea surface temperature
air_temperature: air temperature, outside temperature, air temp, outside air temperature
air_temperature: ambient temperature
engine_room_temperature: engine room temperature, engine room temp
exhaust_temperature: exhaust temperature, exhaust gas temperature, exhaust temp, egt
humidity: humidity, relative humidity, outside humidity
air_pressure: air pressure, atmospheric pressure, barometric pressure, barometer
apparent_wind_speed: apparent wind speed, aws
apparent_wind_angle: apparent wind angle, awa
true_wind_speed: true wind speed, tws
true_wind_angle: true wind angle, twa
wind_from: wind from, wind direction, true wind direction, twd
sound_level: sound level, noise level, sound pressure level, laf, las, laeq
"""

_TIMES = """
stamp: time, timestamp, time stamp, datetime, date time, utc, utc time, time utc, utc date time
stamp: local time, time local, time of day, t
elapsed: elapsed, elapsed time, time since start, seconds
epoch: epoch, epoch time, unix time, unix timestamp
date: date, utc date, date utc, local date
week: week, gps week, gps week number, week number, wn, tow, gps tow, time of week
week: gps time of week, itow, seconds of week, gps seconds, second of week
"""


def _by_name(table: str) -> Mapping[str, str]:
    rows = (row.split(":") for row in table.strip().splitlines())
    return MappingProxyType({name.strip(): key for key, names in rows for name in names.split(",")})


CHANNEL_OF, TIME_OF = _by_name(_NAMES), _by_name(_TIMES)
"""Channels and sorts of time by the names that crews give their columns."""

SAYS_UNIT: Mapping[str, str] = MappingProxyType(
    dict.fromkeys(("rpm", "engine rpm"), "rpm")
    | dict.fromkeys(("gear", "gear position", "shift"), "1")
    | dict.fromkeys(("laf", "las", "laeq"), "dB(A)")
    | dict.fromkeys(("latitude", "lat", "longitude", "lon", "long", "lng"), "deg N/E")
)

EVENTS = frozenset(("event", "events", "mark", "marks", "marker", "tie mark", "button"))
SIDES = {"port": 0, "left": 0, "starboard": 1, "stbd": 1, "sb": 1, "right": 1}
LETTERS = {"p": 0, "s": 1}
A_ENGINE_EACH = frozenset(
    (
        "engine_speed",
        "throttle",
        "fuel_flow",
        "fuel_supply",
        "fuel_return",
        "gear",
        "trim",
        "engine_load",
        "engine_torque",
        "engine_hours",
        "engine_temperature",
        "oil_temperature",
        "oil_pressure",
        "coolant_pressure",
        "fuel_pressure",
        "boost_pressure",
        "voltage",
        "gear_oil_pressure",
        "gear_oil_temperature",
        "trip_fuel",
        "exhaust_temperature",
    )
)
