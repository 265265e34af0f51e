"""The formulas by subject. Importing this package fills FORMULAS."""

from cardwright.formulas import altitude, conversion, dose, infusion, mechanics, oxygen, pediatric, pressure, supply, ventilation
from cardwright.formulas.registry import FORMULAS, Formula

__all__ = [
    "FORMULAS",
    "Formula",
    "altitude",
    "conversion",
    "dose",
    "infusion",
    "mechanics",
    "oxygen",
    "pediatric",
    "pressure",
    "supply",
    "ventilation",
]
