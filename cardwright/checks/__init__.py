"""The checks by family. Importing this package fills CHECKS."""

from cardwright.checks import arithmetic, limits, witness
from cardwright.checks.registry import CHECKS, Check, Finding, Outcome, run_checks

__all__ = ["CHECKS", "Check", "Finding", "Outcome", "arithmetic", "limits", "run_checks", "witness"]
