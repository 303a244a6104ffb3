"""The colour tags of footage, and what they are taken for where the camera left them out.

Code points are those of ITU-T H.273 (07/2021), tables 2 to 4, which FFmpeg uses as they are.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

UNSPECIFIED = 2
"""H.273: "Image characteristics are unknown or are determined by the application"."""

MATRICES: Mapping[int, str] = MappingProxyType(
    {
        0: "identity",
        1: "bt709",
        4: "fcc",
        5: "bt470bg",
        6: "smpte170m",
        7: "smpte240m",
        8: "ycgco",
        9: "bt2020nc",
        10: "bt2020c",
        14: "ictcp",
    }
)
PRIMARIES: Mapping[int, str] = MappingProxyType(
    {
        1: "bt709",
        4: "bt470m",
        5: "bt470bg",
        6: "smpte170m",
        7: "smpte240m",
        8: "film",
        9: "bt2020",
        10: "xyz",
        11: "smpte431",
        12: "smpte432",
        22: "ebu3213",
    }
)
TRANSFERS: Mapping[int, str] = MappingProxyType(
    {
        1: "bt709",
        4: "gamma22",
        5: "gamma28",
        6: "smpte170m",
        7: "smpte240m",
        8: "linear",
        11: "iec61966-2-4",
        13: "iec61966-2-1",
        14: "bt2020-10",
        15: "bt2020-12",
        16: "smpte2084",
        18: "arib-std-b67",
    }
)

HD_SHORT_SIDE_PX = 720
"""From this short side on, untagged pictures are taken for ITU-R BT.709 (common practice, no
published source); BT.709 itself is written for 1080 lines."""

LINES_625 = 576
"""Active lines of the 625-line form of ITU-R BT.601; the 525-line form has 480 or 486."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ColourTags:
    """Matrix, primaries and transfer as H.273 code points, and the range of the code values.

    `full_range` is None where the file does not say.
    """

    matrix: int = UNSPECIFIED
    primaries: int = UNSPECIFIED
    transfer: int = UNSPECIFIED
    full_range: bool | None = None

    @property
    def matrix_name(self) -> str:
        """The matrix by name (H.273, table 4)."""
        return MATRICES.get(self.matrix, "unspecified")

    @property
    def primaries_name(self) -> str:
        """The primaries by name (H.273, table 2)."""
        return PRIMARIES.get(self.primaries, "unspecified")

    @property
    def transfer_name(self) -> str:
        """The transfer by name (H.273, table 3)."""
        return TRANSFERS.get(self.transfer, "unspecified")

    @property
    def missing(self) -> tuple[str, ...]:
        """Names of the tags that the file does not give."""
        tags = (
            ("matrix", self.matrix in MATRICES),
            ("primaries", self.primaries in PRIMARIES),
            ("transfer", self.transfer in TRANSFERS),
            ("range", self.full_range is not None),
        )
        return tuple(name for name, given in tags if not given)

    def settled(self, *, width: int, height: int) -> ColourTags:
        """The same tags with the missing ones filled in.

        They follow from the matrix or the primaries where one of these is given. Otherwise
        pictures of HD size are taken for BT.709, smaller ones for BT.601 in its 625-line form
        at 576 lines and in its 525-line form elsewhere. The range is taken for limited.
        """
        missing = self.missing
        matrix, primaries, transfer = self._system() or _by_size(width, height)
        return replace(
            self,
            matrix=matrix if "matrix" in missing else self.matrix,
            primaries=primaries if "primaries" in missing else self.primaries,
            transfer=transfer if "transfer" in missing else self.transfer,
            full_range=bool(self.full_range),
        )

    def _system(self) -> tuple[int, int, int] | None:
        """The system that the given matrix belongs to, or else the given primaries."""
        for place, given in ((0, self.matrix), (1, self.primaries)):
            for system in _SYSTEMS:
                if system[place] == given:
                    return system
        return None


_SYSTEMS = ((1, 1, 1), (5, 5, 6), (6, 6, 6), (7, 7, 7), (9, 9, 14))
"""Matrix, primaries and transfer that belong together: BT.709, the two forms of BT.601, SMPTE
240M, BT.2020."""


def _by_size(width: int, height: int) -> tuple[int, int, int]:
    if min(width, height) >= HD_SHORT_SIDE_PX:
        return 1, 1, 1
    if height == LINES_625:
        return 5, 5, 6
    return 6, 6, 6
