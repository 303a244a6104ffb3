"""An encoder in hardware is found by opening it, whatever it is called."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from overlay.errors import RenderError
from overlay.render import Recipe, burn, hardware
from sync.clock import ClockMap
from sync.media import frame_times, probe

CLOCK = ClockMap(from_clock="bow", to_clock="utc", offset_s=0.0)


class Nothing:
    def draw(self, _planes: object, _t_utc_s: float) -> tuple[()]:
        return ()


def test_names_that_do_not_open_are_passed_over(monkeypatch: pytest.MonkeyPatch) -> None:
    """The last is one that works everywhere, in the place of a card's."""
    monkeypatch.setattr(hardware, "CANDIDATES", ("h264_none", "libx265rgb", "libx264"))
    assert hardware.hardware_codec() == ("libx264", "yuv420p")


def test_where_none_opens_each_says_why(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(hardware, "CANDIDATES", ("h264_none", "gif"))
    with pytest.raises(RenderError, match="no encoder in hardware works here") as caught:
        hardware.hardware_codec()
    assert "h264_none: not in this FFmpeg; gif: takes frames" in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_clip_by_what_was_found_keeps_its_frames(
    shoot: Callable[..., Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(hardware, "CANDIDATES", ("libx264",))
    source = shoot(frames=30)
    sizes = []
    for quality in ("draft", "master"):
        output = tmp_path / f"{quality}.mp4"
        recipe = Recipe.of("hardware", quality)
        burn(probe(source), output, plan=Nothing(), clock_map=CLOCK, recipe=recipe)
        old, new = frame_times(probe(source)), frame_times(probe(output))
        assert (new.pts * float(new.time_base)).tolist() == (
            old.pts * float(old.time_base)
        ).tolist()
        sizes.append(output.stat().st_size)
    assert sizes[1] > 1.5 * sizes[0]


def test_this_machine_answers_in_one_sentence_or_with_a_codec() -> None:
    """What it has is not known; that nothing else comes out is."""

    def answer() -> str:
        try:
            return hardware.hardware_codec()[0]
        except RenderError as error:
            return str(error)

    said = answer()
    assert said in hardware.CANDIDATES or all(name in said for name in hardware.CANDIDATES)
    assert "\n" not in said
