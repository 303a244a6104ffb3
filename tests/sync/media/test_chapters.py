"""Files of one recording are known for it, and neighbours that are none are not."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
import sounds
from film import Film, Track, cut_by_copy, cut_film, make_film

from sync.errors import FootageError
from sync.media import Footage, frame_times, join, on_proxy, pictures, probe, with_proxies
from sync.media.chapters import counted_on, evidence, grouped, looks_cut, suspected_slow
from sync.media.continuity import goes_on
from sync.media.shots import shots_of

STAMP = datetime(2026, 6, 11, 9, 14, tzinfo=UTC)
WHOLE = Film(
    frames=120, sound=(Track(seed=3),), options={"preset": "veryfast", "g": "30", "bf": "2"}
)


@pytest.mark.parametrize(
    ("one", "other", "on"),
    [
        ("bow 0007.mp4", "bow 0008.mp4", True),
        ("bow-9.mp4", "bow-10.mp4", True),
        ("010203.mov", "020203.mov", False),
        ("a01b07.mp4", "a02b07.mp4", True),
        ("a01b07.mp4", "a02b08.mp4", False),
        ("bow 09.mp4", "bow 010.mp4", False),
        ("bow 0007.mp4", "stern 0008.mp4", False),
        ("bow 0007.mp4", "bow 0009.mp4", False),
        ("bow 0008.mp4", "bow 0007.mp4", False),
        ("bow.mp4", "bow.mp4", False),
    ],
)
def test_names_go_up_by_one_in_one_number(one: str, other: str, on: bool) -> None:
    assert counted_on(one, other) is on


def stamped(film: Footage, after_s: float) -> Footage:
    return replace(film, created=STAMP + timedelta(seconds=after_s))


def two_files(tmp_path: Path, how: str, film: Film = WHOLE) -> list[Footage]:
    """Four seconds in two files of two, or two recordings with a second left out between."""
    paths = [tmp_path / f"bow 000{n}.mp4" for n in (1, 2)]
    if how == "copied":
        cut_by_copy(make_film(tmp_path / "whole.mp4", film), *paths, Fraction(2))
    else:
        for path, part in zip(paths, cut_film(film, 60), strict=True):
            late = tuple(replace(t, from_s=t.from_s + 1) for t in part.sound)
            later = how == "apart" and path is paths[1]
            make_film(path, replace(part, sound=late) if later else part)
    return [probe(path) for path in paths]


@pytest.mark.parametrize("after_s", [0, 2, 3])
def test_a_cut_by_an_encoder_that_runs_on_is_one_recording(after_s: int, tmp_path: Path) -> None:
    """Whatever a stamp is of: the recording's beginning, the file's, or a second late."""
    one, other = two_files(tmp_path, "copied")
    films = [stamped(one, 0), stamped(other, after_s)]
    assert evidence(*films).sound is True
    assert [len(group) for group in grouped(films)] == [2]
    (remark,) = looks_cut(films)
    assert remark.startswith("bow 0001.mp4 and bow 0002.mp4 look like one recording")


def test_stamps_that_leave_a_hole_part_two_files(tmp_path: Path) -> None:
    one, other = two_files(tmp_path, "copied")
    films = [stamped(one, 0), stamped(other, 60)]
    assert [len(group) for group in grouped(films)] == [1, 1]
    assert looks_cut(films) == ()


def test_other_names_or_another_make_part_two_files(tmp_path: Path) -> None:
    one, other = two_files(tmp_path, "copied")
    renamed = replace(other, path=other.path.with_name("stern 0002.mp4"))
    assert len(grouped([one, renamed])) == 2
    assert len(grouped([one, replace(other, width=640)])) == 2


def test_silent_files_go_by_their_stamps(tmp_path: Path) -> None:
    one, other = two_files(tmp_path, "encoded", replace(WHOLE, sound=()))
    assert len(grouped([stamped(one, 0), stamped(other, 2)])) == 1
    assert len(grouped([stamped(one, 0), stamped(other, 9)])) == 2
    assert len(grouped([one, other])) == 2


def cases(count: int) -> tuple[list[bool | None], list[bool | None]]:
    """Cuts of an engine's note with up to as much wind, and stretches that are 0.05 to 0.7 s
    apart, of engines firing 20 to 200 times a second while their speed changes by up to 7 %."""
    rng = np.random.default_rng(20260611)
    rate, size = 8000, 12800
    true, false = [], []
    for _ in range(count):
        hz, wind = rng.uniform(20, 200), rng.uniform(0, 0.5)
        note = sounds.engine(np.linspace(hz, hz * rng.uniform(0.93, 1.07), 32000), 4, rng, rate)
        sound = 0.1 * sounds.unit(wind * sounds.wind(4, rng, rate=rate) + (1 - wind) * note)
        skip = size + int(rng.uniform(0.05, 0.7) * rate)
        true.append(goes_on(sound[:size], sound[size : 2 * size], rate))
        false.append(goes_on(sound[:size], sound[skip : skip + size], rate))
    return true, false


def test_an_engines_note_tells_a_cut_from_a_stop() -> None:
    """Own goal: wrong in one of twenty at most, and an answer in a third or more."""
    true, false = cases(40)
    print("goes on:", {a: true.count(a) for a in (True, False, None)})
    print("does not:", {a: false.count(a) for a in (True, False, None)})
    assert true.count(False) <= 2
    assert false.count(True) <= 2
    assert true.count(True) >= 13
    assert false.count(False) >= 13


def test_wind_alone_tells_nothing() -> None:
    rng = np.random.default_rng(5)
    for _ in range(10):
        wind = 0.1 * sounds.wind(4, rng, rate=8000)
        assert goes_on(wind[:12800], wind[12800:25600], 8000) is None


def test_a_film_in_a_smaller_picture_is_its_proxy(tmp_path: Path) -> None:
    big = probe(make_film(tmp_path / "bow 0001.mp4", WHOLE))
    small = probe(make_film(tmp_path / "bow 0001 s.mov", replace(WHOLE, width=160, height=90)))
    other = probe(make_film(tmp_path / "stern.mp4", replace(WHOLE, width=160, height=90)))
    shots = shots_of([big, small, other])
    assert [(s.films, s.proxies) for s in shots] == [((big,), (small,)), ((other,), ())]


def test_pictures_come_from_the_proxy_where_it_is_large_enough(tmp_path: Path) -> None:
    """The twin's frames bear other numbers here, so that it shows which film was decoded."""
    big = probe(make_film(tmp_path / "a.mp4", WHOLE))
    twin = replace(WHOLE, width=240, height=134, first_number=1000, frames=119)
    footage = with_proxies(big, [probe(make_film(tmp_path / "a-s.mp4", twin))])
    from film import number_in

    assert number_in(pictures(footage, [7], 134)[0][..., 1]) == 1007
    assert number_in(pictures(footage, [7], 180)[0][..., 1]) == 7
    np.testing.assert_array_equal(
        frame_times(on_proxy(footage)).seconds(), frame_times(big).seconds()[:119]
    )


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        ({"frames": 118}, "it has 118 frames, and the original 120"),
        ({"width": 320, "height": 180}, "not smaller"),
        ({"width": 120, "height": 90}, "another shape"),
        ({"steps": (520,)}, "it lasts"),
    ],
)
def test_a_film_that_is_no_twin_is_refused(
    facts: dict[str, object], words: str, tmp_path: Path
) -> None:
    big = probe(make_film(tmp_path / "a.mp4", WHOLE))
    film = replace(replace(WHOLE, width=160, height=90), **facts)
    with pytest.raises(FootageError, match=words) as caught:
        with_proxies(big, [probe(make_film(tmp_path / "b.mp4", film))])
    assert str(caught.value).startswith(f"{tmp_path / 'b.mp4'}: is no twin of a.mp4")


def test_a_joined_recording_takes_a_proxy_for_each_file(tmp_path: Path) -> None:
    parts = two_files(tmp_path, "copied")
    joined = join(parts)
    small = [
        probe(make_film(tmp_path / f"small {n}.mp4", replace(film, width=160, height=90)))
        for n, film in enumerate(cut_film(WHOLE, 60))
    ]
    footage = with_proxies(joined, small)
    np.testing.assert_array_equal(
        frame_times(on_proxy(footage)).seconds(), frame_times(joined).seconds()
    )
    with pytest.raises(FootageError, match="has 2 files and 1 proxies"):
        with_proxies(joined, small[:1])


def test_slow_motion_is_suspected_by_stamps_and_by_missing_sound(tmp_path: Path) -> None:
    one, other = two_files(tmp_path, "encoded")
    slow = replace(one, duration_s=60.0, sound=())
    remarks = suspected_slow([stamped(slow, 0), stamped(other, 20)])
    assert len(remarks) == 2
    assert "has no sound, and others of the same camera have" in remarks[0]
    assert "at least 3.0 times slower than life" in remarks[1]
    assert suspected_slow([stamped(one, 0), stamped(other, 20)]) == ()
