"""Where recordings lie on a sequence: their ties are known, since they are made up."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path

import pytest
from film import Film, cut_by_copy, make_film
from hypothesis import given
from hypothesis import strategies as st

from overlay.exchange.grid import Grid, grid_from
from overlay.exchange.otio_file import gap
from overlay.exchange.placing import PlacedRecording, begins_utc_s, place
from overlay.exchange.sources import Source, sources_of
from sync.clock import UTC, ClockMap
from sync.media import join, probe
from sync.tie import Tie
from sync.timecode import RATES

DAY = 1_781_150_000.0
NTSC = Fraction(30000, 1001)


@pytest.fixture(scope="module")
def film(tmp_path_factory: pytest.TempPathFactory):
    """The description of some file, for sources that are made up."""
    return probe(make_film(tmp_path_factory.mktemp("film") / "bow.mp4", Film(frames=10)))


def tied(offset_s: float, rate: float = 1.0, slower: float = 1.0) -> tuple[ClockMap, Tie]:
    """From film to UTC, and the tie of the camera's clock."""
    line = ClockMap(from_clock="footage:bow", to_clock=UTC, offset_s=offset_s, rate=rate)
    film = ClockMap(from_clock="footage:bow", to_clock=UTC, offset_s=offset_s, rate=rate / slower)
    return film, Tie(map=line, sd_s=0.002, pivot_s=0.0, rate_sd=1e-5)


def made_up(film, lengths_s: list[Fraction], rate_hz: Fraction) -> list[Source]:
    """Files in a row, of so many seconds each."""
    sources, start = [], Fraction(0)
    for length in lengths_s:
        frames = round(length * rate_hz)
        stop = start + frames / rate_hz
        sources.append(
            Source(film=film, proxy=None, rate_hz=rate_hz, first=0, label=None, frames=frames,
                   start_s=start, stop_s=stop)
        )  # fmt: skip
        start = stop
    return sources


def lay(sources: list[Source], grid: Grid, offset_s: float, rate: float = 1.0,
        slower: float = 1.0) -> PlacedRecording:  # fmt: skip
    to_utc, tie = tied(offset_s, rate, slower)
    return place("bow", sources, to_utc=to_utc, tie=tie, slower=slower, grid=grid)


def grid_of(key: str) -> Grid:
    return grid_from(DAY, RATES[key], "UTC")


def test_a_recording_that_runs_true_lies_within_half_a_frame(film) -> None:
    grid = grid_of("29.97 drop")
    for part in range(20):
        offset = DAY + 5 + part * 0.00731
        placed = lay(made_up(film, [Fraction(20)], NTSC), grid, offset)
        laid = float(grid.zero_utc_s + placed.start / NTSC)
        assert abs(laid - offset) <= float(1 / NTSC) / 2 + 1e-6
        assert placed.off_start_s == pytest.approx(laid - offset, abs=1e-6)
        assert placed.off_stop_s == pytest.approx(placed.off_start_s, abs=1e-6)


def test_what_drift_there_is_is_shared_by_both_ends(film) -> None:
    """50 ppm over an hour are 180 ms: 90 ms at either end, and nothing at the middle."""
    grid = grid_of("50")
    placed = lay(made_up(film, [Fraction(3600)], Fraction(50)), grid, DAY + 5, rate=1 + 50e-6)
    assert placed.off_start_s == pytest.approx(0.090, abs=0.0101)
    assert placed.off_stop_s == pytest.approx(-0.090, abs=0.0101)
    assert placed.off_start_s - placed.off_stop_s == pytest.approx(0.180, abs=1e-4)
    assert placed.gains_ppm == pytest.approx(-50, abs=0.01)
    # What the tie itself is sure of is another matter: 10 ppm over the hour.
    assert placed.sd_start_s == pytest.approx(0.002)
    assert placed.sd_stop_s == pytest.approx(0.0360555, abs=1e-6)


def test_a_worse_place_by_a_frame_is_worse(film) -> None:
    """No other first frame has both ends nearer to where they belong."""
    grid = grid_of("25")
    placed = lay(made_up(film, [Fraction(1800)], Fraction(25)), grid, DAY + 5.013, rate=1 - 3e-5)
    worst = max(abs(placed.off_start_s), abs(placed.off_stop_s))
    for step in (-1, 1):
        ends = (placed.off_start_s + step / 25, placed.off_stop_s + step / 25)
        assert max(map(abs, ends)) > worst - 1e-6


RATES_HZ = st.sampled_from([Fraction(24), Fraction(25), NTSC, Fraction(30), 2 * NTSC])


@given(
    key=st.sampled_from(["23.976", "25", "29.97 drop", "59.94 drop"]),
    rate_hz=RATES_HZ,
    lengths=st.lists(st.fractions(1, 300, max_denominator=100), min_size=1, max_size=6),
    offset=st.floats(DAY + 2, DAY + 100),
)
def test_all_files_of_a_recording_lie_within_half_a_frame(
    film, key: str, rate_hz: Fraction, lengths: list[Fraction], offset: float
) -> None:
    grid = grid_of(key)
    placed = lay(made_up(film, lengths, rate_hz), grid, offset)
    stop = 0
    for part in placed.parts:
        assert part.start >= stop
        stop = part.stop
        belongs = grid.place_of(offset) + part.source.start_s * grid.rate.rate_hz
        assert abs(part.start - belongs) <= Fraction(1, 2) + Fraction(1, 40)
        has = part.source.frames / part.source.rate_hz * grid.rate.rate_hz
        assert 0 <= has - part.frames + Fraction(1, 50) <= 1 + Fraction(1, 50)
    holes = sum(b.start - a.stop for a, b in zip(placed.parts, placed.parts[1:], strict=False))
    told = [remark for remark in placed.remarks if "no picture" in remark]
    assert bool(told) == (holes > 0)
    if rate_hz == grid.rate.rate_hz:
        assert holes == 0


def test_slow_motion_takes_the_time_that_its_camera_lived_through(film) -> None:
    grid = grid_of("25")
    placed = lay(made_up(film, [Fraction(40)], Fraction(25)), grid, DAY + 5, slower=4.0)
    assert placed.stop - placed.start == 250
    assert abs(placed.off_start_s) <= 0.02 + 1e-6
    assert abs(placed.off_stop_s) <= 0.02 + 1e-6
    assert placed.sd_stop_s == pytest.approx((0.002**2 + (1e-5 * 10) ** 2) ** 0.5)
    assert any("4 times slower" in remark for remark in placed.remarks)


@pytest.mark.parametrize(
    ("label", "steps", "base", "rate_hz", "first"),
    [
        ("10:00:00;00", (1001,), Fraction(1, 30000), NTSC, 1_078_920),
        ("10:00:00:00", (1001,), Fraction(1, 30000), NTSC, 1_080_000),
        ("01:00:00:12", (512,), Fraction(1, 12800), Fraction(25), 90_012),
        (None, (512,), Fraction(1, 12800), Fraction(25), 0),
    ],
)
def test_a_file_begins_at_its_own_timecode(
    shoot: Callable[..., Path], label: str | None, steps, base: Fraction, rate_hz, first: int
) -> None:
    metadata = {} if label is None else {"timecode": label}
    path = shoot("bow.mov", frames=30, steps=steps, time_base=base, metadata=metadata)
    (source,) = sources_of(probe(path), Fraction(30))
    assert source.label == label
    assert (source.rate_hz, source.first, source.frames) == (rate_hz, first, 30)
    assert not source.varies


def test_a_varying_rate_is_counted_in_the_sequences_frames_and_told(
    shoot: Callable[..., Path],
) -> None:
    path = shoot(frames=60, steps=(400, 700, 500), time_base=Fraction(1, 15360))
    sources = sources_of(probe(path), Fraction(25))
    (source,) = sources
    assert source.varies
    assert source.frames == (source.stop_s - source.start_s) * 25 // 1
    placed = lay(list(sources), grid_of("25"), DAY + 5)
    assert any("varies" in remark for remark in placed.remarks)


def test_two_files_lie_in_a_row(tmp_path: Path) -> None:
    """Cut by copy, as a camera does, so that the second goes on where the first ends."""
    whole = make_film(tmp_path / "whole.mp4", Film(frames=72))
    names = [tmp_path / "bow 1.mp4", tmp_path / "bow 2.mp4"]
    cut_by_copy(whole, *names, Fraction(24, 30))
    sources = sources_of(join([probe(name) for name in names]), Fraction(30))
    placed = lay(list(sources), grid_of("30"), DAY + 5)
    assert [part.frames for part in placed.parts] == [24, 48]
    assert placed.parts[1].start == placed.parts[0].stop
    assert [part.source.film.path for part in placed.parts] == names


def test_a_gap_is_never_less_than_nothing() -> None:
    """A negative one would quietly move all that follows."""
    assert gap(0, NTSC) == []
    assert gap(3, NTSC)[0].source_range.duration.value == 3
    with pytest.raises(ValueError, match="a gap of -15 frames"):
        gap(-15, NTSC)


@pytest.mark.parametrize("rate", [0.9997, 1.0, 1.0003])
@pytest.mark.parametrize("slower", [1.0, 4.0])
def test_where_a_recording_begins_is_where_it_is_laid(film, rate: float, slower: float) -> None:
    """Over three hours 300 ppm are 1.6 s at either end: more than a second before its tie."""
    sources = made_up(film, [Fraction(3 * 3600)], NTSC)
    grid = grid_of("29.97 drop")
    to_utc, _ = tied(DAY + 60, rate, slower)
    begins = begins_utc_s(sources, to_utc=to_utc, slower=slower)
    placed = lay(sources, grid, DAY + 60, rate, slower)
    assert placed.start == grid.nearest(begins)
    drift_s = (rate - 1) / slower * 3 * 3600 / 2
    assert float(begins) - (DAY + 60) == pytest.approx(drift_s, abs=1e-4)
