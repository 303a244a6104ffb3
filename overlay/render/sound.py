"""How a clip comes by its sound: copied where it runs through, else encoded anew."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from overlay.render.sound_copy import SoundCopy
from overlay.render.sound_encode import SoundEncode
from sync.media import Footage

if TYPE_CHECKING:
    from av.container import OutputContainer


class SoundTracks(Protocol):
    """The sound of a clip, which follows its picture."""

    warnings: list[str]

    def copy_until(self, t_footage_s: Fraction | None) -> None:
        """Mux what begins up to an instant of the footage clock; None for the rest."""
        ...


def sound_tracks(
    footage: Footage,
    out: OutputContainer,
    *,
    output: Path,
    origin_s: Fraction,
    start_s: Fraction | None,
    stop_s: Fraction | None,
) -> SoundTracks | None:
    """The tracks of a clip's sound; None where the footage has none.

    Packets are copied as the camera wrote them, across the files of a recording too if its
    encoder ran on. Where each file has an encoder's run-up and padding of its own, packets
    cannot follow on each other, and the sound is decoded and encoded anew.
    """
    if not footage.sound:
        return None
    whole = all(part.runs_on for part in footage.parts[1:])
    kind = SoundCopy if whole else SoundEncode
    return kind(footage, out, output=output, origin_s=origin_s, start_s=start_s, stop_s=stop_s)
