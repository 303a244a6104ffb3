"""The Ottervik 600 drawn from outside: flat faces in the sun's light, the far ones first."""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np

from demo_media.scene.abeam import Abeam
from demo_media.scene.arrays import Floats, Pixels, pixels
from demo_media.scene.side_shape import (
    FLOOR_M,
    ahead_m,
    chine_m,
    keel_m,
    rake_m,
    sheer_m,
    stations,
)
from demo_media.scene.sky import SUN_AZIMUTH_DEG, SUN_HEIGHT_DEG

Colour = tuple[float, float, float]

GELCOAT: Colour = (244.0, 248.0, 250.0)
BAND: Colour = (116.0, 78.0, 34.0)
BOTTOM: Colour = (92.0, 66.0, 46.0)
TEAK: Colour = (128.0, 164.0, 190.0)
GLASS: Colour = (120.0, 98.0, 70.0)
COWL: Colour = (66.0, 60.0, 56.0)
SEAT: Colour = (150.0, 158.0, 160.0)
JACKET: Colour = (58.0, 88.0, 214.0)
OILSKIN: Colour = (60.0, 176.0, 222.0)
FACE: Colour = (140.0, 168.0, 208.0)
CAP: Colour = (96.0, 70.0, 40.0)
STEEL: Colour = (214.0, 216.0, 216.0)

COURSE_OF_SUN_DEG = 62.0 + SUN_AZIMUTH_DEG
"""Where the sun stands from north: the view over the bow has it to the right of the course."""

FINER = 3
"""How much larger the boat is drawn than shown; scaling it down smooths its edges."""

PIVOT_M = -0.9
"""The place along the boat about which it pitches."""

SETTLE_M = 0.04


@dataclass(frozen=True, slots=True, kw_only=True)
class Pose:
    """Where the boat is on the water and how it lies; angles in radians."""

    east: float
    north: float
    heading: float
    pitch: float
    roll: float
    heave: float

    def world(self, points: Floats) -> tuple[Floats, Floats, Floats]:
        """East, north and up of points of the boat [shape=(n, 3): ahead, port, up]."""
        x, y, z = points[:, 0] - PIVOT_M, points[:, 1], points[:, 2]
        ahead = PIVOT_M + x * math.cos(self.pitch) - z * math.sin(self.pitch)
        up = z * math.cos(self.pitch) + x * math.sin(self.pitch) + y * math.sin(self.roll)
        port = y * math.cos(self.roll)
        c, s = math.cos(self.heading), math.sin(self.heading)
        return (
            self.east + ahead * s - port * c,
            self.north + ahead * c + port * s,
            up + self.heave - SETTLE_M,
        )


class Side:
    """A part of the picture, drawn large, on which faces of the boat are laid."""

    def __init__(self, picture: Pixels, view: Abeam, pose: Pose) -> None:
        self.picture, self.view, self.pose = picture, view, pose
        corners = np.array(
            [(x, y, z) for x in (-3.9, 3.3) for y in (-1.3, 1.3) for z in (-0.6, 2.3)], np.float64
        )
        seen = view.seen(*pose.world(corners))[:, :2]
        low = np.floor(seen.min(axis=0)).astype(int) - 2
        high = np.ceil(seen.max(axis=0)).astype(int) + 3
        self.left, self.top = (int(v) for v in np.maximum(low, 0))
        right, bottom = np.minimum(high, (picture.shape[1], picture.shape[0]))
        self.shape = (max(int(bottom) - self.top, 0), max(int(right) - self.left, 0))
        large = (self.shape[0] * FINER, self.shape[1] * FINER)
        self.colour = np.zeros((*large, 3), np.uint8)
        self.cover = np.zeros(large, np.uint8)

    def corners(self, points: Floats) -> Floats:
        """Points of the boat on the large drawing [shape=(n, 2)]."""
        seen = self.view.seen(*self.pose.world(points))[:, :2]
        return (seen - (self.left, self.top)) * FINER

    def face(self, points: Floats, colour: Colour, *, both: bool = False) -> None:
        """Lay a flat face, its corners in the order of the clock as seen from its outer side.

        A face that turns its back is not drawn, unless `both` sides are alike.
        """
        flat = self.corners(points)
        x, y = flat[:, 0], flat[:, 1]
        if not both and float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y)) <= 0:
            return
        self.fill(flat, self.lit(points, colour, both=both))

    def fill(self, flat: Floats, colour: Colour) -> None:
        """Fill an outline of the large drawing."""
        outline = [np.round(flat * 16).astype(np.int32)]
        cv2.fillPoly(self.colour, outline, colour, cv2.LINE_8, 4)
        cv2.fillPoly(self.cover, outline, 255, cv2.LINE_8, 4)

    def line(self, points: Floats, colour: Colour, width_m: float) -> None:
        """Lay a bar along points of the boat."""
        flat = np.round(self.corners(points) * 16).astype(np.int32)
        away = float(self.view.seen(*self.pose.world(points))[:, 2].mean())
        thick = max(1, round(self.view.camera.focal_px * width_m / away * FINER))
        cv2.polylines(self.colour, [flat], False, colour, thick, cv2.LINE_8, 4)
        cv2.polylines(self.cover, [flat], False, 255, thick, cv2.LINE_8, 4)

    def lit(self, points: Floats, colour: Colour, *, both: bool = False) -> Colour:
        """A face's colour under the sun and the sky; of `both` sides the upper one is lit."""
        first, second, third = np.stack(self.pose.world(points[:3]), axis=1)
        normal = _across(second - first, third - first)
        return _shaded(colour, -normal if both and normal[2] < 0 else normal)

    def lay(self) -> None:
        """Put what was drawn onto the picture."""
        if min(self.shape) == 0:
            return
        size = (self.shape[1], self.shape[0])
        cover = cv2.resize(self.cover, size, interpolation=cv2.INTER_AREA).astype(np.float32) / 255
        weighted = cv2.resize(self.colour, size, interpolation=cv2.INTER_AREA)
        part = self.picture[
            self.top : self.top + self.shape[0], self.left : self.left + self.shape[1]
        ]
        seen = part * (1 - cover[..., None]) + weighted
        part[:] = np.clip(seen, 0, 255).astype(np.uint8)


def draw_boat(picture: Pixels, view: Abeam, pose: Pose) -> None:
    """Draw the boat, seen from its port side, onto a picture of water and sky."""
    side = Side(picture, view, pose)
    if min(side.shape) == 0:
        return
    _inside(side)
    _crew(side)
    _hull(side)
    _outboard(side)
    _rail(side)
    _mirrored(side)
    side.lay()


def _mirrored(side: Side) -> None:
    """Darken the water below the hull, which mirrors its side."""
    share = stations()
    half, up = sheer_m(share)
    sheer = np.stack([ahead_m(share), half, up], axis=1)
    low_half, low_up = chine_m(share)
    low = _to_water(side.pose, sheer, np.stack([sheer[:, 0], low_half, low_up - 0.5], axis=1))
    wet = side.pose.world(low)[2] < 0.02
    if wet.sum() < 2:
        return
    line, edge = side.corners(low[wet]), side.corners(sheer[wet])
    line[:, 1] -= 2 * FINER
    depth = 0.5 * np.maximum(line[:, 1] - edge[:, 1], 0)
    below = np.concatenate([line, (line + np.stack([0 * depth, depth], axis=1))[::-1]])
    shade = np.zeros(side.picture.shape[:2], np.uint8)
    flat = below / FINER + (side.left, side.top)
    cv2.fillPoly(shade, [np.round(flat * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
    top, bottom = max(int(flat[:, 1].min()) - 12, 0), max(int(flat[:, 1].max()) + 14, 0)
    part = side.picture[top:bottom]
    if part.size == 0:
        return
    soft = cv2.GaussianBlur(shade[top:bottom], (0, 0), sigmaX=7.0, sigmaY=4.0)
    light = [pixels(255 - cv2.convertScaleAbs(soft, alpha=alpha)) for alpha in (0.20, 0.25, 0.28)]
    cv2.multiply(part, cv2.merge(light), dst=part, scale=1 / 255)


def _edge(port: float, inset_m: float = 0.0, drop_m: float = 0.0) -> Floats:
    """The hull's upper edge on one side [shape=(n, 3)]; `port` is 1 or -1."""
    share = stations()
    half, up = sheer_m(share)
    return np.stack([ahead_m(share), port * np.maximum(half - inset_m, 0.0), up - drop_m], axis=1)


def _inside(side: Side) -> None:
    """What is seen over the near edge: the far bulwark, floor and foredeck."""
    far = _edge(-1.0, 0.10)
    floor = far.copy()
    floor[:, 2] = FLOOR_M
    cockpit = far[:, 0] < 0.9
    side.face(np.concatenate([far[cockpit], floor[cockpit][::-1]]), GELCOAT, both=True)
    cap = np.concatenate([_edge(-1.0), _edge(-1.0, 0.10)[::-1]])
    side.face(cap, GELCOAT, both=True)
    near = _edge(1.0, 0.08, 0.05)
    fore, other = near[near[:, 0] > 0.8], _edge(-1.0, 0.08, 0.05)
    other = other[other[:, 0] > 0.8]
    side.face(np.concatenate([fore, other[::-1]]), TEAK, both=True)


def _box(
    side: Side,
    ahead: tuple[float, float],
    port: tuple[float, float],
    up: tuple[float, float],
    colour: Colour,
    rake: float = 0.0,
) -> None:
    """A box; `rake` is how much further aft its upper face lies."""
    (a0, a1), (p0, p1), (z0, z1) = ahead, port, up
    low = [(a0, p1, z0), (a1, p1, z0), (a1, p0, z0), (a0, p0, z0)]
    high = [(a - rake, p, z1) for a, p, _ in low]
    for i, k in ((0, 1), (1, 2), (2, 3), (3, 0)):
        side.face(np.array([high[i], low[i], low[k], high[k]]), colour)
    side.face(np.array(high), colour)


def _crew(side: Side) -> None:
    """Seat, console with its screen, the helmsman behind it and the second hand beside him."""
    _box(side, (-1.75, -1.25), (-0.62, 0.62), (FLOOR_M, 0.86), SEAT)
    for port, colour, lean in ((-0.36, OILSKIN, 0.05), (0.16, JACKET, 0.0)):
        _box(side, (-1.00, -0.74), (port - 0.24, port + 0.24), (0.62, 1.46), colour, -lean)
        _head(side, np.array([[-0.86 + lean, port, 1.64]]))
        shoulder = np.array([(-0.86 + lean, port + 0.22, 1.34), (-0.52, port + 0.2, 1.12),
                             (-0.30, port + 0.12, 1.20)])  # fmt: skip
        blue, green, red = colour
        side.line(shoulder, (0.82 * blue, 0.82 * green, 0.82 * red), 0.12)
    _box(side, (-0.30, 0.42), (-0.50, 0.50), (FLOOR_M, 1.14), GELCOAT, 0.10)
    screen = np.array([(0.30, 0.50, 1.12), (0.30, -0.50, 1.12), (0.0, -0.44, 1.56),
                       (0.0, 0.44, 1.56)])  # fmt: skip
    side.face(screen, GLASS, both=True)
    wing = np.array([(0.30, 0.50, 1.12), (0.0, 0.44, 1.56), (-0.34, 0.50, 1.30),
                     (-0.34, 0.52, 1.12)])  # fmt: skip
    side.face(wing, GLASS, both=True)
    side.line(np.array([(0.30, 0.50, 1.12), (0.0, 0.44, 1.56), (-0.34, 0.50, 1.30)]), STEEL, 0.03)


def _head(side: Side, centre: Floats) -> None:
    """A head with its cap."""
    flat = side.corners(centre)[0]
    away = float(side.view.seen(*side.pose.world(centre))[0, 2])
    radius = side.view.camera.focal_px * 0.125 / away * FINER
    turn = np.linspace(0, 2 * np.pi, 40)
    circle = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    side.fill(flat + circle * (0.88 * radius, 1.1 * radius), FACE)
    dome = circle[circle[:, 1] < -0.1]
    side.fill(flat + dome * (1.02 * radius, 1.22 * radius), CAP)


def _outboard(side: Side) -> None:
    """The engine on the transom: its bracket, its leg as far as it is dry, and its cowl."""
    foot = float(side.pose.world(np.array([[-3.27, 0.0, 0.0]]))[2][0])
    dry = min(-foot, 0.4)
    _box(side, (-3.14, -2.98), (-0.15, 0.15), (max(dry, 0.10), 0.66), (98.0, 94.0, 90.0))
    _box(side, (-3.42, -3.12), (-0.11, 0.11), (dry, 0.62), (112.0, 108.0, 104.0), 0.04)
    _box(side, (-3.68, -3.02), (-0.23, 0.23), (0.55, 1.06), COWL, 0.08)
    _box(side, (-3.66, -3.14), (-0.20, 0.20), (1.06, 1.22), (84.0, 78.0, 74.0), -0.04)
    stripe = np.array([(-3.60, 0.24, 0.86), (-3.12, 0.24, 0.86)])
    side.line(stripe, (216.0, 222.0, 224.0), 0.045)


def _hull(side: Side) -> None:
    """The near side: its bottom as far as it is out of the water, its side, its edge."""
    share = stations()
    half, up = sheer_m(share)
    low_half, low_up = chine_m(share)
    low_up = np.minimum(low_up, up - 0.02)
    keel_up = np.minimum(keel_m(share), low_up)
    sheer = np.stack([ahead_m(share), half, up], axis=1)
    chine = np.stack([ahead_m(share) - rake_m(share, up - low_up), low_half, low_up], axis=1)
    keel = np.stack([ahead_m(share) - rake_m(share, up - keel_up), 0 * share, keel_up], axis=1)
    wet_side = _to_water(side.pose, sheer, chine)
    wet_bottom = _to_water(side.pose, chine, keel)
    dry = side.pose.world(chine)[2] > 0
    wet_bottom[~dry] = wet_side[~dry]
    _strip(side, wet_side, wet_bottom, BOTTOM)
    _strip(side, sheer, wet_side, GELCOAT)
    band = sheer + (chine - sheer) * 0.30
    lower = sheer + (chine - sheer) * 0.50
    _strip(side, _to_water(side.pose, sheer, band), _to_water(side.pose, sheer, lower), BAND)
    transom = np.array([sheer[0], wet_side[0], wet_bottom[0], wet_bottom[0] * (1, -1, 1),
                        wet_side[0] * (1, -1, 1), sheer[0] * (1, -1, 1)])  # fmt: skip
    side.face(transom[::-1], GELCOAT)
    side.line(sheer, (70.0, 66.0, 62.0), 0.05)
    cap = np.concatenate([sheer, _edge(1.0, 0.12)[::-1]])
    side.face(cap, (252.0, 254.0, 255.0), both=True)


def _to_water(pose: Pose, upper: Floats, lower: Floats) -> Floats:
    """Lower points of sections, drawn up along the section to the water where they are in it."""
    high, low = pose.world(upper)[2], pose.world(lower)[2]
    share = np.clip(high / np.maximum(high - low, 1e-6), 0, 1)
    return np.asarray(upper + (lower - upper) * share[:, None])


def _strip(side: Side, upper: Floats, lower: Floats, colour: Colour) -> None:
    """A strip of the hull from the transom to the stem, a face from section to section."""
    high, low = side.corners(upper), side.corners(lower)
    top = np.stack(side.pose.world(upper), axis=1)
    bottom = np.stack(side.pose.world(lower), axis=1)
    deep = np.abs(upper - lower).max(axis=1) > 1e-3
    for i in range(len(upper) - 1):
        if not deep[i : i + 2].any():
            continue
        k = i if deep[i] else i + 1
        normal = _across(bottom[k] - top[k], top[i + 1] - top[i])
        side.fill(np.array([high[i], high[i + 1], low[i + 1], low[i]]), _shaded(colour, normal))


def _across(one: Floats, other: Floats) -> Floats:
    """A vector of length 1 that points out of a face whose edges follow the clock."""
    (a, b, c), (d, e, f) = one.tolist(), other.tolist()
    normal = np.array([c * e - b * f, a * f - c * d, b * d - a * e])
    length = math.sqrt(float(normal @ normal))
    return normal / length if length > 1e-9 else normal


def _shaded(colour: Colour, normal: Floats) -> Colour:
    """A colour under the sun and the sky, on a face that looks that way."""
    azimuth, height = math.radians(COURSE_OF_SUN_DEG), math.radians(SUN_HEIGHT_DEG)
    east, north, up = normal.tolist()
    sun = (east * math.sin(azimuth) + north * math.cos(azimuth)) * math.cos(height)
    light = 0.60 + 0.16 * up + 0.52 * max(sun + up * math.sin(height), 0.0)
    blue, green, red = (min(value * light, 255.0) for value in colour)
    return (min(blue * (1.06 - 0.06 * light), 255.0), green, red)


def _rail(side: Side) -> None:
    """The rail round the bow, its stanchions first."""
    for port in (-1.0, 1.0):
        edge = _edge(port, 0.07)
        edge = edge[edge[:, 0] > 0.5]
        rise = 0.40 * np.clip((edge[:, 0] - 0.5) / 0.35, 0, 1) ** 0.7
        top = edge + np.stack([0 * rise, 0 * rise, rise], axis=1)
        for ahead in (1.15, 1.85, 2.5):
            i = int(np.abs(edge[:, 0] - ahead).argmin())
            side.line(np.stack([edge[i], top[i]]), (150.0, 150.0, 148.0), 0.03)
        side.line(top, STEEL, 0.035)
