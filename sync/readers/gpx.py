"""GPX 1.0 and 1.1: tracks as XML.

Knowledge from the two schemas of the format (topografix.com/GPX/1/0 and 1/1): times are in
UTC, speed is in metres a second and has an element in 1.0, where 1.1 leaves it to extensions;
those that name an element `speed` are read, and `course` or `cog` likewise. gpxpy takes the
file apart. A speed is held against the positions first, since an extension may have it in any
unit. Where there is none it is differenced from the positions along geodesics, and marked so:
a receiver measures speed far better than that. Way points with a time are tie marks.

A file that broke off is read up to its last whole point. Not covered: routes, which have no
times, and extensions for anything but speed and course.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from sync.arrays import Floats
from sync.channel import GAP_PERIODS, LEAST_GAP_S, Channel
from sync.errors import EmptyLogError, LogFormatError
from sync.log import Log, Mark, RawColumn
from sync.readers.base import LogSettings, bounded, plural, read_bytes
from sync.readers.order import Order, increasing

if TYPE_CHECKING:
    from gpxpy.gpx import GPX, GPXTrackPoint, GPXWaypoint
    from numpy.typing import NDArray

KEY = "gpx"

LIKE_ENOUGH = 1.2
"""A speed whose ratio to the distance run is nearer to one than this is in metres a second:
the next unit, the yard a second, is nobody's, and the knot is off by 1.9."""

MOVING_MS = 1.0
"""Below this the scatter of positions would pass for speed."""

LEAST_MOVING = 5

_ROOT = re.compile(r"\s*(?:<\?xml[^>]*\?>)?(?:\s|<!--.*?-->)*<gpx[\s>]", re.DOTALL)
_DECLARED = re.compile(rb"\s*<\?xml[^>]*?encoding=[\"']([A-Za-z0-9._-]+)[\"']")
_DECLARATION = re.compile(r"^\s*<\?xml[^>]*\?>")


def claims(head: bytes) -> bool:
    """Whether the outermost element is that of GPX."""
    return _ROOT.match(_text(head, None)) is not None


def _text(data: bytes, path: Path | None) -> str:
    declared = _DECLARED.match(data.removeprefix(b"\xef\xbb\xbf"))
    name = declared.group(1).decode() if declared else "utf-8"
    try:
        return data.decode(name, errors="replace").removeprefix("\ufeff")
    except (LookupError, UnicodeError) as error:
        if path is None:
            return data.decode("utf-8", errors="replace").removeprefix("\ufeff")
        raise LogFormatError(f"{name!r} is no encoding that can be read", path=path) from error


@dataclass(slots=True)
class Points:
    """The points of all tracks as columns; `part` numbers the segments that they stand in."""

    t_s: list[float] = field(default_factory=list)
    part: list[int] = field(default_factory=list)
    latitude: list[float] = field(default_factory=list)
    longitude: list[float] = field(default_factory=list)
    altitude: list[float] = field(default_factory=list)
    speed: list[float] = field(default_factory=list)
    course: list[float] = field(default_factory=list)

    def column(self, name: str) -> Floats:
        """One of them as an array."""
        return np.array(getattr(self, name), dtype=np.float64)


def read(path: Path, name: str, settings: LogSettings) -> Log:
    """Read a GPX track.

    Raises
    ------
    EmptyLogError
        Where no point of a track has a time.
    LogFormatError
        Where the XML breaks its rules before the first whole point, or time runs wild.
    """
    counts: Counter[str] = Counter()
    warnings: list[str] = []
    text = _text(read_bytes(path), path)
    document = _parsed(text, path, counts, warnings)
    points = _points(document)
    if not any(np.isfinite(points.speed)) and "<speed" in text:
        points = _points(_parsed(text, path, Counter(), [], version="1.0"))
    counts["points"] = len(points.t_s)
    points.t_s = settings.to_utc(points.column("t_s")).tolist()
    t = points.column("t_s")
    counts["untimed"] = int(np.sum(~np.isfinite(t)))
    if counts["untimed"]:
        warnings.append(f"{plural(counts['untimed'], 'point')} without a time left out")
    clock = settings.clock_name(name)
    marks = _marks(document, clock, settings, path)
    if counts["untimed"] == t.size and not marks:
        raise EmptyLogError(
            "the file has no point with a time" if t.size else "the file has no track with points",
            path=path,
            advice="export the track as it was recorded, with its times",
        )
    order = _ordered(t, path, counts, warnings)
    channels = _channels(points, order, clock, counts, warnings)
    return Log(
        name=name,
        path=path,
        format=KEY,
        clock=clock,
        channels=channels,
        marks=marks,
        columns=tuple(
            RawColumn(name=key, unit=None, channel=key if key in channels else None)
            for key in ("latitude", "longitude", "altitude", "speed", "course")
        ),
        counts={key: count for key, count in counts.items() if count or key == "points"},
        warnings=tuple(warnings),
    )


def _parsed(
    text: str, path: Path, counts: Counter[str], warnings: list[str], version: str | None = None
) -> GPX:
    """The document, mended where it breaks off.

    Raises
    ------
    LogFormatError
        Where it cannot be taken apart even so, or names entities of its own, which can grow
        without bounds.
    """
    import gpxpy  # late: a tenth of a second
    from gpxpy.gpx import GPXException

    if re.search(r"<!(?:DOCTYPE|ENTITY)", text):
        raise LogFormatError("the file declares a document type, which GPX has none of", path=path)
    plain = _DECLARATION.sub("", text)
    faults = (GPXException, ValueError, TypeError, OverflowError, AttributeError)
    try:
        return gpxpy.parse(plain, version=version)
    except faults as error:
        last = plain.rfind("</trkpt>")
        if last < 0:
            raise LogFormatError(f"the XML is broken ({_said(error)})", path=path) from error
    mended = plain[: last + len("</trkpt>")] + "</trkseg></trk></gpx>"
    try:
        document = gpxpy.parse(mended, version=version)
    except faults as error:
        raise LogFormatError(f"the XML is broken ({_said(error)})", path=path) from error
    if plain[last:].split() != ["</trkpt>"]:
        counts["cut"] += 1
    warnings.append("the file breaks off: it was read up to its last whole point")
    return document


def _said(error: BaseException) -> str:
    """What a parser said, on one line."""
    return " ".join(str(error).split())[:120]


def _points(document: GPX) -> Points:
    found = Points()
    part = 0
    for track in document.tracks:
        for segment in track.segments:
            part += 1
            for point in segment.points:
                found.part.append(part)
                found.t_s.append(_seconds(point))
                found.latitude.append(point.latitude)
                found.longitude.append(point.longitude)
                found.altitude.append(_number(point.elevation))
                extra = dict(_extensions(point))
                found.speed.append(_number(point.speed, extra.get("speed")))
                turned = _number(point.course, extra.get("course"), extra.get("cog"))
                found.course.append(np.deg2rad(turned))
    return found


def _seconds(point: GPXTrackPoint | GPXWaypoint) -> float:
    """Seconds since 1970; a time without an offset is in UTC, as the schema has it."""
    import datetime as dt

    if point.time is None:
        return float("nan")
    when = point.time
    return (when if when.tzinfo else when.replace(tzinfo=dt.UTC)).timestamp()


def _extensions(point: GPXTrackPoint) -> Iterator[tuple[str, str]]:
    """Local names and texts of all elements in a point's extensions."""
    for top in point.extensions:
        for element in top.iter():
            if isinstance(element.tag, str) and element.text:
                yield element.tag.rpartition("}")[2].casefold(), element.text


def _number(*texts: float | str | None) -> float:
    """The first of several that is a number, else NaN."""
    for text in texts:
        if text is None:
            continue
        try:
            return float(text)
        except ValueError:
            continue
    return float("nan")


def _ordered(t: Floats, path: Path, counts: Counter[str], warnings: list[str]) -> Order:
    try:
        order = increasing(t)
    except LogFormatError as error:
        raise LogFormatError(error.what, path=path, advice=error.advice) from error
    counts["repeated_times"], counts["stray_times"] = order.repeated, order.stray
    counts["overlapping"], counts["breaks"] = order.overlapping, order.breaks
    if order.repeated or order.stray or order.overlapping:
        out = order.repeated + order.stray + order.overlapping
        warnings.append(f"{plural(out, 'point')} out of the order of time left out")
    return order


def _channels(
    points: Points, order: Order, clock: str, counts: Counter[str], warnings: list[str]
) -> dict[str, Channel]:
    take = order.take
    t = points.column("t_s")[take]
    if not t.size:
        return {}
    latitude, longitude = points.column("latitude")[take], points.column("longitude")[take]
    run = _run(t, latitude, longitude, np.array(points.part)[take])
    found: dict[str, Channel] = {}

    def add(name: str, at: Floats, values: Floats, means: str = "measured") -> None:
        good, spikes = bounded(values, name)
        if spikes:
            counts[f"spikes:{name}"] += spikes
            warnings.append(f"{plural(spikes, 'value')} of {name} cannot be: left out as no value")
        if np.isfinite(good).any():
            found[name] = Channel(
                name=name, t_s=at, values=good, clock=clock, source=f"track {name}", means=means
            )

    add("latitude", t, latitude)
    add("longitude", t, longitude)
    add("altitude", t, points.column("altitude")[take])
    speed = points.column("speed")[take]
    ratio = _ratio(t, speed, run)
    if np.isfinite(speed).any() and (ratio is None or 1 / LIKE_ENOUGH < ratio < LIKE_ENOUGH):
        add("speed", t, speed, "doppler")
        add("course", t, points.column("course")[take], "doppler")
    elif ratio is not None:
        counts["not_taken:speed"] = int(np.sum(np.isfinite(speed)))
        warnings.append(
            f"the speed in the file is {ratio:.2f} times that from the positions, so it is not in "
            "metres a second, and was not taken"
        )
    if "speed" not in found and run.t_s.size:
        add("speed", run.t_s, run.speed, "differenced")
        add("course", run.t_s, run.course, "differenced")
        warnings.append(
            "speed is differenced from positions, which is too rough for a headline figure"
        )
    return found


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Run:
    """Mean speed and course between neighbouring points, at the middle of their times."""

    t_s: Floats
    speed: Floats
    course: Floats


def _run(t: Floats, latitude: Floats, longitude: Floats, part: NDArray[np.int64]) -> Run:
    """What the positions say of speed: geodesics on WGS 84; none across a hole or a seam."""
    from pyproj import Geod  # late: a tenth of a second

    middle = (t[:-1] + t[1:]) / 2
    if not middle.size:
        return Run(t_s=middle, speed=middle, course=middle)
    sound = np.isfinite(latitude) & np.isfinite(longitude) & (np.abs(latitude) <= 90)
    sound &= np.abs(longitude) <= 180
    lat, lon = np.where(sound, latitude, 0.0), np.where(sound, longitude, 0.0)
    azimuth, _, distance = Geod(ellps="WGS84").inv(lon[:-1], lat[:-1], lon[1:], lat[1:])
    step = np.diff(t)
    limit = max(GAP_PERIODS * float(np.median(step)), LEAST_GAP_S)
    good = sound[:-1] & sound[1:] & (part[:-1] == part[1:]) & (step <= limit)
    speed = np.where(good, np.asarray(distance) / step, np.nan)
    turned = np.where(good & (speed >= MOVING_MS), np.deg2rad(np.asarray(azimuth)), np.nan)
    return Run(t_s=middle, speed=speed, course=turned)


def _ratio(t: Floats, speed: Floats, run: Run) -> float | None:
    """Median ratio of a stated speed to that from the positions; None where nothing moves."""
    stated = (speed[:-1] + speed[1:]) / 2
    with np.errstate(invalid="ignore", divide="ignore"):
        moving = (run.speed >= MOVING_MS) & np.isfinite(stated)
        ratios = stated[moving] / run.speed[moving]
    return float(np.median(ratios)) if ratios.size >= LEAST_MOVING and t.size > 1 else None


def _marks(document: GPX, clock: str, settings: LogSettings, path: Path) -> tuple[Mark, ...]:
    """Way points that know their time: somebody pressed a button there."""
    found = []
    for place, point in enumerate(document.waypoints, 1):
        t = float(settings.to_utc(np.array([_seconds(point)]))[0])
        if np.isfinite(t):
            found.append(
                Mark(
                    label=" ".join((point.name or "way point").split()).casefold(),
                    clock=clock,
                    t_s=t,
                    sd_s=1.0 / np.sqrt(12.0) if t == int(t) else 0.05,
                    source=f"{path.name}, way point {place}",
                )
            )
    return tuple(sorted(found, key=lambda mark: mark.t_s))
