"""Every definition with a choice in it: its name, the choices, what they say, and the source.

The sheet may choose; results print what was used. Where no standard was found, the source
says so.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

NO_SOURCE = "common practice, no published source"


@dataclass(frozen=True, slots=True, kw_only=True)
class Definition:
    """One definition: `choices` maps the name of each choice to its text."""

    name: str
    title: str
    default: str
    choices: Mapping[str, str]
    source: str


def _table(*definitions: Definition) -> Mapping[str, Definition]:
    return MappingProxyType({entry.name: entry for entry in definitions})


DEFINITIONS: Mapping[str, Definition] = _table(
    Definition(
        name="launch_start",
        title="start of a launch",
        default="throttle_or_engine",
        choices=MappingProxyType(
            {
                "throttle_or_engine": (
                    "the throttle's first movement: the line along its rise, traced back to where "
                    "it stood before; where no throttle is logged the same of engine speed, by the "
                    "first half of its rise, and where neither is, the boat's first movement"
                ),
                "first_movement": (
                    "the boat's first movement: the line through speed between 1 and 3 m/s "
                    "above what it was before, traced back to what it was before"
                ),
            }
        ),
        source=NO_SOURCE,
    ),
    Definition(
        name="ladder_time",
        title="time to a speed of the ladder",
        default="first_crossing",
        choices=MappingProxyType(
            {
                "first_crossing": (
                    "from the start of the launch to the first instant at which the shown "
                    "speed, worked out at that very instant, reaches the ladder's speed"
                )
            }
        ),
        source=NO_SOURCE,
    ),
    Definition(
        name="peak_acceleration",
        title="peak acceleration",
        default="slope_of_shown",
        choices=MappingProxyType(
            {
                "slope_of_shown": (
                    "the steepest slope of the shown speed over a second, from a quarter of a "
                    "second after the start; the mean is the gain in speed over the time to its end"
                )
            }
        ),
        source=NO_SOURCE,
    ),
    Definition(
        name="shown_value",
        title="value shown on the picture",
        default="law_on_grid",
        choices=MappingProxyType(
            {
                "law_on_grid": (
                    "the channel under its law at g = floor(t × rate) / rate of UTC, the delay "
                    "of the channel taken out; where the run has passed a mark since g − 1 / rate, "
                    "at the mark"
                )
            }
        ),
        source="the project's own",
    ),
    Definition(
        name="bow_angle",
        title="bow angle",
        default="less_rest",
        choices=MappingProxyType(
            {
                "less_rest": (
                    "pitch less its mean over the rest before the launch, its last ten seconds "
                    "at the most, so that the sensor's mounting drops out"
                )
            }
        ),
        source=NO_SOURCE,
    ),
    Definition(
        name="bow_rise",
        title="bow rise",
        default="peak_less_rest",
        choices=MappingProxyType(
            {
                "peak_less_rest": (
                    "the highest pitch of the launch, as a mean over 0.3 s, less its mean in the "
                    "rest just before that launch"
                )
            }
        ),
        source=NO_SOURCE,
    ),
    Definition(
        name="bow_above",
        title="time with the bow above an angle",
        default="start_to_end_of_gain",
        choices=MappingProxyType(
            {
                "start_to_end_of_gain": (
                    "from the start of a launch to where its gain in speed ends, all the time in "
                    "which the bow angle, as a mean over 0.3 s, is above the sheet's "
                    "definitions.bow_limit"
                )
            }
        ),
        source=NO_SOURCE,
    ),
    Definition(
        name="time_to_plane",
        title="time to plane",
        default="two_thirds",
        choices=MappingProxyType(
            {
                "two_thirds": (
                    "from the start to the first instant after the pitch peak at which pitch has "
                    "fallen two thirds of the way to the running trim at the lowest planing step"
                ),
                "froude_2": "from the start to a volumetric Froude number of 2",
                "speed": "from the start to the speed that the sheet has for it",
                "button": "from the start to an observer's button (a mark called plane)",
            }
        ),
        source=NO_SOURCE,
    ),
    Definition(
        name="planing",
        title="planing",
        default="froude_2.5",
        choices=MappingProxyType(
            {"froude_2.5": "a volumetric Froude number of 2.5 and more, at the mass as tested"}
        ),
        source="texts of naval architecture have 2.5 or 3 (from memory)",
    ),
    Definition(
        name="step",
        title="step",
        default="steady_both_ways",
        choices=MappingProxyType(
            {
                "steady_both_ways": (
                    "stretches of eight seconds and more in which every engine stays within 2 % or "
                    "50 rpm of its median, speed within 3 % or 0.3 kn of its own and the course "
                    "within 20°; those within 3 % or 100 rpm of each other are one step, and those "
                    "within 20 s of each other on one course are one pass"
                )
            }
        ),
        source=NO_SOURCE + "; the band of engine speed is that of 40 CFR 91.410(b)",
    ),
    Definition(
        name="idling",
        title="idling in gear, and astern",
        default="held_courses",
        choices=MappingProxyType(
            {
                "held_courses": (
                    "of stretches at a steady engine speed, below 900 rpm if ahead, all with the "
                    "gear in and the course, and the heading where it is logged, within 20° for "
                    "eight seconds and more; those on courses within 30° of each other and of the "
                    "way back make a mean both ways"
                )
            }
        ),
        source=NO_SOURCE,
    ),
    Definition(
        name="two_way_mean",
        title="two-way mean",
        default="reciprocal_velocities",
        choices=MappingProxyType(
            {
                "reciprocal_velocities": (
                    "least squares of the passes' mean velocities over ground: the boat's own, "
                    "which turns round with her, and a stream that may change with time, evenly "
                    "from three passes on and as a parabola from four; current and wind together "
                    "drop out; averages of speeds, never of times"
                )
            }
        ),
        source="Tupper, Introduction to Naval Architecture, pp. 244 and 245 (the mean of means)",
    ),
    Definition(
        name="turning_diameter",
        title="diameter of a turn",
        default="held_after_half",
        choices=MappingProxyType(
            {
                "held_after_half": (
                    "twice the radius of the circle fitted after half a turn is done, the stream "
                    "taken out where 430° and more of it were held"
                )
            }
        ),
        source="after half a turn as in MSC/Circ.1053, 3.4.2.5, which is for ships of 100 m and "
        "more; nothing is held against its limits",
    ),
    Definition(
        name="stopping",
        title="stop",
        default="throttle_to_two_knots",
        choices=MappingProxyType(
            {
                "throttle_to_two_knots": (
                    "from the throttle's closing, with the gear out or astern within 3 s, until "
                    "speed over ground falls below 2 kn; where the last of it is lost slowly, by "
                    "the parabola through what lies within 3 s"
                )
            }
        ),
        source=NO_SOURCE,
    ),
    Definition(
        name="weighted_flow",
        title="weighted fuel flow",
        default="e4_speeds",
        choices=MappingProxyType(
            {
                "e4_speeds": (
                    "fuel flow at 100, 80, 60 and 40 % of the engine speed at full throttle, on "
                    "this boat's own curve, and idling out of gear, weighted 0.06, 0.14, 0.15, "
                    "0.25 and 0.40; torque is not the cycle's, so it certifies nothing"
                )
            }
        ),
        source="speeds and weights of cycle E4: 40 CFR Part 1045, Appendix II (a)",
    ),
    Definition(
        name="running_trim",
        title="running trim",
        default="step_less_rest",
        choices=MappingProxyType(
            {
                "step_less_rest": (
                    "mean pitch of each pass of a step less that of the last rest in the half hour "
                    "before it, the two directions counted alike"
                )
            }
        ),
        source=NO_SOURCE,
    ),
    Definition(
        name="step_noise",
        title="noise of a step",
        default="energy_mean",
        choices=MappingProxyType(
            {
                "energy_mean": (
                    "the energy mean of the levels, A-weighted, the two directions counted alike, "
                    "from a sound level meter only"
                )
            }
        ),
        source="equivalent level as in IEC 61672-1 (from memory)",
    ),
    Definition(
        name="air_density",
        title="density of the air",
        default="moist_ideal_gas",
        choices=MappingProxyType(
            {
                "moist_ideal_gas": (
                    "of moist air as an ideal gas, against 1.225 kg/m³; for comparison only, no "
                    "speed is corrected with it"
                )
            }
        ),
        source="ISO 2533:1975",
    ),
    Definition(
        name="sides",
        title="which of two engines is which",
        default="turns_away",
        choices=MappingProxyType(
            {
                "turns_away": (
                    "run ahead on one engine alone for eight seconds and more, a boat is pushed on "
                    "that engine's side and turns to the other: half a degree a second at the "
                    "least, with the helm no more than 3° over where it is logged, and no more "
                    "than 6°/s where it is not"
                )
            }
        ),
        source=NO_SOURCE,
    ),
    Definition(
        name="timed",
        title="time between two marks",
        default="last_at_one_first_at_other",
        choices=MappingProxyType(
            {
                "last_at_one_first_at_other": (
                    "on the channel of trim from where it was last at the one mark to where it is "
                    "first at the other, without a halt on the way; on film from the time stamp of "
                    "the one frame to that of the other, ± 1 frame"
                )
            }
        ),
        source=NO_SOURCE,
    ),
    Definition(
        name="range",
        title="range and endurance",
        default="usable_less_reserve",
        choices=MappingProxyType(
            {
                "usable_less_reserve": (
                    "usable tank less the reserve, divided by fuel flow, at the step's own "
                    "speed; for comparison only, never a passage plan"
                )
            }
        ),
        source=NO_SOURCE,
    ),
)
"""All definitions by name."""
