"""The clap: a crew member holds a clapper into the picture and brings its bars together."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from demo_media.scene.arrays import Floats, Pixels, pixels
from demo_media.scene.board import BAR, BOARD, WIDTH, board_face, striped_bar
from demo_media.scene.camera import Camera

if TYPE_CHECKING:
    from numpy.typing import NDArray

GLOVE, GLOVE_LIT = (62, 56, 52), (92, 86, 80)
SLEEVE, SLEEVE_DARK = (58, 88, 214), (44, 66, 168)

FROM_S, UNTIL_S = -3.0, 2.3
"""Around the clap, the stretch in which anything of it can be in the picture."""

_OPEN_DEG = 24.0

_LEFT, _TOP, _BOTTOM = 840, 90, 700
"""The part of such a picture in which all of it happens."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Clapper:
    """The board's face and one striped bar, drawn twice as large as shown."""

    camera: Camera
    face: Pixels
    bar: Pixels

    def draw(self, picture: Pixels, since_clap_s: float) -> None:
        """Draw onto a finished picture; the bars meet at 0 s."""
        if not FROM_S < since_clap_s < UNTIL_S:
            return
        scale = self.camera.width_px / 1280
        left = round(_LEFT * scale)
        top, bottom = round(_TOP * scale), round(_BOTTOM * scale)
        hand = _Pose(scale=scale, since_s=since_clap_s, left=left, top=top)
        part = np.ascontiguousarray(picture[top:bottom, left:])
        _shadow(part, hand)
        _sleeve(part, hand, (WIDTH - 22, BOARD - 12), (WIDTH + 330, BOARD + 190))
        _lay(part, self.face, hand.affine(0.0, 0.0, 0.0))
        _lay(part, self.bar, hand.affine(0.0, -BAR, 0.0))
        _lay(part, self.bar, hand.affine(0.0, -2 * BAR, hand.open_deg))
        _fist(part, hand, (WIDTH - 16, BOARD - 30), 0.0)
        lift = math.radians(hand.open_deg)
        grip = (WIDTH * 0.93 * math.cos(lift), -1.55 * BAR - WIDTH * 0.93 * math.sin(lift))
        _sleeve(part, hand, (grip[0] + 10, grip[1] + 4), (grip[0] + 330, grip[1] + 30))
        _fist(part, hand, grip, -hand.open_deg)
        picture[top:bottom, left:] = part


@dataclass(frozen=True, slots=True, kw_only=True)
class _Pose:
    """Where the board is held at a time: its upper left corner is the origin."""

    scale: float
    since_s: float
    left: int
    top: int

    @property
    def open_deg(self) -> float:
        """Angle of the upper bar: held open, lifted a little, thrown shut, a short rebound."""
        t = self.since_s
        if t < -0.42:
            return _OPEN_DEG
        if t < -0.14:
            return _OPEN_DEG + 5.0 * math.sin((t + 0.42) / 0.28 * math.pi / 2) ** 2
        if t < 0:
            return (_OPEN_DEG + 5.0) * (1 - ((t + 0.14) / 0.14) ** 2)
        return 1.6 * math.exp(-t / 0.05) * abs(math.sin(t * 55))

    @property
    def origin(self) -> tuple[float, float]:
        t = self.since_s
        inn = _ease((t - FROM_S) / 0.9) * (1 - _ease((t - 1.35) / 0.9))
        knock = 3.0 * math.exp(-max(t, 0) / 0.09) * math.sin(max(t, 0) * 40)
        x = 880 + 560 * (1 - inn) + 2.5 * math.sin(t * 2.1)
        y = 322 + 150 * (1 - inn) + 2.0 * math.sin(t * 1.7 + 1) + knock
        return x, y

    @property
    def lean_deg(self) -> float:
        return -3.0 + 0.6 * math.sin(self.since_s * 1.3)

    def point(self, x: float, y: float) -> tuple[float, float]:
        lean = math.radians(self.lean_deg)
        left, top = self.origin
        return (
            (left + x * math.cos(lean) - y * math.sin(lean)) * self.scale - self.left,
            (top + x * math.sin(lean) + y * math.cos(lean)) * self.scale - self.top,
        )

    def corners(self, x: float, y: float, width: float, height: float) -> NDArray[np.int32]:
        box = ((x, y), (x + width, y), (x + width, y + height), (x, y + height))
        return _fine([self.point(*corner) for corner in box])

    def affine(self, x: float, y: float, open_deg: float) -> Floats:
        """Map from a sprite, twice as large, hinged at its lower left when it opens."""
        turn = math.radians(self.lean_deg - open_deg)
        hinge = self.point(x, y + BAR) if open_deg else self.point(x, y)
        half = self.scale / 2
        c, s = half * math.cos(turn), half * math.sin(turn)
        up = 2 * BAR if open_deg else 0.0
        return np.array([[c, -s, hinge[0] + s * up], [s, c, hinge[1] - c * up]], dtype=np.float64)


def _ease(share: float) -> float:
    x = min(max(share, 0.0), 1.0)
    return x * x * (3 - 2 * x)


def _fine(points: list[tuple[float, float]]) -> NDArray[np.int32]:
    return np.round(np.array(points) * 16).astype(np.int32)


def _lay(picture: Pixels, sprite: Pixels, move: Floats) -> None:
    """Lay a sprite with cover in its fourth band onto a picture."""
    size = (picture.shape[1], picture.shape[0])
    seen = cv2.warpAffine(sprite, move, size, flags=cv2.INTER_AREA | cv2.INTER_LINEAR)
    left, top, width, height = cv2.boundingRect(seen[..., 3])
    if width == 0 or height == 0:
        return
    box = (slice(top, top + height), slice(left, left + width))
    cover = seen[box][..., 3:].astype(np.float32) / 255
    picture[box] = np.clip(picture[box] * (1 - cover) + seen[box][..., :3], 0, 255).astype(np.uint8)


def _shadow(picture: Pixels, hand: _Pose) -> None:
    """A soft shade around the board, which lifts it off the deck and the water."""
    shade = np.zeros(picture.shape[:2], np.uint8)
    cv2.fillPoly(shade, [hand.corners(-7, 10, WIDTH, BOARD)], 255, cv2.LINE_AA, 4)
    soft = cv2.GaussianBlur(shade, (0, 0), 9 * hand.scale)
    light = pixels(255 - cv2.convertScaleAbs(soft, alpha=0.38))
    cv2.multiply(picture, cv2.merge([light] * 3), dst=picture, scale=1 / 255)


def _sleeve(
    picture: Pixels, hand: _Pose, wrist: tuple[float, float], elbow: tuple[float, float]
) -> None:
    """A forearm from the wrist to beyond the picture's edge."""
    along = np.array(elbow) - np.array(wrist)
    normal = np.array([-along[1], along[0]]) / np.hypot(*along)
    for colour, low, high in ((SLEEVE_DARK, -1.0, 1.0), (SLEEVE, -1.0, 0.35)):
        quad = [
            hand.point(*(np.array(wrist) + normal * 21 * low)),
            hand.point(*(np.array(elbow) + normal * 46 * low)),
            hand.point(*(np.array(elbow) + normal * 46 * high)),
            hand.point(*(np.array(wrist) + normal * 21 * high)),
        ]
        cv2.fillPoly(picture, [_fine(quad)], colour, cv2.LINE_AA, 4)


def _fist(picture: Pixels, hand: _Pose, grip: tuple[float, float], lean_deg: float) -> None:
    """A gloved hand: a palm, and four fingers over the edge."""
    lean = math.radians(lean_deg)

    def at(x: float, y: float) -> tuple[float, float]:
        return hand.point(
            grip[0] + x * math.cos(lean) - y * math.sin(lean),
            grip[1] + x * math.sin(lean) + y * math.cos(lean),
        )

    _blob(picture, at(20, 0), (30, 33), hand.scale, GLOVE)
    for finger in range(4):
        y = -25 + finger * 16.5
        for colour, wide, lift in ((GLOVE, 15.0, 0.0), (GLOVE_LIT, 8.0, -2.5)):
            start, end = _fine([at(-20 + 2 * abs(finger - 1), y + lift), at(16, y + lift)])
            thick = max(1, round(wide * hand.scale))
            cv2.line(picture, start.tolist(), end.tolist(), colour, thick, cv2.LINE_AA, 4)


def _blob(
    picture: Pixels,
    centre: tuple[float, float],
    radii: tuple[float, float],
    scale: float,
    colour: tuple[int, int, int],
) -> None:
    turn = np.linspace(0, 2 * np.pi, 60)
    points = [
        (centre[0] + radii[0] * scale * math.cos(a), centre[1] + radii[1] * scale * math.sin(a))
        for a in turn.tolist()
    ]
    cv2.fillPoly(picture, [_fine(points)], colour, cv2.LINE_AA, 4)


def make_clapper(camera: Camera, lines: tuple[str, ...]) -> Clapper:
    """Letter the board and stripe the bars."""
    return Clapper(camera=camera, face=board_face(lines), bar=striped_bar())
