"""When pictures are decoded, worked out from when they are shown.

An encoder counts its time stamps of decoding from its own beginning, so that those of pieces do not
go together; and x265 has none for a clip of one or two pictures.
"""

from __future__ import annotations

from collections.abc import Sequence


def decode_times(order: Sequence[int], step: int) -> list[int]:
    """Time stamps of decoding for pictures in that order, from those of showing.

    Parameters
    ----------
    order
        Time stamps of showing, in the order of decoding; each once.
    step
        How long a picture stands where there is only one.

    Returns
    -------
    list
        Rising, and none after its own picture's time stamp::

            dts(i) = pts'(i - d)        pts' the time stamps sorted, i the place in `order`
            dts(i) = pts'(0) - (d - i) (pts'(1) - pts'(0))      for i < d

        where d is the most places by which a picture is decoded before its turn to be shown.
    """
    shown = sorted(order)
    place = {pts: number for number, pts in enumerate(shown)}
    late = max(number - place[pts] for number, pts in enumerate(order))
    first_step = shown[1] - shown[0] if len(shown) > 1 else step
    before = [shown[0] - ahead * first_step for ahead in range(late, 0, -1)]
    return [*before, *shown[: len(shown) - late]]
