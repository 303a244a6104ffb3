"""What every document of the project has in common: JSON has no word for "not a number"."""

from __future__ import annotations

import math
from typing import Any


def without_nan(value: Any) -> Any:
    """The same lists and tables, with None where a float is not finite."""
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, dict):
        return {key: without_nan(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [without_nan(item) for item in value]
    return value
