"""The first stage, and what it has to say of each frame: pictures that may be drawn on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from overlay.errors import RenderError
from overlay.render.clip_plan import ClipPlan
from overlay.render.cropping import cropped
from overlay.render.encode import FULL_RANGE, LIMITED_RANGE
from overlay.render.stages import Belt
from sync.media import Decoded, FrameTimes, decoded_frames
from sync.media.planes import planes_of

if TYPE_CHECKING:
    from av import VideoFrame


SWSCALE_MATRICES = {1: 1, 5: 5, 6: 5, 9: 9}
"""H.273 matrices that are drawn in, by the constants that swscale has for their coefficients."""


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


def stamp(picture: VideoFrame, index: int, clip: ClipPlan) -> int:
    """Give a picture its place in the clip, exactly."""
    from av.video.frame import PictureType

    picture.pts = clip.stamp_pts(index)
    picture.duration = clip.duration_pts(index)
    picture.time_base = clip.time_base
    picture.pict_type = PictureType.NONE  # else the encoder repeats the camera's frame types
    return picture.pts


def decode(clip: ClipPlan, belt: Belt[Decoded]) -> None:
    """Put pictures on the belt that may be drawn on, in a format that can be drawn on."""
    pictures = decoded_frames(clip.footage, clip.times, clip.made)
    try:
        for decoded in pictures:
            _refuse_change(clip, decoded)
            decoded.picture = _drawable(decoded.picture, clip)
            belt.put(decoded)
        belt.end()
    finally:
        pictures.close()


def _drawable(picture: VideoFrame, clip: ClipPlan) -> VideoFrame:
    """A picture of the surface's format and size, in memory of its own."""
    surface = clip.surface
    if picture.format.name == surface.pix_fmt and _same_range(clip):
        if surface.crop is not None:
            return cropped(picture, surface.crop)
        if (picture.width, picture.height) != (surface.width_px, surface.height_px):
            return evened(picture, surface.width_px, surface.height_px)
        # A decoder goes on reading the pictures it has given out; drawing on one of them without
        # this would show in the frames that are predicted from it.
        picture.make_writable()
        return picture
    ranges = {True: FULL_RANGE, False: LIMITED_RANGE}
    is_rgb = picture.format.is_rgb
    changed = picture.reformat(
        format=surface.pix_fmt,
        # Red, green and blue have no range but the full one, and a matrix only on the way out.
        src_color_range=FULL_RANGE if is_rgb else ranges[_is_full(clip)],
        dst_color_range=ranges[bool(surface.colour.full_range)],
        dst_colorspace=SWSCALE_MATRICES[surface.colour.matrix] if is_rgb else None,
    )
    if surface.crop is not None:
        return cropped(changed, surface.crop)
    if (changed.width, changed.height) == (surface.width_px, surface.height_px):
        return changed
    return evened(changed, surface.width_px, surface.height_px)


def _is_full(clip: ClipPlan) -> bool:
    return bool(clip.footage.colour.full_range)


def _same_range(clip: ClipPlan) -> bool:
    return _is_full(clip) == bool(clip.surface.colour.full_range)


def evened(picture: VideoFrame, width_px: int, height_px: int) -> VideoFrame:
    """A copy of a picture made larger by a column or a row, which repeats the last."""
    from av import VideoFrame

    larger = VideoFrame(width_px, height_px, picture.format.name)
    for plane, source in zip(planes_of(larger), planes_of(picture), strict=True):
        rows, columns = source.shape
        plane[:rows, :columns] = source
        plane[rows:, :columns] = source[-1]
        plane[:, columns:] = plane[:, columns - 1 : columns]
    larger.pts, larger.time_base = picture.pts, picture.time_base
    return larger


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
