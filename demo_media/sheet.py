"""The demo's trial sheet, written for a person who learns from it."""

from __future__ import annotations

from demo_media.boat import HORSEPOWER, INCH, Setup
from demo_media.programme import Part
from demo_media.scenario import DAY_START, LADDER_MPH, Scenario
from demo_media.shots import BOW, CHASE, Shot

_SHEET = """\
# The trial sheet: what was tested, where the logs and the footage are, which clips to make.
# Almost everything may be left out; a blank costs the figures that need it, and no more.
# Quantities are text with a unit: "6.0 m", "150 hp", "0.20 s". Paths start from this file.

schema = "trial/1"
name = "{title}"
date = {date}
time_zone = "Europe/Helsinki"      # of the place; logs and results are in UTC inside
units = "us"                       # what results and clips are printed in: us, nautical, metric
reserve = 0.10                     # share of the tank that range keeps back

# Speeds that a launch is timed through. The ladder has its own unit and is never converted.
ladder = {{ unit = "mph", speeds = [{ladder}] }}

[boat]
name = "{hull}"
length = "{length:.1f} m"
beam = "{beam:.2f} m"
deadrise = "{deadrise:.0f} deg"

# One block an engine, port first.
[[engines]]
name = "{engine}"
power = "{power:.0f} hp"
rated_rpm = [{rated_low:.0f}, {rated_high:.0f}]          # where it should turn at full throttle
gear_ratio = {gear_ratio}
cylinders = {cylinders}
strokes = 4

[propeller]
name = "{propeller}"
diameter = "{diameter:.0f} in"
pitch = "{pitch:.0f} in"
blades = {blades}

[load]
people = 2
fuel = "60 L"
test_mass = "{mass:.0f} kg"              # on the scales as tested: with engine, crew and fuel
usable_tank = "27 US gal"

[conditions]
wind = "{wind_kn:.0f} kn"
wind_from = "{wind_from:.0f} deg"
air_temperature = "{air:.0f} degC"         # also sets the speed of sound, for the clap
water_temperature = "{water:.0f} degC"
sea = "low swell, light chop"

# The logs. One that does not count in UTC has a clock of its own; the marks that it shares
# with another log ({marks}) tie the two.
[[logs]]
name = "gps"
file = "logs/gps.nmea"

[[logs]]
name = "engine"
file = "logs/engine.csv"
clock = "own"

[[logs]]
name = "attitude"
file = "logs/attitude.csv"

[[logs]]
name = "marks"
file = "logs/marks.csv"

# A clock that is right does not make a value timely: how much later than true each stands in
# its log, and one standard deviation of that.
[[sensors]]
log = "gps"
channel = "speed"
delay = "{gps_delay:.2f} s"                   # the receiver smooths its Doppler speed
delay_sd = "0.02 s"

[[sensors]]
log = "engine"
channel = "engine_speed"
delay = "{engine_delay:.2f} s"                   # the gateway holds values back
delay_sd = "0.02 s"

[[sensors]]
log = "engine"
channel = "fuel_flow"
delay = "{engine_delay:.2f} s"
delay_sd = "0.02 s"

[[sensors]]
log = "engine"
channel = "throttle"
delay = "{throttle_delay:.2f} s"                   # the lever sensor is read as the row is written
delay_sd = "0.01 s"

[[sensors]]
log = "attitude"
channel = "pitch"
delay = "{attitude_delay:.2f} s"
delay_sd = "0.01 s"
aided = true                            # by speed, so that a launch is not taken for pitch

[[sensors]]
log = "attitude"
channel = "roll"
delay = "{attitude_delay:.2f} s"
delay_sd = "0.01 s"

[[sensors]]
log = "attitude"
channel = "acceleration"
delay = "{attitude_delay:.2f} s"                   # where it is known, it aids the speed
delay_sd = "0.01 s"

# The footage. The camera's clock is wrong; the clap, seen, heard and logged, puts it right,
# and so does the engine's note, which leads to the clap among other bangs.
[[recordings]]
name = "bow"
files = ["footage/bow.mp4"]
clap_distance = "{clap_distance:.1f} m"            # from the clap to the camera's microphone
{more_recordings}
# Runs are found by themselves. A [[runs]] block would give one another name, or correct it.

# One block a clip.
[[clips]]
name = "launch"
recording = "bow"
run = "launch 1"
faceplate = "launch"
{more_clips}"""

_STEPS = """
# No clap here: the engine's note, which changes with the step, is held against the engine log.
# The camera cut this recording in two.
[[recordings]]
name = "{name}"
files = [{files}]
engine_distance = "{away:.1f} m"          # from the engine to the camera's microphone
"""

_CHASE = """
# From a boat that keeps pace. Its camera writes local time into the file and calls it UTC;
# the engine's note comes across the water, and so a little late.
[[recordings]]
name = "{name}"
files = [{files}]
engine_distance = "{away:.0f} m"           # about what it keeps: a tenth more or less is allowed
"""

_CHASE_CLIP = """
[[clips]]
name = "chase"
recording = "chase"
run = "launch 2"
faceplate = "launch"
"""


def sheet_text(setup: Setup, scenario: Scenario, part: Part = "morning") -> str:
    """The sheet of a part of the day, its figures taken from what was simulated."""
    hull, engine, propeller, weather = setup.hull, setup.engine, setup.propeller, setup.weather
    tools = scenario.instruments
    return _SHEET.format(
        title="Ottervik 600, a day's trial" if part == "day" else "Morning launch, Ottervik 600",
        marks=", ".join(f'"{label}"' for _, label in scenario.marks(part)),
        more_recordings="".join(_recording(shot) for shot in scenario.shots(part)),
        more_clips=_CHASE_CLIP if CHASE in scenario.shots(part) else "",
        date=f"{DAY_START:%Y-%m-%d}",
        ladder=", ".join(str(mph) for mph in LADDER_MPH),
        hull=hull.name,
        length=hull.length_m,
        beam=hull.beam_m,
        mass=hull.mass_kg,
        deadrise=hull.deadrise_deg,
        engine=engine.name,
        power=engine.power_w / HORSEPOWER,
        rated_low=engine.rated_rpm[0],
        rated_high=engine.rated_rpm[1],
        gear_ratio=engine.gear_ratio,
        cylinders=engine.cylinders,
        propeller=propeller.name,
        diameter=propeller.diameter_m / INCH,
        pitch=propeller.pitch_m / INCH,
        blades=propeller.blades,
        wind_kn=weather.wind_mps * 3600 / 1852,
        wind_from=weather.wind_from_deg,
        air=weather.air_c,
        water=weather.water_c,
        gps_delay=tools.gps_delay_s,
        engine_delay=tools.engine_delay_s,
        throttle_delay=tools.throttle_delay_s,
        attitude_delay=tools.attitude_delay_s,
        clap_distance=scenario.moments.clap_distance_m,
    )


def _recording(shot: Shot) -> str:
    """The block of a recording beyond the first."""
    if shot == BOW:
        return ""
    block = _CHASE if shot == CHASE else _STEPS
    files = ", ".join(f'"{name}"' for name in shot.files)
    return block.format(name=shot.name, files=files, away=shot.engine_distance_m)
