"""A transparent render laid over footage by another library is the direct render."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import av
import cv2
import numpy as np
import pytest
from film import texture
from numpy.typing import NDArray
from PIL import Image

from overlay.errors import RenderError
from overlay.graphics.faceplate import load_faceplate
from overlay.graphics.picture import Picture
from overlay.graphics.plan import Plan, compile_plan
from overlay.graphics.specimen import subjects
from overlay.render.forms import ALPHAS, FORMS, Alpha, LogTimes, Transparent
from overlay.render.transparent import draw_transparent, drawn_frame
from overlay.render.transparent_files import picture_name

SIZE = (640, 360)
FRAMES = 12
START = Fraction(subjects.T0) + 4


def job(form: str, alpha: Alpha = "straight", rate: Fraction = Fraction(25)) -> Transparent:
    times = LogTimes(start_utc_s=START, rate_hz=rate, frames=FRAMES, timecode="14:03:05:12")
    return Transparent(form=FORMS[form], size_px=SIZE, alpha=alpha, times=times)


def plan_for(picture: Picture) -> Plan:
    return compile_plan(load_faceplate("launch"), picture=picture, subject=subjects.launch())


def made(folder: Path, wanted: Transparent, record: Callable[..., None] | None = None) -> Path:
    output = folder / f"launch{wanted.form.ending}"
    if not wanted.form.ending:
        output.mkdir()
    draw_transparent(plan_for(wanted.picture), output, wanted, record=record, tags={})
    return output


def rgba_of(path: Path) -> list[NDArray[np.float64]]:
    """Frames as R'G'B' and coverage from 0 to 1, converted by OpenCV and by hand from BT.709:
    nothing of the product's own."""
    if path.is_dir():
        return [np.asarray(Image.open(p), np.float64) / 255 for p in sorted(path.glob("*.png"))]
    with av.open(str(path)) as clip:
        stream = clip.streams.video[0]
        context = stream.codec_context
        if path.suffix == ".webm":  # FFmpeg's own VP9 decoder drops the alpha
            context = av.CodecContext.create("libvpx-vp9", "r")
        frames = [f for packet in clip.demux(stream) for f in context.decode(packet)]
    return [converted(frame) for frame in frames]


def converted(frame: av.VideoFrame) -> NDArray[np.float64]:
    """ITU-R BT.709-6, items 3.2 to 3.5, limited range."""
    bits = frame.format.components[0].bits
    kind = np.uint8 if bits == 8 else np.uint16
    planes = [
        np.frombuffer(memoryview(p), kind).reshape(p.height, -1)[:, : p.width].astype(np.float64)
        for p in frame.planes
    ]
    unit = 2 ** (bits - 8)
    size = (frame.width, frame.height)
    y = (planes[0] / unit - 16) / 219
    cb, cr = (
        cv2.resize(p / unit - 128, size, interpolation=cv2.INTER_NEAREST) / 224 for p in planes[1:3]
    )
    red, blue = y + 1.5748 * cr, y + 1.8556 * cb
    green = (y - 0.2126 * red - 0.0722 * blue) / 0.7152
    alpha = planes[3] / (2**bits - 1)
    return np.stack([red, green, blue, alpha], axis=-1)


def laid(over: NDArray[np.float64], alpha: Alpha, ground: NDArray[np.float64]) -> Any:
    """Porter and Duff's "over", in either form of colour."""
    colour, cover = over[..., :3], over[..., 3:]
    return (colour * cover if alpha == "straight" else colour) + ground * (1 - cover)


def ground_of(name: str) -> NDArray[np.uint8]:
    """What lies below, in R', G' and B': a colour, or a picture of a test's film in each."""
    if name == "film":
        return np.stack([texture(n, *SIZE) for n in (3, 40, 90)], axis=-1)
    colour = {"white": (255, 255, 255), "black": (0, 0, 0), "water": (40, 110, 150)}[name]
    return np.broadcast_to(np.array(colour, np.uint8), (*SIZE[::-1], 3))


def direct(t_utc_s: float, name: str) -> tuple[Any, Any]:
    """The same instruments drawn onto a ground by the product, in R', G' and B' of full size."""
    ground = ground_of(name)
    picture = Picture(width_px=SIZE[0], height_px=SIZE[1], matrix="rgb", chroma=(1, 1),
                      full_range=True)  # fmt: skip
    planes = tuple(ground[..., place].copy() for place in range(3))
    plan_for(picture).draw(planes, t_utc_s)
    return picture.rgb(planes) / 255, ground / 255


@pytest.mark.parametrize(
    ("form", "alpha"), [(form.name, alpha) for form in FORMS.values() for alpha in form.alphas]
)
@pytest.mark.parametrize("ground", ["white", "black", "water", "film"])
def test_laid_over_a_ground_it_is_the_direct_render(
    form: str, alpha: Alpha, ground: str, tmp_path: Path
) -> None:
    wanted = job(form, alpha)
    shown = rgba_of(made(tmp_path, wanted))
    assert len(shown) == FRAMES
    # PNG loses nothing but a rounding. The others ring about edges, premultiplied colour beyond
    # what is covered too, and VP9 halves the chroma, so that coloured edges differ.
    mean, most, beyond = {"png": (0.3, 2.0, 0.0), "prores": (0.8, 8.0, 5.0),
                          "vp9": (3.5, 60.0, 40.0)}[form]  # fmt: skip
    for number in (0, FRAMES - 1):
        expected, bare = direct(wanted.times.instant_s(number), ground)
        wrong = 255 * np.abs(laid(shown[number], alpha, bare) - expected)
        there = shown[number][..., 3] > 0
        assert there.mean() > 0.05
        assert wrong[there].mean() < mean
        assert np.percentile(wrong[there], 99.5) < most
        assert wrong[~there].max() <= (0 if alpha == "straight" else beyond) + 1e-9
        assert wrong[~there].mean() < 0.05


@pytest.mark.parametrize("form", ["prores", "vp9"])
def test_taking_one_for_the_other_would_show(form: str, tmp_path: Path) -> None:
    """So the name of the alpha matters: premultiplied colour taken as straight is too dark."""
    shown = rgba_of(made(tmp_path, job(form, "premultiplied")))[0]
    expected, bare = direct(job(form).times.instant_s(0), "white")
    there = (shown[..., 3] > 0.05) & (shown[..., 3] < 0.95)
    wrong = 255 * np.abs(laid(shown, "straight", bare) - expected)[there]
    right = 255 * np.abs(laid(shown, "premultiplied", bare) - expected)[there]
    assert wrong.mean() > 2 * right.mean()


@pytest.mark.parametrize("form", FORMS)
def test_where_nothing_is_drawn_nothing_is_covered(form: str, tmp_path: Path) -> None:
    wanted = job(form)
    plan = plan_for(wanted.picture)
    frame, shown = drawn_frame(plan, wanted, subjects.T0 - 1e6)
    assert shown == ()
    pixels = frame.to_ndarray() if form == "png" else None
    alpha = pixels[..., 3] if pixels is not None else np.frombuffer(frame.planes[3], np.uint8)
    assert not alpha.any()


def test_pictures_cannot_be_premultiplied() -> None:
    """W3C, Portable Network Graphics: alpha is not premultiplied."""
    with pytest.raises(RenderError, match="png pictures are straight, not premultiplied"):
        job("png", "premultiplied")
    assert ALPHAS[0] in FORMS["png"].alphas


@pytest.mark.parametrize("size", [(641, 360), (640, 100), (9000, 360)])
def test_sizes_that_cannot_be_are_refused(size: tuple[int, int]) -> None:
    with pytest.raises(RenderError, match="cannot be"):
        FORMS["prores"].picture(*size)


@pytest.mark.parametrize("rate", [Fraction(30000, 1001), Fraction(25), Fraction(60000, 1001)])
@pytest.mark.parametrize("form", ["prores", "vp9"])
def test_frames_and_timecode_are_those_of_the_edit(
    form: str, rate: Fraction, tmp_path: Path
) -> None:
    """In .mov exactly; .webm counts in milliseconds."""
    rows: list[tuple[Any, ...]] = []
    path = made(tmp_path, job(form, rate=rate), lambda *row: rows.append(row))
    with av.open(str(path)) as clip:
        stream = clip.streams.video[0]
        stamps = sorted(p.pts * p.time_base for p in clip.demux(stream) if p.size)
        labels = {**clip.metadata, **stream.metadata}
    exact = [n / rate for n in range(FRAMES)]
    slack = 0 if form == "prores" else Fraction(1, 1000)
    assert all(abs(a - b) <= slack for a, b in zip(stamps, exact, strict=True))
    assert "14:03:05:12" in (labels.get("timecode"), labels.get("TIMECODE"))
    assert [row[3] for row in rows] == [float(START + n / rate) for n in range(FRAMES)]
    assert rows[-1][4]


def test_pictures_are_numbered_and_say_what_they_are(tmp_path: Path) -> None:
    folder = made(tmp_path, job("png"))
    names = sorted(path.name for path in folder.iterdir())
    assert names == [picture_name("launch", n) for n in range(FRAMES)]
    assert Image.open(folder / names[3]).text["Frame"] == "3 of 12, from 14:03:05:12"
