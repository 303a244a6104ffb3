"""The trial sheet: what was tested, where the logs and the footage are, which clips to make."""

from overlay.sheet.load import load_sheet, sheet_schema
from overlay.sheet.model import TrialSheet

__all__ = ["TrialSheet", "load_sheet", "sheet_schema"]
