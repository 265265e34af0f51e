"""The formulas by subject. Importing this package fills FORMULAS."""

from cardwright.formulas import infusion, pediatric, pressure, supply, ventilation
from cardwright.formulas.registry import FORMULAS, Formula

__all__ = ["FORMULAS", "Formula", "infusion", "pediatric", "pressure", "supply", "ventilation"]
