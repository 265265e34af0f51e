"""Our two unit tables, and the working that is printed for the reader, against GNU units.

GNU units knows no cardwright. It is asked for every symbol of ours, for compound units, and for the arithmetic that a
working writes out, which it parses as text with its units.

``units``, ``mEq`` and ``gtt`` are counts of their own, and so are the degrees of the two scales of temperature: no outside
table can say how large they are, so GNU units is told of them as new base units and they are checked in quotients only.
"""

from __future__ import annotations

import re
import subprocess
from fractions import Fraction
from functools import lru_cache
from itertools import product
from pathlib import Path

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from cardwright.evaluate import evaluate, working
from cardwright.formulas import FORMULAS, Formula
from cardwright.formulas.plain import size
from cardwright.numbers import plain
from cardwright.units import SYMBOLS, Quantity, dimension, factor, parse_quantity

# GNU's names where they are not ours: its h is Planck's constant, its Fr a charge, and it has no cmH2O of its own.
GNU = {
    "h": "hour", "Fr": "(mm/3)", "cmH2O": "(cm water)", "mmHg": "(mm Hg)", "%": "percent", "units": "doseunit", "mEq": "equivalentcount",
    "milliunits": "(doseunit/1000)", "gtt": "dropcount", "inHg": "(inch Hg)", "°F": "fahrenheitdegree", "°C": "celsiusdegree",
}  # fmt: skip
OWN = "doseunit !\nequivalentcount !\ndropcount !\nfahrenheitdegree !\ncelsiusdegree !\n"

# The unit that each of our tables counts in, by dimension; GNU has one mass where we have drug mass and body mass.
BASE = {
    "[drug_mass]": "mg",
    "[drug_units]": "units",
    "[equivalents]": "mEq",
    "[body_mass]": "kg",
    "[volume]": "mL",
    "[time]": "min",
    "[age]": "month",
    "[length]": "mm",
    "[pressure]": "Pa",
    "[energy]": "J",
    "[drops]": "gtt",
    "[degrees_fahrenheit]": "°F",
    "[degrees_celsius]": "°C",
}
PLAIN_BASE = {**BASE, "[drug_mass]": "mcg"}

# GNU units prints and reckons in doubles of 53 bits (1.1e-16); a dozen of its conversions in a row stay well within this.
NEAR = 1e-12
COMPOUND = [
    "mcg/kg/min", "mg/kg/h", "mcg/kg/day", "mcg/lb/min", "mcg/min", "mg/h", "g/h", "units/kg/h", "units/min", "mEq/h", "mcg/mL", "mg/mL",
    "milliunits/min", "milliunits/mL",
    "mg/L", "units/mL", "mEq/L", "mL/h", "mL/min", "L/min", "L/day", "mL/kg", "mL/kg/h", "L/psi", "L/bar", "L/kPa", "1/min", "kg/year",
    "kg/month", "mg/kg", "J/kg", "mmHg/year", "year/mm", "month/mm", "kg/cm", "kg/in", "Fr/mm", "cm/mm", "gtt/mL", "gtt/min", "°F/°C",
    "mL/cmH2O",
]  # fmt: skip


def gnu(text: str) -> str:
    """A unit text of ours in GNU's words."""
    return "/".join(GNU.get(part, part) for part in text.split("/")) or "1"


def ask(pairs: list[tuple[str, str]], folder: Path) -> list[float]:
    """What GNU units makes of each (expression, unit), all in one run. It answers a refusal with words, which float refuses."""
    own = folder / "own.units"
    own.write_text(OWN)
    lines = "".join(f"{have}\n{want}\n" for have, want in pairs)
    command = ["units", "-t", "-o", "%.17g", "-f", "", "-f", str(own)]
    told = subprocess.run(command, input=lines, capture_output=True, text=True, check=False)
    answers = told.stdout.split("\n")[:-1]
    assert len(answers) == len(pairs), told.stdout[-500:]
    return [float(answer) for answer in answers]


def base(unit: str, names: dict[str, str]) -> str:
    """The unit of the same dimension that a table of ours counts in, in GNU's words."""
    parts = [dimension(part) if part != "1" else () for part in unit.split("/")]
    return "/".join(gnu(names[part[0][0]]) if part else "1" for part in parts)


@pytest.mark.parametrize(("ours", "names"), [(factor, BASE), (size, PLAIN_BASE)], ids=["units.factor", "plain.size"])
def test_every_unit_has_the_size_gnu_units_gives_it(ours, names, tmp_path):
    every = [*SYMBOLS, *COMPOUND]
    for unit, outside in zip(every, ask([(gnu(unit), base(unit, names)) for unit in every], tmp_path), strict=True):
        assert float(ours(unit)) == pytest.approx(outside, rel=NEAR), unit


def test_conventional_mercury_is_gnus_own(tmp_path):
    """13.5951 gram-force/cm3, as GNU units has it; its word for the unit is the same as ours."""
    assert ask([("mmHg", "Pa"), ("mm 13.5951 gram force/cm^3", "Pa")], tmp_path) == pytest.approx([float(factor("mmHg"))] * 2, rel=NEAR)


def test_a_wrong_size_would_be_found(tmp_path):
    """UCUM's rounded mmHg is 2.9e-6 off and an h read as Planck's constant has no time in it: both are told apart."""
    assert ask([("mmHg", "Pa")], tmp_path)[0] != pytest.approx(133.322, rel=1e-6)
    with pytest.raises((ValueError, AssertionError)):
        ask([("1 h", "min")], tmp_path)


# The working, read as text

QUANTITY = re.compile(r"(?<![\w.])(\d[\d,]*(?:\.\d+)?(?:/\d[\d,]*)?)(?: ([A-Za-z%°][A-Za-z0-9%°/]*))?")
SIZED = {"pressure.convert": "Pa", "conversion.units": "kg"}  # conversions by cited sizes, with the unit that the sizes are told in
ALIKE = {unit: [other for other in SYMBOLS if dimension(other) == dimension(unit)] for unit in SYMBOLS}


def translate(text: str) -> str:
    """``0.02 mcg/kg/min × 40 kg ÷ 16 mcg/mL`` with each quantity in brackets, for in GNU units a space binds before a slash."""
    fractions = re.sub(r"\((\d[\d,]*/\d[\d,]*)\)", r"\1", text)
    bracketed = QUANTITY.sub(lambda found: f"({found[1].replace(',', '').replace('/', '|')} {gnu(found[2] or '')})", fractions)
    return bracketed.replace("×", "*").replace("÷", "/").replace("−", "-")


def alike(unit: str) -> list[str]:
    """Every unit of ours with the same parts by dimension: mg/kg/h beside mcg/kg/min."""
    return ["/".join(parts) for parts in product(*(ALIKE[part] for part in unit.split("/")))] if unit else ["", "%"]


@st.composite
def quantities(draw, units: list[str]) -> Quantity:
    """A quantity of few digits in one of some units; a plain number is a fraction, such as that of inspired oxygen."""
    unit = draw(st.sampled_from(units))
    if unit in ("", "%"):
        return Quantity(value := Fraction(draw(st.integers(1, 99)), 1 if unit else 100), unit, plain(value))
    return Quantity(value := Fraction(draw(st.integers(1, 9999)), 10 ** draw(st.integers(0, 2))), unit, plain(value))


@st.composite
def cases(draw, formula: Formula) -> tuple[dict[str, Quantity], str]:
    """Inputs in the formula's own units or in any of ours, and any unit for the result."""
    own = draw(st.booleans()) or formula.id in SIZED
    units, result = formula.forms[0]  # the form in mass: GNU units knows no drug units and no mEq
    inputs = {name: draw(quantities([unit] if own else alike(unit))) for name, unit in units.items()}
    assume("there" not in inputs or inputs["there"].base != inputs["vapor"].base)
    gives = draw(st.sampled_from([unit for unit in alike(result) if unit != "psi"]))
    if formula.id in SIZED:
        told = {"from_unit": next(iter(units.values())), "to_unit": gives}
        inputs |= {name: Quantity(size(unit), SIZED[formula.id], plain(size(unit))) for name, unit in told.items()}
    return inputs, gives


@lru_cache
def worked(formula_id: str) -> list[str]:
    """Some workings of one formula. Left out: those whose left side is itself rounded, and those of nought or less."""
    texts, formula = [], FORMULAS[formula_id]

    @settings(max_examples=40, deadline=None, derandomize=True, database=None, suppress_health_check=list(HealthCheck))
    @given(cases(formula))
    def collect(case):
        inputs, gives = case
        result = evaluate(formula, inputs, gives)
        text = working(formula, inputs, result, gives)
        if result > 0 and "≈" not in parts(text)[0] and parts(text)[2].strip("0."):
            texts.append(text)

    collect()
    return texts


def bare(expression: str) -> str:
    """The numbers of an expression alone."""
    return re.sub(r"\(([\d.|]+) [^()]*(?:\([^()]*\)[^()]*)*\)", r"(\1)", expression)


def parts(text: str) -> list[str]:
    """A working as its left side, its sign, its number and its unit."""
    return list(re.fullmatch(r"(.+) ([=≈]) ([\d,.-]+)(?: (\S+))?", text).groups(""))


def wrong(texts: list[str], folder: Path, numbers_alone: bool = False) -> list[str]:
    """The workings that GNU units does not reckon as printed, with what it makes of them, with units or by the numbers alone.

    An exact result must be GNU's to 1e-9 (two pressures may nearly cancel in doubles); a rounded one, to half its last digit.
    """
    split, found = [parts(text) for text in texts], []
    pairs = [(translate(left), gnu(unit)) for left, _, _, unit in split]
    answers = ask([(bare(have), "1") for have, _ in pairs] if numbers_alone else pairs, folder)
    for text, (_, sign, number, _), outside in zip(texts, split, answers, strict=True):
        printed = Fraction(number.replace(",", ""))
        half_digit = Fraction(1, 2 * 10 ** len(number.partition(".")[2])) if sign == "≈" else 0
        if abs(outside - printed) > half_digit + abs(printed) * 1e-9:
            found.append(f"{text} (GNU units: {outside})")
    return found


def test_gnu_units_works_out_what_is_printed(tmp_path):
    """The units and the numbers together are the result. A pressure conversion writes the sizes of its units as pressures
    (98.0665 Pa for a cmH2O), so that only its numbers multiply out; the smaller of two is looked for below."""
    apart = {*SIZED, "dose.by_weight", "dose.between", "pediatric.maintenance"}
    assert wrong([text for formula in FORMULAS if formula not in apart for text in worked(formula)], tmp_path) == []


def test_a_dose_by_weight_is_the_smaller_of_two(tmp_path):
    """GNU units reckons the dose by weight and the most that is given; a rounded result is good to half its last digit."""
    split = [parts(text) for text in worked("dose.by_weight")]
    pairs = [(translate(side), gnu(unit)) for left, _, _, unit in split for side in left.split(", at most ")]
    answers = iter(ask(pairs, tmp_path))
    for left, sign, number, _ in split:
        half_digit = 0.5 * 10 ** -len(number.partition(".")[2]) if sign == "≈" else 0
        printed = float(number.replace(",", ""))
        assert min(next(answers), next(answers)) == pytest.approx(printed, rel=1e-9, abs=half_digit), left


def test_a_dose_between_is_the_middle_of_three(tmp_path):
    """GNU units reckons the dose by weight, the least and the most; a rounded result is good to half its last digit."""
    split = [parts(text) for text in worked("dose.between")]
    sides = [(side, unit) for left, _, _, unit in split for side in re.split(", at (?:least|most) ", left)]
    answers = iter(ask([(translate(side), gnu(unit)) for side, unit in sides], tmp_path))
    for left, sign, number, _ in split:
        half_digit = 0.5 * 10 ** -len(number.partition(".")[2]) if sign == "≈" else 0
        middle = sorted(next(answers) for _ in range(3))[1]
        assert middle == pytest.approx(float(number.replace(",", "")), rel=1e-9, abs=half_digit), left


def test_maintenance_is_a_sum_of_bands(tmp_path):
    """GNU units reckons each rate, the band and the weight; the bands are added up here, one after the other."""
    split = [parts(text) for text in worked("pediatric.maintenance")]
    told = [re.fullmatch("(.+) for the first (.+), (.+) for the next, (.+) for the rest of (.+)", left).groups() for left, *_ in split]
    units = ("mL/kg/h", "kg", "mL/kg/h", "mL/kg/h", "kg")
    answers = iter(ask([(translate(text), gnu(unit)) for texts in told for text, unit in zip(texts, units, strict=True)], tmp_path))
    sizes = iter(ask([("mL/hour", gnu(unit)) for *_, unit in split], tmp_path))
    for left, sign, number, _ in split:
        first, band, second, rest, weight = (next(answers) for _ in range(5))
        total, left_over = 0.0, weight
        for rate, most in ((first, band), (second, band), (rest, weight)):
            total, left_over = total + rate * min(left_over, most), max(left_over - most, 0)
        half_digit = 0.5 * 10 ** -len(number.partition(".")[2]) if sign == "≈" else 0
        assert total * next(sizes) == pytest.approx(float(number.replace(",", "")), rel=1e-9, abs=half_digit), left


def test_numbers_alone_work_out_to_what_is_printed(tmp_path):
    """GNU units would forgive a forgotten × 60 min/h; a reader with a pocket calculator would not.

    A formula that is a sum tells its result in another unit without a bridge, so it is taken in its own unit only; a part in
    percent has the calculator's key for it.
    """
    by_key = {name for name, formula in FORMULAS.items() if formula.powers and "" in formula.inputs.values()}
    texts = [
        text
        for name, formula in FORMULAS.items()
        if name != "pediatric.maintenance"
        for text in worked(name)
        if (formula.powers or name in SIZED or parts(text)[3] == formula.gives) and (name not in by_key or "%" not in text)
    ]
    assert len(texts) > 400
    assert wrong(texts, tmp_path, numbers_alone=True) == []


@pytest.mark.parametrize("formula", FORMULAS)
def test_every_formula_is_worked_out(formula):
    """The draw leaves enough workings of every formula for the test above."""
    assert len(set(worked(formula))) >= 8


def test_a_pressure_in_another_unit_is_worked_out(tmp_path):
    """9.2 mmHg × 133.322387415 Pa ÷ 98.0665 Pa, and not 12.507492 cmH2O × 133.322387415 Pa ÷ 98.0665 Pa."""
    formula, given = FORMULAS["pressure.convert"], {"pressure": "9.2 mmHg", "from_unit": "133.322387415 Pa", "to_unit": "98.0665 Pa"}
    inputs = {name: parse_quantity(text) for name, text in given.items()}
    text = working(formula, inputs, evaluate(formula, inputs, "cmH2O"), "cmH2O")
    assert wrong([text], tmp_path, numbers_alone=True) == []


def test_a_wrong_working_would_be_found(tmp_path):
    """A wrong digit and a wrong unit are found with the units, a bridge left out by the numbers alone."""
    text = "0.02 mcg/kg/min × 40 kg ÷ 16 mcg/mL × 60 min/h = 3 mL/h"
    digit, unit, bridge = text.replace("= 3", "= 3.01"), text.replace("16 mcg/mL", "16 mg/mL"), text.replace(" × 60 min/h", "")
    assert [found.partition(" (GNU")[0] for found in wrong([text, digit, unit], tmp_path)] == [digit, unit]
    assert [found.partition(" (GNU")[0] for found in wrong([text, bridge], tmp_path, numbers_alone=True)] == [bridge]
