"""GPX tracks: schemas at topografix.com/GPX/1/0 and 1/1, and gpxpy's own test files."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import outside
import pytest

from sync.clock import UTC
from sync.errors import EmptyLogError, LogFormatError
from sync.log import Log
from sync.readers import detect, read_log

START_S = 1781168400.0
"""2026-06-11T09:00:00Z."""

STEP_DEG = 10.0 / 111412.0
"""Ten metres of latitude at 60°: a degree is 111,412 m there (WGS 84, by the meridian's series)."""


def track(*extra: str, version: str = "1.1", more: str = "", metres: float = 10.0) -> str:
    """A point a second, due north at so many metres a second; `extra` stands inside each point."""
    points = "".join(
        f'<trkpt lat="{60 + i * STEP_DEG * metres / 10:.9f}" lon="23.5">'
        f"<time>2026-06-11T09:00:{i:02}Z</time>{''.join(extra)}</trkpt>\n"
        for i in range(20)
    )
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>\n<gpx version="{version}" creator="a test" '
        'xmlns="http://www.topografix.com/GPX/1/1" xmlns:x="urn:a-test">\n'
        f"{more}<trk><trkseg>\n{points}</trkseg></trk></gpx>\n"
    )


def read(folder: Path, text: str) -> Log:
    path = folder / "track.xml"
    path.write_text(text)
    return read_log(path)


def extension(speed: float) -> str:
    return f"<extensions><x:point><x:speed>{speed}</x:speed></x:point></extensions>"


def test_a_track_is_on_utc(tmp_path: Path) -> None:
    log = read(tmp_path, track())
    assert (log.clock, log.format) == (UTC, "gpx")
    assert log.channels["latitude"].t_s[0] == START_S
    assert log.channels["latitude"].values.size == 20


def test_a_speed_of_version_1_0_is_in_metres_a_second(tmp_path: Path) -> None:
    log = read(tmp_path, track("<course>1.5</course><speed>10.2</speed>", version="1.0"))
    speed = log.channels["speed"]
    np.testing.assert_allclose(speed.values, 10.2)
    assert speed.means == "doppler"
    np.testing.assert_allclose(log.channels["course"].values, np.deg2rad(1.5))


@pytest.mark.parametrize("where", [extension(10.2), "<speed>10.2</speed>"])
def test_a_speed_of_version_1_1_is_found_in_extensions_and_out_of_place(
    where: str, tmp_path: Path
) -> None:
    speed = read(tmp_path, track(where)).channels["speed"]
    np.testing.assert_allclose(speed.values, 10.2)
    assert speed.means == "doppler"


def test_a_speed_in_another_unit_is_known_by_the_positions(tmp_path: Path) -> None:
    """10 m/s are 36 km/h and 19.4 kn: the ratio is named, and neither is taken."""
    for written, ratio in ((36.0, "3.60"), (19.44, "1.94")):
        log = read(tmp_path, track(extension(written)))
        assert log.channels["speed"].means == "differenced"
        assert any(f"{ratio} times" in warning for warning in log.warnings)
        assert log.counts["not_taken:speed"] == 20


def test_without_a_speed_it_is_differenced_along_geodesics_and_marked_so(tmp_path: Path) -> None:
    log = read(tmp_path, track())
    speed = log.channels["speed"]
    np.testing.assert_allclose(speed.values, 10.0, atol=0.002)
    np.testing.assert_allclose(speed.t_s, START_S + 0.5 + np.arange(19))
    assert speed.means == log.channels["course"].means == "differenced"
    assert any("headline" in warning for warning in log.warnings)
    north = log.channels["course"].values
    np.testing.assert_allclose(np.minimum(north, 2 * np.pi - north), 0.0, atol=1e-6)


def test_nothing_is_differenced_across_a_seam_or_a_hole(tmp_path: Path) -> None:
    text = track()
    middle = text.index('<trkpt lat="60.0009')
    seam = text[:middle] + "</trkseg><trkseg>" + text[middle:]
    speed = read(tmp_path, seam).channels["speed"]
    assert np.sum(np.isnan(speed.values)) == 1
    lines = text.splitlines(keepends=True)
    hole = read(tmp_path, "".join([*lines[:8], *lines[13:]])).channels["speed"]
    assert np.sum(np.isnan(hole.values)) == 1


def test_a_file_that_breaks_off_is_read_to_its_last_whole_point(tmp_path: Path) -> None:
    text = track(extension(10.0))
    for end in range(text.index("</trkpt>") + 8, len(text), 37):
        log = read(tmp_path, text[:end])
        assert log.channels["latitude"].values.size == text[:end].count("</trkpt>")


def test_way_points_with_a_time_are_tie_marks(tmp_path: Path) -> None:
    point = '<wpt lat="60" lon="23.5"><time>2026-06-11T09:00:07.25Z</time><name>Clap 1</name></wpt>'
    (mark,) = read(tmp_path, track(more=point)).marks
    assert mark.label == "clap 1"
    assert mark.t_s == pytest.approx(START_S + 7.25)
    assert mark.clock == UTC


def test_points_without_times_are_told(tmp_path: Path) -> None:
    text = track().replace("<time>2026-06-11T09:00:03Z</time>", "")
    log = read(tmp_path, text)
    assert log.counts["untimed"] == 1
    assert "1 point without a time left out" in log.warnings
    import re

    with pytest.raises(EmptyLogError, match="no point with a time"):
        read(tmp_path, re.sub(r"<time>.*?</time>", "", track()))


def test_entities_that_grow_are_refused(tmp_path: Path) -> None:
    bomb = '<!DOCTYPE gpx [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;">]>'
    text = track().replace("<gpx", f"{bomb}<gpx", 1)
    path = tmp_path / "bomb"
    path.write_text(text)
    with pytest.raises(LogFormatError):
        read_log(path)


def test_broken_xml_is_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(LogFormatError, match="XML is broken") as caught:
        read(tmp_path, '<gpx version="1.1"><trk><trkseg><trkpt lat="a">')
    assert "\n" not in str(caught.value)


def test_another_encoding_is_read_as_it_says(tmp_path: Path) -> None:
    point = '<wpt lat="60" lon="23.5"><time>2026-06-11T09:00:07Z</time><name>Mätä</name></wpt>'
    path = tmp_path / "track"
    path.write_bytes(track(more=point).replace("UTF-8", "ISO-8859-1").encode("latin-1"))
    assert read_log(path).marks[0].label == "mätä"


def test_other_xml_is_told_from_gpx(tmp_path: Path) -> None:
    path = tmp_path / "page"
    path.write_text('<?xml version="1.0"?><kml><Document/></kml>')
    with pytest.raises(LogFormatError, match="an XML file, which is not read"):
        read_log(path)


SUITE = {
    "track_with_speed.gpx": "e02179a6a273c77f4d19af3299334b394adcfe2981276d8cdb9069c1de607c71",
    "korita-zbevnica.gpx": "14125bf02a5144dd65c2f7c230fdcd92ed8418242376a4284697f5d1965cb84d",
    "unicode_with_bom.gpx": "c3abfd432512a98aba54341a6908af613ac45e7214031941ae2a223d7de6ec78",
}


@pytest.mark.outside
@pytest.mark.parametrize("name", SUITE)
def test_files_of_gpxpy_s_own_suite_are_read_point_by_point(name: str) -> None:
    """PyPI gpxpy 1.6.2, source archive, test_files; counted in the text, read by the eye.

    `track_with_speed` holds 1.2, 2.2 and 3.2 m/s.
    """
    path = outside.pypi("gpxpy", "1.6.2", f"test_files/{name}", SUITE[name], kind="sdist")
    assert detect(path).key == "gpx"
    log = read_log(path)
    text = path.read_text("utf-8-sig")
    assert log.counts["points"] == text.count("<trkpt")
    if name == "track_with_speed.gpx":
        np.testing.assert_allclose(log.channels["speed"].values, [1.2, 2.2, 3.2])
        assert log.channels["speed"].means == "doppler"
