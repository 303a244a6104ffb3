"""The demo's recordings: which camera shot what, when, and how wrong its clock is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from demo_media.programme import LAUNCH_T_S, STEP_S, programme
from demo_media.recipe import FootageRecipe


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """What one camera shot without stopping.

    Parameters
    ----------
    name
        Of the recording, in the sheet and in the truth.
    view
        From the helm over the bow, or from a boat that keeps pace.
    start_s
        When it starts, in seconds of the day.
    begins_s
        Where in the recording each of its files begins: a camera cuts what grows too long.
    recipe
        Size, length and settings of the film.
    camera_fast_s
        How far the camera's own clock is ahead.
    local_stamp
        The camera's clock shows local time, and its container calls that UTC.
    clapped
        Whether the clap is seen and heard in it.
    engine_distance_m
        From the engine to the microphone; of the chase boat, about what it keeps.
    """

    name: str
    view: Literal["bow", "chase"]
    start_s: float
    recipe: FootageRecipe
    begins_s: tuple[float, ...] = (0.0,)
    camera_fast_s: float
    local_stamp: bool = False
    clapped: bool = False
    engine_distance_m: float

    @property
    def files(self) -> tuple[str, ...]:
        """Its files below the trial's folder."""
        if len(self.begins_s) == 1:
            return (f"footage/{self.name}.mp4",)
        return tuple(f"footage/{self.name}-{i + 1}.mp4" for i in range(len(self.begins_s)))


_BACK_S = programme("day").piece("launch 2").start_s
_CHANGE_S = programme("day").piece("2000 062").stop_s + 1.0 - STEP_S
"""When the helmsman goes from the step at 1500 rpm to the one at 2000."""

BOW = Shot(
    name="bow",
    view="bow",
    start_s=LAUNCH_T_S - 16.183,
    recipe=FootageRecipe(),
    camera_fast_s=37.4,
    clapped=True,
    engine_distance_m=2.6,
)
"""Over the bow: the clap, then the first launch."""

STEPS = Shot(
    name="steps",
    view="bow",
    start_s=_CHANGE_S - 13.371,
    recipe=FootageRecipe(width_px=848, height_px=480, rate=25, length_s=23.0),
    begins_s=(0.0, 16.0),
    camera_fast_s=-71.8,
    engine_distance_m=2.6,
)
"""Over the bow, without a clap: the end of one step and the beginning of the next."""

CHASE = Shot(
    name="chase",
    view="chase",
    start_s=_BACK_S - 6.219,
    recipe=FootageRecipe(width_px=848, height_px=480, rate=25, length_s=22.6),
    camera_fast_s=-23.6,
    local_stamp=True,
    engine_distance_m=22.0,
)
"""From a boat that keeps pace, without a clap: the second launch."""

SHOTS = (BOW, STEPS, CHASE)
"""All recordings, in the order in which they are made."""
