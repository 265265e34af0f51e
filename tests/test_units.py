"""Units and quantities: exact sizes, dimensions that must not mix, and numbers read as they were written."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from cardwright.numbers import plain
from cardwright.units import MENDED, SYMBOLS, Quantity, UnitError, check_unit, dimension, factor, parse_number, parse_quantity

ALIKE = {symbol: [other for other in SYMBOLS if dimension(other) == dimension(symbol)] for symbol in SYMBOLS}
DECIMALS = st.builds(lambda whole, places: Fraction(whole, 10**places), st.integers(-(10**9), 10**9), st.integers(0, 6))


def in_unit(text: str, unit: str) -> Fraction:
    """A quantity's exact value in another unit."""
    return parse_quantity(text).to(unit)


# Each by the definition of the unit, worked out in fractions here.
EXACT = {
    # pound and inch by the agreement of 1959, standard gravity by the third general conference on weights and measures, 1901
    "1 psi in Pa": ("1 psi", "Pa", Fraction("0.45359237") * Fraction("9.80665") / Fraction("0.0254") ** 2),
    # NIST SP 811, appendix B: conventional millimeter of mercury, 13.5951 g/cm3 at standard gravity
    "1 mmHg in Pa": ("1 mmHg", "Pa", Fraction("13.5951") * Fraction("9.80665")),
    # UCUM 2.2: m[H2O] is 9.80665 kPa
    "1 cmH2O in Pa": ("1 cmH2O", "Pa", Fraction("98.0665")),
    "1 mmHg in cmH2O": ("1 mmHg", "cmH2O", Fraction("1.35951")),
    "1 bar in kPa": ("1 bar", "kPa", Fraction(100)),
    "1 mbar in hPa": ("1 mbar", "hPa", Fraction(1)),
    "1 lb in kg": ("1 lb", "kg", Fraction("0.45359237")),
    "1 in in cm": ("1 in", "cm", Fraction("2.54")),
    "3 Fr in mm": ("3 Fr", "mm", Fraction(1)),
    "1 Fr in mm": ("1 Fr", "mm", Fraction(1, 3)),
    "1 g in mcg": ("1 g", "mcg", Fraction(1_000_000)),
    "1 mg/mL in mcg/mL": ("1 mg/mL", "mcg/mL", Fraction(1000)),
    "6 mcg/kg/h in mcg/kg/min": ("6 mcg/kg/h", "mcg/kg/min", Fraction(1, 10)),
    "1 mcg/lb/min in mcg/kg/min": ("1 mcg/lb/min", "mcg/kg/min", 1 / Fraction("0.45359237")),
    "1 L/min in mL/h": ("1 L/min", "mL/h", Fraction(60_000)),
    "2 day in h": ("2 day", "h", Fraction(48)),
    "1.5 year in month": ("1.5 year", "month", Fraction(18)),
    "5 % as a plain number": ("5 %", "", Fraction(1, 20)),
}


@pytest.mark.parametrize(("text", "unit", "exact"), EXACT.values(), ids=EXACT)
def test_sizes_are_exact_fractions(text, unit, exact):
    """A conversion has no rounding in it: the size of every unit is the fraction of its definition."""
    assert in_unit(text, unit) == exact
    assert isinstance(in_unit(text, unit), Fraction)


@pytest.mark.parametrize(
    ("text", "unit", "told"),
    [
        ("70 mg", "kg", "70 mg can't be told in kg"),
        ("1 kg", "g", "1 kg can't be told in g"),
        ("1 units", "mg", "1 units can't be told in mg"),
        ("1 mEq", "units", "1 mEq can't be told in units"),
        ("1 year", "day", "1 year can't be told in day"),
        ("1 mcg/kg/min", "mcg/min", "1 mcg/kg/min can't be told in mcg/min"),
        ("1 mL", "", "1 mL can't be told in a plain number"),
    ],
)
def test_dimensions_do_not_mix(text, unit, told):
    """Drug mass is no body mass, a count no mass, an age no time of infusion: asking for one in the other is an error."""
    with pytest.raises(UnitError, match=f"^{told}$"):
        in_unit(text, unit)


def test_drug_mass_and_body_mass_do_not_cancel():
    """mcg/kg/min keeps its body mass: it is no rate of pure numbers."""
    assert dimension("mcg/kg/min") == (("[body_mass]", -1), ("[drug_mass]", 1), ("[time]", -1))
    assert dimension("mg/mg") == dimension("") == ()
    assert dimension("mg/kg") != ()


@pytest.mark.parametrize(
    ("text", "value"),
    [("0.05", Fraction(1, 20)), ("1,000", Fraction(1000)), ("1,234,567.5", Fraction(2469135, 2)), ("-2.5", Fraction(-5, 2)),
     ("0", Fraction(0)), ("10.0", Fraction(10)), ("1000", Fraction(1000)), ("0.1", Fraction(1, 10))],
)  # fmt: skip
def test_numbers_are_read_exactly(text, value):
    """A decimal is read as the fraction it is; 0.1 is a tenth and never a binary float near it."""
    assert parse_number(text) == value


NO_NUMBERS = {
    ".5": "write '0.5', with a zero before the point",
    "-.5": "write '-0.5', with a zero before the point",
    "0,5": "write '0.5' if the comma is a decimal point",
    "1,00": "write '1.00' if the comma is a decimal point",
    "12,3456": "write '12.3456' if the comma is a decimal point",
    "016": "write '16', without the leading zero",
    "007.5": "write '7.5', without the leading zero",
    **dict.fromkeys(["", "1e3", "+5", "5.", "1 000", "1_000", "0x10", "nan", "inf", "1,2345,678", "½", "٥", "5%", "--5", "1.2.3"],
                    "expected digits with at most one point, such as '0.05' or '1,000'"),
}  # fmt: skip


@pytest.mark.parametrize(("text", "told"), NO_NUMBERS.items())
def test_number_in_another_spelling_is_refused(text, told):
    """A number that could be misread is refused, with the way to write it."""
    with pytest.raises(UnitError) as error:
        parse_number(text)
    assert str(error.value) == f"'{text}' is not a number as we write them; {told}"


def test_quantity_keeps_the_digits_as_written():
    """The text of a number stays beside its value: trailing zeros state the precision of a published figure."""
    quantity = parse_quantity("26.30 mL/h")
    assert (quantity.value, quantity.unit, quantity.text, str(quantity)) == (Fraction(263, 10), "mL/h", "26.30", "26.30 mL/h")
    assert str(parse_quantity("0.21")) == "0.21"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("16mcg/mL", "'16mcg/mL' has no space between number and unit; write '16 mcg/mL'"),
        ("0.5µg", "'0.5µg' has no space between number and unit; write '0.5 µg'"),
        ("16 mcg/ml", "'ml' is not a unit of ours; write 'mcg/mL'"),
        ("5 U/kg", "'U' is not a unit of ours; write 'units/kg'"),
        ("5 IU", "'IU' is not a unit of ours; write 'units'"),
        ("3 cc", "'cc' is not a unit of ours; write 'mL'"),
        ("3 μg", "'μg' is not a unit of ours; write 'mcg'"),
        ("3 ug", "'ug' is not a unit of ours; write 'mcg'"),
        ("3 Mg", "'Mg' is not a unit of ours; expected parts such as mg, g, mcg, units, mEq, kg, lb, mL joined by '/'"),
        ("3 mg mL", "'mg mL' is not a unit of ours; expected parts such as mg, g, mcg, units, mEq, kg, lb, mL joined by '/'"),
        ("3 mg/", "'' is not a unit of ours; expected parts such as mg, g, mcg, units, mEq, kg, lb, mL joined by '/'"),
        ("mg", "'mg' is not a number as we write them; expected digits with at most one point, such as '0.05' or '1,000'"),
    ],
)
def test_unit_in_another_spelling_is_refused(text, told):
    """A unit on the lists of error-prone abbreviations, or of no list, is refused; the known ones with their mended spelling."""
    with pytest.raises(UnitError) as error:
        parse_quantity(text)
    assert str(error.value) == told


@pytest.mark.parametrize("unit", [*SYMBOLS, "1/min", "mcg/kg/min", "L/psi", ""])
def test_units_of_the_trade_are_known(unit):
    """Every symbol of the table, a reciprocal and a compound one are units of ours, and have a size above zero."""
    assert check_unit(unit) == unit
    assert factor(unit) > 0


def test_every_mended_spelling_is_a_unit():
    """What a message asks for is accepted in its turn, and no unit of ours is called wrong."""
    assert {check_unit(mended) for mended in MENDED.values()} <= set(SYMBOLS)
    assert not {"U", "u", "IU", "µg", "μg", "ug", "cc"} & set(SYMBOLS)


@pytest.mark.parametrize(
    "unit", ["meter", "second", "count", "dimensionless", "gram", "liter", "pound", "mcg**2", "mg*mL", "kmL", "mmcg", "delta_Pa"]
)
def test_nothing_of_the_unit_library_s_own_table_is_known(unit):
    """Only our table counts: no unit, prefix or operator of the library beneath slips in."""
    with pytest.raises(UnitError, match=r"is not a unit of ours; expected parts such as"):
        check_unit(unit)


@given(DECIMALS, st.sampled_from(SYMBOLS), st.data())
def test_there_and_back_is_the_same_quantity(value, unit, data):
    """Converting to any unit of the same dimension and back gives the very same fraction."""
    quantity = Quantity(value, unit, plain(value))
    other = data.draw(st.sampled_from(ALIKE[unit]))
    there = quantity.to(other)
    assert Quantity(there, other, "").to(unit) == value
    assert Quantity(there, other, "").base == quantity.base


@given(DECIMALS, st.sampled_from([*SYMBOLS, "mcg/kg/min", ""]))
def test_printing_and_reading_is_the_same_quantity(value, unit):
    """What is printed is read back as the same number with the same unit."""
    quantity = Quantity(value, unit, plain(value))
    assert parse_quantity(str(quantity)) == quantity
