"""Cuts and fades of films, and what is none."""

from __future__ import annotations

import cv2
import numpy as np
from at_sea import Gray, Sea

from overlay.audit.edit.shots import pieces
from overlay.audit.edit.transitions import is_transition


def small(seed: int, frames: range, speed: float = 1.0) -> list[Gray]:
    sea = Sea(seed)
    return [
        np.asarray(
            cv2.resize(sea.picture(speed * n), (160, 90), interpolation=cv2.INTER_AREA), np.uint8
        )
        for n in frames
    ]


def mixed(a: list[Gray], b: list[Gray]) -> list[Gray]:
    return [
        cv2.addWeighted(one, 1 - (n + 1) / (len(a) + 1), other, (n + 1) / (len(a) + 1), 0)
        for n, (one, other) in enumerate(zip(a, b, strict=True))
    ]


def test_hard_cuts_are_found_on_the_frame() -> None:
    film = [*small(1, range(40)), *small(2, range(30)), *small(1, range(200, 236))]
    assert pieces(np.stack(film)) == (range(40), range(40, 70), range(70, 106))


def test_one_shot_is_one_piece() -> None:
    for speed in (0.0, 0.5, 1.0, 2.5):
        assert pieces(np.stack(small(3, range(90), speed))) == (range(90),)


def test_a_slow_pan_is_no_fade() -> None:
    wide = cv2.GaussianBlur(np.random.default_rng(2).normal(0, 1, (90, 500)), (0, 0), 12)
    wide = (126 + 80 * wide / np.abs(wide).max()).astype(np.uint8)
    film = np.stack([wide[:, 2 * n : 2 * n + 160] for n in range(120)])
    assert pieces(film) == (range(120),)


def test_a_fade_is_left_out() -> None:
    """Where scenes move no faster than they fade; for others the ends of what is placed say so."""
    a, b = small(1, range(80), 0.2), small(2, range(80), 0.2)
    film = np.stack([*a[:50], *mixed(a[50:70], b[50:70]), *b[70:]])
    first, *_, last = pieces(film)
    assert first.start == 0
    assert abs(first.stop - 50) <= 3
    assert abs(last.start - 70) <= 3


def test_a_mixture_is_a_transition_and_a_shot_between_is_none() -> None:
    a, b = small(1, range(60), 0.3), small(2, range(60), 0.3)
    fade = np.stack([*a[:20], *mixed(a[20:32], b[20:32]), *b[32:]])
    assert is_transition(fade, range(20, 32))
    shot = np.stack([*a[:20], *small(6, range(12)), *b[32:]])
    assert not is_transition(shot, range(20, 32))
    cut = np.stack([*a[:32], *b[32:]])
    assert not is_transition(cut, range(20, 32))
    assert not is_transition(cut, range(12))
