"""The checks by family. Importing this package fills CHECKS."""

from cardwright.checks import (
    arithmetic,
    citation,
    dates,
    limits,
    places,
    printed,
    rounding,
    shape,
    signs,
    typography,
    units,
    witness,
    wording,
)
from cardwright.checks.registry import CHECKS, BrokenCheck, Check, Finding, Outcome, run_checks, run_on
from cardwright.checks.waivers import waived

__all__ = [
    "CHECKS",
    "BrokenCheck",
    "Check",
    "Finding",
    "Outcome",
    "arithmetic",
    "citation",
    "dates",
    "limits",
    "places",
    "printed",
    "rounding",
    "run_checks",
    "run_on",
    "shape",
    "signs",
    "typography",
    "units",
    "waived",
    "witness",
    "wording",
]
