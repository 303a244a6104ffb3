"""The branches of the error tree that grow from the `overlay` package.

::

    OverlayError
    ├── SheetError        the trial sheet says something that cannot be used
    ├── FaceplateError    a faceplate says something that cannot be drawn
    ├── AnalysisError     a result that was asked for cannot be had from these logs
    ├── RenderError       a clip that cannot be made
    │   ├── WishError         what is asked of a render is nothing that can be had
    │   └── OutputError       a place that cannot be written to, or must not be
    ├── AuditError        what is to be audited, or to be held against it, cannot be used
    └── DisagreementError    the work was done, and what it found does not agree
"""

from __future__ import annotations

from sync.errors import TrialReelError


class OverlayError(TrialReelError):
    """Something about sheets, results, graphics or clips."""


class SheetError(OverlayError, ValueError):
    """The trial sheet says something that cannot be used."""


class FaceplateError(OverlayError, ValueError):
    """A faceplate says something that cannot be drawn."""


class AnalysisError(OverlayError, ValueError):
    """A result that was asked for cannot be had from these logs."""


class RenderError(OverlayError):
    """A clip that cannot be made."""


class WishError(RenderError, ValueError):
    """What is asked of a render is nothing that can be had."""


class OutputError(RenderError, OSError):
    """A place that cannot be written to, or must not be."""


class AuditError(OverlayError, ValueError):
    """What is to be audited, or to be held against it, cannot be used."""


class ClusterError(OverlayError, OSError):
    """A cluster cannot be reached, or was lost."""


class DisagreementError(OverlayError):
    """The work was done, and what it found does not agree."""
