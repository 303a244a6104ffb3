"""The clapper's sprites: its lettered face and a striped bar, twice as large as shown."""

from __future__ import annotations

import numpy as np

from demo_media.scene.arrays import Pixels

INK, CREAM = (74, 44, 20), (220, 240, 246)
WIDTH, BOARD, BAR = 250.0, 150.0, 26.0
"""Sizes in pixels of a picture 1280 wide."""


def board_face(lines: tuple[str, ...]) -> Pixels:
    """The board with its lines of text; the fourth band is its cover."""
    from font_source_sans_pro import SourceSansProSemibold
    from PIL import Image, ImageDraw, ImageFont

    size = (int(2 * WIDTH), int(2 * BOARD))
    image = Image.new("RGBA", size, (0, 0, 0, 0))
    pen = ImageDraw.Draw(image)
    pen.rounded_rectangle((2, 0, size[0] - 3, size[1] - 3), 14, fill=(*INK[::-1], 255))
    pen.rounded_rectangle(
        (14, 12, size[0] - 15, size[1] - 15), 8, outline=(*CREAM[::-1], 150), width=2
    )
    for row, line in enumerate(lines):
        font = ImageFont.truetype(SourceSansProSemibold, 54 if row == 0 else 40)
        pen.text((36, 34 + row * 78), line, font=font, fill=(*CREAM[::-1], 255))
        pen.line(
            (34, 104 + row * 78, size[0] - 120, 104 + row * 78), fill=(*CREAM[::-1], 110), width=2
        )
    return _weighted(np.asarray(image))


def striped_bar() -> Pixels:
    """A bar with slanting stripes and its hinge; the fourth band is its cover."""
    from PIL import Image, ImageDraw

    size = (int(2 * WIDTH), int(2 * BAR))
    image = Image.new("RGBA", size, (0, 0, 0, 0))
    pen = ImageDraw.Draw(image)
    pen.rounded_rectangle((2, 1, size[0] - 3, size[1] - 2), 6, fill=(*CREAM[::-1], 255))
    stripes = Image.new("RGBA", size, (0, 0, 0, 0))
    brush = ImageDraw.Draw(stripes)
    for left in range(-60, size[0], 104):
        brush.polygon(
            ((left, size[1]), (left + 52, size[1]), (left + 92, 0), (left + 40, 0)),
            fill=(*INK[::-1], 255),
        )
    image.paste(
        stripes, (0, 0), Image.composite(stripes, Image.new("RGBA", size), image).split()[3]
    )
    pen = ImageDraw.Draw(image)
    pen.ellipse((14, 14, 38, 38), fill=(150, 150, 146, 255))
    return _weighted(np.asarray(image))


def _weighted(rgba: Pixels) -> Pixels:
    """A sprite in BGR with its colours weighted by their cover."""
    cover = rgba[..., 3:].astype(np.float32) / 255
    colour = rgba[..., 2::-1].astype(np.float32) * cover
    return np.ascontiguousarray(
        np.concatenate([np.round(colour), rgba[..., 3:].astype(np.float32)], axis=2).astype(
            np.uint8
        )
    )
