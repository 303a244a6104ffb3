"""The process that takes a measurement data file apart with asammdf; see `mdf`.

Run as ``python -m sync.readers.mdf_child FILE PLACE``; leaves the signals in PLACE, as arrays
of times and values and a description in JSON. What goes wrong ends it, with the reason on
standard error.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import numpy as np

MOST_MEMORY = 8 * 2**30
"""Address space in bytes: a damaged length can ask for any amount."""


def main(source: Path, place: Path) -> None:
    """Read one file, and write what is in it."""
    _limit()
    from asammdf import MDF  # late: a second, and an extra

    about: dict[str, Any] = {"signals": [], "others": 0, "start_s": None}
    arrays: dict[str, np.ndarray[Any, Any]] = {}
    with MDF(source) as file:
        start = file.header.start_time
        about["start_s"] = start.timestamp() if start.year > 1971 else None
        groups: Any = file.groups
        for number, group in enumerate(groups):
            master = file.masters_db.get(number)
            for index, channel in enumerate(group.channels):
                if index == master:
                    continue
                signal: Any = file.get(group=number, index=index)
                if signal.samples.ndim != 1 or signal.samples.dtype.kind not in "iufb":
                    about["others"] += 1
                    continue
                values = np.array(signal.samples, dtype=np.float64)
                if signal.invalidation_bits is not None:
                    values[np.asarray(signal.invalidation_bits, dtype=bool)] = np.nan
                arrays[f"t{len(about['signals'])}"] = np.array(signal.timestamps, np.float64)
                arrays[f"v{len(about['signals'])}"] = values
                about["signals"].append([channel.name, signal.unit or ""])
    # savez takes any arrays by name; its stub has `allow_pickle` among them
    np.savez(place, about=np.array(json.dumps(about)), **arrays)  # type: ignore[arg-type]


def _limit() -> None:
    try:
        import resource
    except ImportError:  # not on this system: the parent's limit of time remains
        return
    resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
