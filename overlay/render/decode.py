"""The first stage, and what it has to say of each frame: pictures that may be drawn on.

Also the arithmetic of a clip's clock: where its 0 lies on the footage clock, and which time
stamp each frame gets. All of it is exact.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING

from overlay.errors import RenderError
from overlay.render.encode import ClipPlan
from overlay.render.stages import Belt
from sync.media import Decoded, Footage, FrameTimes, decoded_frames

if TYPE_CHECKING:
    from av import VideoFrame


@dataclass(slots=True)
class Losses:
    """Frames that stand in for lost ones, and those that may have been drawn from them."""

    replaced: int = 0
    suspect: int = 0
    _since_loss: bool = False

    def note(self, decoded: Decoded, times: FrameTimes) -> None:
        """Count a frame that is lost, or follows on a lost one."""
        if decoded.stand_in:
            self.replaced += 1
            self._since_loss = True
            return
        if times.key[decoded.index]:
            self._since_loss = False
        self.suspect += self._since_loss or decoded.damaged

    def warnings(self) -> list[str]:
        """What was counted, in words."""
        lines = []
        if self.replaced:
            lines.append(
                f"{self.replaced} frames cannot be decoded; the one before stands in for each"
            )
        if self.suspect:
            lines.append(f"{self.suspect} frames near a damage may not look as they should")
        return lines


def ends_s(times: FrameTimes, frames: range) -> tuple[Fraction, Fraction]:
    """Where a stretch of frames begins and ends on the footage clock, exactly."""
    last = frames[-1]
    start = int(times.pts[frames[0]])
    stop = int(times.pts[last]) + times.duration_pts(last)
    return start * times.time_base, stop * times.time_base


def origin_s(footage: Footage, times: FrameTimes, frames: range, *, whole: bool) -> Fraction:
    """The instant of the footage clock that is 0 in the clip.

    A whole recording keeps its clock, and with it a late picture or an early sound; but the
    clock of a transport stream starts anywhere, and is set to 0 at the first frame.
    """
    if whole and footage.container != "mpegts":
        return Fraction(0)
    return ends_s(times, frames)[0]


def stamp(picture: VideoFrame, index: int, clip: ClipPlan, times: FrameTimes) -> int:
    """Give a picture its place in the clip, exactly."""
    from av.video.frame import PictureType

    ticks = times.time_base / clip.time_base
    shifted = int(times.pts[index]) * ticks - clip.origin_s / clip.time_base
    assert shifted.denominator == 1
    picture.pts = int(shifted)
    picture.duration = int(times.duration_pts(index) * ticks)
    picture.time_base = clip.time_base
    picture.pict_type = PictureType.NONE  # else the encoder repeats the camera's frame types
    return picture.pts


def decode(clip: ClipPlan, times: FrameTimes, frames: range, belt: Belt[Decoded]) -> None:
    """Put pictures on the belt that may be drawn on, in a format that can be drawn on."""
    pictures = decoded_frames(clip.footage, times, frames)
    try:
        for decoded in pictures:
            _refuse_change(clip, decoded)
            picture = decoded.picture
            if picture.format.name == clip.pix_fmt:
                # A decoder goes on reading the pictures it has given out; drawing on one of
                # them without this would show in the frames that are predicted from it.
                picture.make_writable()
            else:
                decoded.picture = picture.reformat(format=clip.pix_fmt)
            belt.put(decoded)
        belt.end()
    finally:
        pictures.close()


def _refuse_change(clip: ClipPlan, decoded: Decoded) -> None:
    """Refuse a picture that is not like the first one, which is all that was looked at before."""
    size = (decoded.picture.width, decoded.picture.height)
    if size != (clip.footage.width, clip.footage.height):
        raise RenderError(
            f"the picture's size changes to {size[0]}×{size[1]} at frame {decoded.index}",
            path=clip.footage.path,
            advice="render the stretches before and after it as clips of their own",
        )
    if decoded.picture.interlaced_frame:
        raise RenderError(
            f"frame {decoded.index} is interlaced (made of two fields), and such footage cannot"
            " be rendered yet",
            path=clip.footage.path,
            advice="deinterlace it first, or have the camera record progressive pictures",
        )
