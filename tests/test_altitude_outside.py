"""The pressures of the standard atmosphere that the cards use, against ambiance, which computes the ICAO standard of 1993.

The source table has them as printed, in inches of mercury to the hundredth. ambiance takes geometric heights; at 10,000 ft
geopotential and geometric height differ by 1.5 m, which is 0.005 inHg. So a printed figure must lie within half its last digit
and that of what ambiance gives.

ambiance itself is held against two published tables by geopotential height. A handbook whose pressures run above the standard
atmosphere, on purpose, must lie above it at every height but sea level.
"""

from __future__ import annotations

import warnings
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import pytest
import yaml

from cardwright.formulas.plain import size
from cardwright.units import parse_quantity

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # ambiance's own, of its numeric library
    from ambiance import Atmosphere

TABLE = Path(__file__).parents[1] / "sources" / "oxygen" / "altitude.yaml"
GIVENS = yaml.load(TABLE.read_text(encoding="utf-8"), Loader=yaml.BaseLoader)["givens"]
PRESSURES = {name: given["value"] for name, given in GIVENS.items() if name.startswith("feet-")}
FOOT = Fraction(3048, 10000)  # m
# "The International Standard Atmosphere (ICAO 1964), heights of pressure levels" (meteowvl.be), table: hPa, m, ft.
LEVELS = [(1000, 111, 364), (950, 540, 1773), (900, 988, 3243), (850, 1457, 4781), (800, 1949, 6394), (700, 3012, 9882), (600, 4206, 13801)]
# "The effects of flight and altitude" (Samuels MP), Arch Dis Child 2004;89:448, Table 1: m, mmHg.
REVIEW = [(0, 760), (1000, 674), (2000, 596), (3000, 526), (5000, 405), (8000, 267), (10000, 198)]
# "High Altitude Related Conditions" (Family Practice Notebook), atmospheric pressure list: m, mmHg.
MOUNTAINS = [
    (1500, 641), (2000, 604), (2500, 570), (3000, 537), (3500, 505), (4000, 475), (4500, 447), (5000, 420), (5500, 394), (6000, 369),
]  # fmt: skip
WITHIN = 0.005 + 0.006  # inHg: half the last printed digit, and geometric for geopotential height


@pytest.mark.parametrize(("name", "value"), PRESSURES.items())
def test_pressure_is_that_of_the_standard_atmosphere(name, value):
    metres = float(int(name.removeprefix("feet-")) * FOOT)
    printed = parse_quantity(value)
    assert printed.unit == "inHg"
    assert float(Atmosphere(metres).pressure[0]) / float(size("inHg")) == pytest.approx(float(printed.value), abs=WITHIN)


def test_there_are_pressures_and_a_neighbour_would_be_found():
    """A row too far is 0.8 inHg or more off."""
    values = [parse_quantity(value).value for value in PRESSURES.values()]
    assert len(values) >= 6
    assert all(before - after > Fraction(8, 10) for before, after in pairwise(values))


# Half of the last printed digit, and a hair: 900 hPa is at 988.50008 m and printed 988.
@pytest.mark.parametrize(("hectopascals", "metres", "feet"), LEVELS)
def test_library_has_the_published_heights_of_pressure_levels(hectopascals, metres, feet):
    height = float(Atmosphere.from_pressure(hectopascals * 100.0).H[0])
    assert height == pytest.approx(metres, abs=0.501)
    assert height / float(FOOT) == pytest.approx(feet, abs=0.501)


@pytest.mark.parametrize(("metres", "printed"), REVIEW)
def test_library_has_the_pressures_of_a_flight_review(metres, printed):
    assert mercury(metres) == pytest.approx(printed, abs=0.5)


@pytest.mark.parametrize(("metres", "printed"), MOUNTAINS)
def test_handbook_of_the_mountains_runs_above_the_standard_atmosphere(metres, printed):
    assert printed > mercury(metres) + 0.5


def mercury(metres: int) -> float:
    """The standard atmosphere's pressure in mmHg at a geopotential height."""
    return float(Atmosphere(Atmosphere.geop2geom_height(float(metres))).pressure[0]) / float(size("mmHg"))
