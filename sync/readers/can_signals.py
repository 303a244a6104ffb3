"""What the messages of a bus hold: one table for NMEA 2000, one for SAE J1939.

Layouts of NMEA 2000 from canboat's public database, of J1939 from its J1939 part (byte
positions there count from 1). Values stand with their least byte first. For each channel the
tables name the groups in order of preference.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

RPM = 1.0 / 60.0
LITRE_AN_HOUR = 1e-3 / 3600.0
"""In the units of the channels: revolutions a second, and cubic metres a second."""

GNSS = "gnss"
"""Group of channels that must come from one receiver: each has a delay of its own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Only:
    """A condition: some bits of a byte are one of some values."""

    byte: int
    among: tuple[int, ...]
    low_bit: int = 0
    bits: int = 8


@dataclass(frozen=True, slots=True, kw_only=True)
class Signal:
    """One value in a message, and the channel that it feeds.

    Parameters
    ----------
    group
        Parameter group.
    byte, size
        Where it stands, counted from 0, and in how many bytes.
    signed
        Whether it is a two's complement.
    scale, zero
        ``value = raw * scale + zero`` in SI.
    only
        What must hold for the message to give this channel.
    codes
        Channel values by raw values, in place of a scale, of the lowest `code_bits`.
    engine
        Byte with the engine's number; the channel's instance.
    tank
        Byte with a tank's number in its lower half; the channel's instance.
    apart
        Byte with the number of a sensor of which only one is taken.
    family
        What must come from one sender along with it.
    means
        How it was had, as `sync.channel.Channel.means`.
    """

    channel: str
    group: int
    byte: int
    size: int = 2
    signed: bool = False
    scale: float = 1.0
    zero: float = 0.0
    only: tuple[Only, ...] = ()
    codes: Mapping[int, float] | None = None
    code_bits: int = 8
    engine: int | None = None
    tank: int | None = None
    apart: int | None = None
    family: str = ""
    means: str = "measured"


_RAD = 1e-4
_KELVIN = 0.01
_SHARE = 0.01
_LEVEL = 0.004 * 0.01
_HPA = 100.0

_GEARS = MappingProxyType({0: 1.0, 1: 0.0, 2: -1.0})
"""Ahead, neutral, astern (NMEA 2000); 3 says that it is not known."""

SEA, OUTSIDE, ENGINE_ROOM, EXHAUST = 0, 1, 3, 14
"""Sources of a temperature (canboat's database)."""

_TEMPERATURES = (
    ("water_temperature", SEA),
    ("air_temperature", OUTSIDE),
    ("engine_room_temperature", ENGINE_ROOM),
    ("exhaust_temperature", EXHAUST),
)


def _engine(channel: str, group: int, byte: int, size: int, scale: float, **more: bool) -> Signal:
    return Signal(
        channel=channel, group=group, byte=byte, size=size, scale=scale, engine=0,
        signed=more.get("signed", False),
    )  # fmt: skip


def _gnss(channel: str, group: int, byte: int, size: int, scale: float, **more: object) -> Signal:
    signed, only = bool(more.get("signed")), more.get("only", ())
    assert isinstance(only, tuple)
    return Signal(
        channel=channel, group=group, byte=byte, size=size, scale=scale, signed=signed, only=only,
        family=GNSS, means="measured" if signed else "doppler",
    )  # fmt: skip


_TRUE = (Only(byte=1, bits=2, among=(0,)),)
_FIXED = (Only(byte=31, low_bit=4, bits=4, among=(1, 2, 3, 4, 5)),)
"""A position that was found: not one without a fix (0), put in by hand (7) or simulated (8)."""

NMEA2000: tuple[Signal, ...] = (
    _gnss("speed", 129026, 4, 2, 0.01),
    _gnss("course", 129026, 2, 2, _RAD, only=_TRUE),
    _gnss("latitude", 129025, 0, 4, 1e-7, signed=True),
    _gnss("longitude", 129025, 4, 4, 1e-7, signed=True),
    _gnss("latitude", 129029, 7, 8, 1e-16, signed=True, only=_FIXED),
    _gnss("longitude", 129029, 15, 8, 1e-16, signed=True, only=_FIXED),
    _gnss("altitude", 129029, 23, 8, 1e-6, signed=True, only=_FIXED),
    Signal(channel="water_speed", group=128259, byte=1, scale=0.01),
    Signal(
        channel="heading", group=127250, byte=1, scale=_RAD,
        only=(Only(byte=7, bits=2, among=(0,)),),
    ),
    Signal(
        channel="magnetic_heading", group=127250, byte=1, scale=_RAD,
        only=(Only(byte=7, bits=2, among=(1,)),),
    ),
    Signal(channel="variation", group=127258, byte=4, signed=True, scale=_RAD),
    Signal(channel="variation", group=127250, byte=5, signed=True, scale=_RAD),
    Signal(channel="turn_rate", group=127251, byte=1, size=4, signed=True, scale=3.125e-8),
    Signal(channel="pitch", group=127257, byte=3, signed=True, scale=_RAD),
    Signal(channel="roll", group=127257, byte=5, signed=True, scale=_RAD),
    Signal(channel="rudder", group=127245, byte=4, signed=True, scale=_RAD, apart=0),
    _engine("engine_speed", 127488, 1, 2, 0.25 * RPM),
    _engine("boost_pressure", 127488, 3, 2, _HPA),
    _engine("trim", 127488, 5, 1, _SHARE, signed=True),
    _engine("oil_pressure", 127489, 1, 2, _HPA),
    _engine("oil_temperature", 127489, 3, 2, 0.1),
    _engine("engine_temperature", 127489, 5, 2, _KELVIN),
    _engine("voltage", 127489, 7, 2, 0.01, signed=True),
    _engine("fuel_flow", 127489, 9, 2, 0.1 * LITRE_AN_HOUR, signed=True),
    _engine("engine_hours", 127489, 11, 4, 1.0),
    _engine("coolant_pressure", 127489, 15, 2, _HPA),
    _engine("fuel_pressure", 127489, 17, 2, 1000.0),
    _engine("engine_load", 127489, 24, 1, _SHARE, signed=True),
    _engine("engine_torque", 127489, 25, 1, _SHARE, signed=True),
    Signal(
        channel="gear", group=127493, byte=1, size=1, codes=_GEARS, code_bits=2, engine=0
    ),
    _engine("gear_oil_pressure", 127493, 2, 2, _HPA),
    _engine("gear_oil_temperature", 127493, 4, 2, 0.1),
    _engine("trip_fuel", 127497, 1, 2, 1e-3),
    Signal(
        channel="fuel_level", group=127505, byte=1, signed=True, scale=_LEVEL, tank=0,
        only=(Only(byte=0, low_bit=4, bits=4, among=(0,)),),
    ),
    Signal(
        channel="apparent_wind_speed", group=130306, byte=1, scale=0.01,
        only=(Only(byte=5, bits=3, among=(2,)),),
    ),
    Signal(
        channel="apparent_wind_angle", group=130306, byte=3, scale=_RAD,
        only=(Only(byte=5, bits=3, among=(2,)),),
    ),
    *(
        Signal(
            channel="true_wind_speed", group=130306, byte=1, scale=0.01,
            only=(Only(byte=5, bits=3, among=(reference,)),),
        )
        for reference in (0, 3, 4)
    ),
    *(
        Signal(
            channel="true_wind_angle", group=130306, byte=3, scale=_RAD,
            only=(Only(byte=5, bits=3, among=(reference,)),),
        )
        for reference in (3, 4)
    ),
    Signal(
        channel="wind_from", group=130306, byte=3, scale=_RAD,
        only=(Only(byte=5, bits=3, among=(0,)),),
    ),
    *(
        Signal(
            channel=channel, group=130316, byte=3, size=3, scale=0.001, apart=1,
            only=(Only(byte=2, among=(source,)),),
        )
        for channel, source in _TEMPERATURES
    ),
    *(
        Signal(
            channel=channel, group=130312, byte=3, scale=_KELVIN, apart=1,
            only=(Only(byte=2, among=(source,)),),
        )
        for channel, source in _TEMPERATURES
    ),
    *(
        Signal(
            channel=channel, group=130311, byte=2, scale=_KELVIN,
            only=(Only(byte=1, bits=6, among=(source,)),),
        )
        for channel, source in _TEMPERATURES
    ),
    Signal(channel="water_temperature", group=130310, byte=1, scale=_KELVIN),
    Signal(channel="air_temperature", group=130310, byte=3, scale=_KELVIN),
    Signal(
        channel="humidity", group=130313, byte=3, signed=True, scale=_LEVEL, apart=1,
        only=(Only(byte=2, among=(1,)),),
    ),
    Signal(
        channel="humidity", group=130311, byte=4, signed=True, scale=_LEVEL,
        only=(Only(byte=1, low_bit=6, bits=2, among=(1,)),),
    ),
    Signal(
        channel="air_pressure", group=130314, byte=3, size=4, signed=True, scale=0.1, apart=1,
        only=(Only(byte=2, among=(0,)),),
    ),
    Signal(channel="air_pressure", group=130311, byte=6, scale=_HPA),
    Signal(channel="air_pressure", group=130310, byte=5, scale=_HPA),
)  # fmt: skip
"""NMEA 2000. Set values (130315, and the second half of others) are no measurement."""

J1939: tuple[Signal, ...] = (
    Signal(channel="engine_speed", group=61444, byte=3, scale=0.125 * RPM),
    Signal(channel="engine_torque", group=61444, byte=2, size=1, scale=_SHARE, zero=-1.25),
    Signal(channel="fuel_flow", group=65266, byte=0, scale=0.05 * LITRE_AN_HOUR),
    Signal(channel="throttle", group=65266, byte=6, size=1, scale=0.4 * _SHARE),
    Signal(channel="engine_hours", group=65253, byte=0, size=4, scale=0.05 * 3600.0),
    Signal(channel="engine_temperature", group=65262, byte=0, size=1, zero=233.15),
    Signal(channel="air_pressure", group=65269, byte=0, size=1, scale=500.0),
    Signal(channel="voltage", group=65271, byte=4, scale=0.05),
)
"""SAE J1939: an engine is known by its address, the lowest being the port one."""

SYSTEM_TIME, GNSS_POSITION = 126992, 129029
"""Groups that state the time."""

FAST = frozenset({127489, 127497, 129029})
"""Groups that come as fast packets."""

WANTED = frozenset(s.group for s in (*NMEA2000, *J1939)) | {SYSTEM_TIME, GNSS_POSITION, 130315}
"""All groups that anything is made of, or that are known to hold nothing for us."""
