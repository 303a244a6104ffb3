"""Frozen values that go through JSON: jobs, their reports, states of runs.

They are read by other processes and later runs, and what is there may be half a document, another
version's, or somebody else's. So each is held against its own types as it is read.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import TYPE_CHECKING, Any, TypeVar, cast

if TYPE_CHECKING:
    from pydantic import TypeAdapter

Value = TypeVar("Value")


def kept_value(kind: type[Value], document: Any, schema: str | None = None) -> Value:
    """A value of a frozen dataclass from its document.

    Parameters
    ----------
    schema
        What its key `schema` must say; None for a part of a document.

    Raises
    ------
    ValueError
        Where the document is none, of another version, or not as the dataclass has it.
    """
    from pydantic import ValidationError

    if not isinstance(document, Mapping):
        message = f"this is no {kind.__name__}"
        raise ValueError(message)  # noqa: TRY004 - what a file holds, not what somebody passed
    if schema is not None and document.get("schema") != schema:
        message = f"this is a document of version {document.get('schema')!r}, not {schema!r}"
        raise ValueError(message)
    try:
        value: Value = _adapter(cast("Any", kind)).validate_python(document)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        place = ".".join(str(step) for step in first["loc"])
        message = f"{place}: {first['msg']}"
        raise ValueError(message) from error
    return value


@cache
def _adapter(kind: Any) -> TypeAdapter[Any]:
    from pydantic import TypeAdapter

    return TypeAdapter(kind)
