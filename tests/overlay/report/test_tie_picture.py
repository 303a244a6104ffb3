"""The picture of a tie shows the sound, and where the tie would have engine and clap."""

import io

import numpy as np
import pytest
from PIL import Image

from overlay.graphics.theme import load_theme
from overlay.report.tie_panels import Expected
from overlay.report.tie_picture import tie_picture
from sync.clues import Curves
from sync.media import Sound

RATE = 16000
COLOURS = load_theme("chart").colours


def rising_note(seconds: float = 40.0) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Sound of a note that rises from 60 Hz to 160 Hz in its middle, and its frequency."""
    t = np.arange(round(seconds * RATE)) / RATE
    hz = 60 + 100 / (1 + np.exp(-(t - seconds / 2) * 2))
    return np.sin(2 * np.pi * np.cumsum(hz) / RATE).astype(np.float32), t, hz


def drawn(
    off_s: float = 0.0, claps_s: tuple[float, ...] = (), *, engine: bool = True
) -> np.ndarray:
    sound, t, hz = rising_note()
    shown = np.interp(t[::320] + off_s, t, hz) if engine else np.full(t[::320].size, np.nan)
    png = tie_picture(
        title="bow",
        sound=Sound(samples=sound, rate_hz=RATE, start_s=0.0, gaps=0, silence_s=0.0),
        expected=Expected(t_s=t[::320], firing_hz=shown, claps_s=claps_s),
        colours=COLOURS,
    )
    return np.asarray(Image.open(io.BytesIO(png)).convert("RGB"), dtype=np.int16)


def magenta(image: np.ndarray) -> np.ndarray:
    """Pixels of the lines that stand for what the tie expects."""
    return np.abs(image - np.array(COLOURS.magenta)).sum(axis=2) < 30


def dark_under_the_line(off_s: float) -> float:
    """How dark the sound is just beside the line where it rises in the close panel."""
    image = drawn(off_s)
    middle = image.shape[1] // 2
    close = image[image.shape[0] // 2 :, middle - 150 : middle + 150]
    rows, columns = np.nonzero(magenta(close))
    beside = close[np.clip(rows - 4, 0, None), columns].sum(axis=1)
    return float(765 - beside.mean())


def test_where_the_tie_is_right_the_line_lies_on_the_ridge() -> None:
    assert dark_under_the_line(0.0) > 1.3 * dark_under_the_line(2.0)


@pytest.mark.parametrize(
    ("engine", "claps_s", "panels"),
    [(True, (), 2), (True, (7.5,), 3), (False, (7.5,), 2), (False, (), 1), (True, (39.99,), 2)],
)
def test_there_is_a_panel_for_what_can_be_shown(
    engine: bool, claps_s: tuple[float, ...], panels: int
) -> None:
    """Whole film, close up where the engine speed changes, and the clap where there is one
    that is not cut off by the film's end."""
    height = drawn(claps_s=claps_s, engine=engine).shape[0]
    assert height == pytest.approx((2.6 * panels + 0.5) * 110, abs=1)


def test_the_same_sound_and_tie_give_the_same_picture() -> None:
    assert np.array_equal(drawn(), drawn())


def turned(off_s: float) -> Curves:
    t = np.arange(0.0, 20.0, 0.05)
    return Curves(t_s=t, seen=np.sin(t), logged=np.sin(t - off_s), way="down", explained=0.9)


def test_film_without_sound_shows_how_it_turned() -> None:
    nothing = Expected(t_s=np.empty(0), firing_hz=np.empty(0), claps_s=())
    images = [
        np.asarray(
            Image.open(
                io.BytesIO(
                    tie_picture(
                        title="bow", sound=None, expected=nothing, turned=turned(off_s),
                        colours=COLOURS,
                    )
                )
            ).convert("RGB"),
            dtype=np.int16,
        )
        for off_s in (0.0, 1.0)
    ]  # fmt: skip
    dark = [np.abs(image - np.array(COLOURS.ink)).sum(axis=2) < 30 for image in images]
    assert dark[1].sum() > 1.3 * dark[0].sum(), "the logged curve lies on the seen one"


def test_a_picture_of_nothing_is_not_drawn() -> None:
    nothing = Expected(t_s=np.empty(0), firing_hz=np.empty(0), claps_s=())
    with pytest.raises(ValueError, match="sound or turning"):
        tie_picture(title="bow", sound=None, expected=nothing, colours=COLOURS)
