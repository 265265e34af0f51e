"""What every formula of the registry must hold to: its documentation, its laws, and the refusals around it.

The laws are drawn with Hypothesis over the whole registry, so a new formula is under them from its first day. The sequence
of draws is fixed (``derandomize``): a run is the same run everywhere.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction
from functools import lru_cache
from itertools import product

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from cardwright.evaluate import balance, check_units, evaluate, recover
from cardwright.formulas import FORMULAS, Formula
from cardwright.formulas.registry import formula as register
from cardwright.numbers import decimals, nearest, plain
from cardwright.units import SYMBOLS, Quantity, UnitError, check_unit, dimension, factor, parse_quantity

DRAWS = settings(max_examples=40, deadline=None, derandomize=True, database=None, suppress_health_check=list(HealthCheck))
EVERY = pytest.mark.parametrize("formula", FORMULAS.values(), ids=FORMULAS)
ALIKE = {symbol: [other for other in SYMBOLS if dimension(other) == dimension(symbol)] for symbol in SYMBOLS}

# Which way the result goes as one input grows, where the result and every difference in the formula are above nought.
RISING = {
    "infusion.rate": "+dose +weight -concentration",
    "infusion.flat_rate": "+dose -concentration",
    "infusion.dose": "+rate -weight +concentration",
    "infusion.flat_dose": "+rate +concentration",
    "dose.by_weight": "+weight +per_weight",
    "dose.per_weight": "+weight +per_weight",
    "dose.between": "+weight +per_weight",
    "dose.volume": "+dose -concentration",
    "dose.part": "+whole +part",
    "dose.over_time": "+dose -time -concentration",
    "supply.runout": "+volume -rate",
    "supply.cylinder_minutes": "+pressure -reserve +factor -flow",
    "supply.water_capacity_minutes": "+capacity +pressure -reserve -reference -flow",
    "supply.ventilator_oxygen": "+minute_volume +bias_flow +fio2 -air",
    "ventilation.predicted_weight": "+height +base +slope -offset",
    "ventilation.tidal_volume": "+weight +per_weight",
    "pediatric.weight": "+age +slope +constant",
    "pediatric.size_by_age": "+age -divisor +constant",
    "pediatric.size_by_weight": "+weight -divisor +constant",
    "pediatric.size_by_tube": "+tube +ratio",
    "pediatric.lowest_systolic": "+age +slope +constant",
    "pediatric.maintenance": "+weight +first",
    "pressure.convert": "+pressure",
    "pressure.valve_setting": "+peep",
    "conversion.units": "+amount",
    "conversion.celsius": "+fahrenheit -offset -scale",
    "conversion.percent_strength": "+percent +whole",
    "conversion.ratio_strength": "+whole -parts",
    "conversion.drops": "+rate +drip_set",
    "conversion.flat_dose": "+dose +weight",
    "conversion.dose_by_weight": "+dose -weight",
    "oxygen.contents_minutes": "+contents +pressure -reserve -full -flow",
    "oxygen.cylinders": "+leg +safety -lasts",
    "oxygen.liquid_minutes": "+liquid +expansion -flow",
    "mechanics.driving_pressure": "+plateau -peep",
    "mechanics.static_compliance": "+volume -driving_pressure",
    "mechanics.minute_volume": "+volume_now +paco2 -target",
    "mechanics.oxygenation": "+pao2 -fio2",
    "altitude.inspired_oxygen": "+fio2 +pressure -vapor",
    "altitude.same_oxygen": "+fio2 +here -there",
}

# Conversions by the cited sizes of two units, with the input that is converted.
CONVERTED = {"pressure.convert": "pressure", "conversion.units": "amount"}


# Drawing


@lru_cache
def alike(unit: str) -> list[str]:
    """Every unit text of ours with the same parts by dimension: mg/kg/h and mcg/lb/day beside mcg/kg/min."""
    return ["/".join(parts) for parts in product(*(ALIKE[part] for part in unit.split("/")))] if unit else ["", "%"]


def made(drawn: tuple[int, int, str]) -> Quantity:
    """A positive decimal of some digits; a plain number is a fraction below one."""
    whole, places, unit = drawn
    if unit in ("", "%"):
        return Quantity(value := Fraction(whole % 99 + 1, 1 if unit else 100), unit, plain(value))
    return Quantity(value := Fraction(whole, 10**places), unit, plain(value))


@lru_cache
def quantities(unit: str) -> st.SearchStrategy[Quantity]:
    """A quantity in any unit alike."""
    return st.tuples(st.integers(1, 10**6), st.integers(0, 4), st.sampled_from(alike(unit))).map(made)


def cases(formula: Formula) -> st.SearchStrategy[tuple[dict[str, Quantity], str]]:
    """Inputs in any units, and a unit for the result. A conversion is given the sizes of the two units it stands in."""

    def case(drawn):
        *values, gives = drawn
        inputs = dict(zip(formula.inputs, values, strict=True))
        if formula.id in CONVERTED:
            units = {"from_unit": inputs[CONVERTED[formula.id]].unit, "to_unit": gives}
            inputs |= {name: Quantity(Fraction(1), unit, "1") for name, unit in units.items()}
        return inputs, gives

    forms = [st.tuples(*map(quantities, inputs.values()), st.sampled_from(alike(gives))) for inputs, gives in formula.forms]
    return st.one_of(forms).map(case).filter(lambda drawn: "there" not in drawn[0] or drawn[0]["there"].base != drawn[0]["vapor"].base)


def retold(quantity: Quantity, unit: str) -> Quantity:
    """The same quantity in another unit, exactly."""
    return Quantity(value := quantity.to(unit), unit, plain(value))


def has_way_back(formula: Formula, inputs: dict[str, Quantity], result: Fraction) -> bool:
    """Whether one input only can give this result: a full cylinder less all of it lasts no time at any flow, and a dose at
    the most that is given stands for every weight from there."""
    return not (formula.id.startswith(("supply.", "oxygen.")) and result == 0) and not at_most(formula, inputs)


def at_most(formula: Formula, inputs: dict[str, Quantity]) -> bool:
    """Whether the dose by weight is more than the most that is given, or less than the least."""
    if formula.id not in ("dose.by_weight", "dose.between"):
        return False
    product = inputs["per_weight"].base * inputs["weight"].base
    return product > inputs["most"].base or ("least" in inputs and product < inputs["least"].base)


# Documentation


def example(formula: Formula) -> tuple[dict[str, Quantity], Quantity]:
    """The docstring's ``text: name=quantity, ... -> quantity``."""
    found = re.fullmatch(r"(?P<source>.+?): (?P<inputs>\w+=.+) -> (?P<result>\S+(?: \S+)?)", formula.section("Example"))
    assert found, f"{formula.id}: its Example is not 'text: name=quantity, ... -> quantity'"
    pairs = [pair.split("=") for pair in found["inputs"].split(", ")]
    return {name: parse_quantity(text) for name, text in pairs}, parse_quantity(found["result"])


@EVERY
def test_documentation_is_whole(formula):
    assert formula.complete
    assert formula.statement.endswith(".")
    assert all(formula.section(name).endswith(".") for name in ("Statement", "Limits", "Source"))
    assert set(re.findall(r"{(\w+)}", formula.working)) == set(formula.inputs)
    assert set(formula.powers) <= set(formula.inputs)
    assert formula.back_to in formula.inputs


@EVERY
def test_example_is_reproduced_as_printed(formula):
    inputs, printed = example(formula)
    result = evaluate(formula, inputs, printed.unit)
    digit = Fraction(1, 10 ** len(printed.text.partition(".")[2]))
    assert nearest(digit, "to the printed digit").apply(result) == printed.value
    left, right = balance(formula, inputs, result, printed.unit)
    assert left == right


@EVERY
def test_annotations_are_units(formula):
    for inputs, gives in formula.forms:
        assert all(check_unit(unit) == unit for unit in [*inputs.values(), gives])
        check_units(formula.id, tuple(inputs.items()), gives)


# Laws


@EVERY
def test_balance_holds_and_inverse_undoes(formula):
    """Two routes that share no unit table agree to the last digit, in any units, and the way back is exact.

    The balance is no identity of its own: a result off by a millionth does not pass.
    """

    @DRAWS
    @given(cases(formula))
    def law(case):
        inputs, gives = case
        result = evaluate(formula, inputs, gives)
        left, right = balance(formula, inputs, result, gives)
        assert left == right
        off = balance(formula, inputs, result * Fraction(1_000_001, 1_000_000), gives)
        assert off[0] != off[1] or result == 0
        if has_way_back(formula, inputs, result):
            assert recover(formula, inputs, result, gives) == inputs[formula.back_to].base

    law()


@EVERY
def test_result_does_not_depend_on_the_units_it_is_told_in(formula):
    told = st.fixed_dictionaries({name: st.integers(0, 999) for name in [*formula.inputs, "gives"]})

    @DRAWS
    @given(cases(formula), told)
    def law(case, places):
        inputs, gives = case
        others = {name: retold(quantity, pick(quantity.unit, places[name])) for name, quantity in inputs.items()}
        other = pick(gives, places["gives"])
        assert evaluate(formula, others, other) * factor(other) == evaluate(formula, inputs, gives) * factor(gives)

    law()


def pick(unit: str, place: int) -> str:
    """One of the units alike."""
    return alike(unit)[place % len(alike(unit))]


def bounded(formula: Formula, inputs: dict[str, Quantity]) -> bool:
    """Whether every difference in the formula is above nought."""
    ordered = {"reserve": ["pressure"], "offset": ["height", "fahrenheit"], "air": ["fio2"], "vapor": ["pressure", "here", "there"],
               "peep": ["plateau"]}  # fmt: skip
    pairs = [(low, high) for low, highs in ordered.items() for high in highs if {low, high} <= set(inputs)]
    return all(inputs[low].base < inputs[high].base for low, high in pairs)


def directions(formula: Formula) -> Iterator[tuple[str, str]]:
    """The sign and the name of each input that moves the result."""
    return ((term[0], term[1:]) for term in RISING[formula.id].split())


@EVERY
def test_result_moves_the_right_way(formula):
    """More drug or more weight, more millilitres; a stronger mix, fewer; and so on for every input."""

    @DRAWS
    @given(cases(formula))
    def law(case):
        inputs, gives = case
        assume(bounded(formula, inputs) and not at_most(formula, inputs))
        before = evaluate(formula, inputs, gives)
        for sign, name in directions(formula):
            grown = inputs | {name: Quantity(value := inputs[name].value * Fraction(1001, 1000), inputs[name].unit, plain(value))}
            if bounded(formula, grown) and not at_most(formula, grown):
                after = evaluate(formula, grown, gives)
                assert after > before if sign == "+" else after < before, name

    law()


def test_dose_by_weight_stops_at_its_most():
    """Worked by hand: 0.9 mg/kg reaches 90 mg at 100 kg."""
    given = {"per_weight": "0.9 mg/kg", "most": "90 mg"}
    assert [of("dose.by_weight", "mg", weight=weight, **given) for weight in ("50 kg", "100 kg", "110 kg")] == [45, 90, 90]
    with pytest.raises(ZeroDivisionError, match="no weight leads to more than 90"):
        FORMULAS["dose.by_weight"].back(Fraction(91), {"weight": Fraction(110), "per_weight": Fraction(9, 10), "most": Fraction(90)})


def test_dose_between_its_least_and_its_most():
    """Worked by hand: 0.02 mg/kg is 0.1 mg at 5 kg and 0.5 mg at 25 kg; a result under the least leads back to no weight at all."""
    given = {"per_weight": "0.02 mg/kg", "least": "0.1 mg", "most": "0.5 mg"}
    weights = ("3 kg", "5 kg", "10 kg", "25 kg", "40 kg")
    doses = [Fraction(text) for text in ("0.1", "0.1", "0.2", "0.5", "0.5")]
    assert [of("dose.between", "mg", weight=weight, **given) for weight in weights] == doses
    others = {"per_weight": Fraction(2, 100), "least": Fraction(1, 10), "most": Fraction(1, 2)}
    assert FORMULAS["dose.between"].back(Fraction(5, 100), others) == 0
    with pytest.raises(ZeroDivisionError, match="no weight leads to more than 1/2"):
        FORMULAS["dose.between"].back(Fraction(6, 10), others)


def test_maintenance_changes_at_each_band():
    """Worked by hand at 5, 10, 15, 20 and 30 kg, and back."""
    given = {"band": "10 kg", "first": "4 mL/kg/h", "second": "2 mL/kg/h", "rest": "1 mL/kg/h"}
    rates = {"5 kg": 20, "10 kg": 40, "15 kg": 50, "20 kg": 60, "30 kg": 70}
    assert {weight: of("pediatric.maintenance", "mL/h", weight=weight, **given) for weight in rates} == rates


def test_every_input_has_its_direction():
    """The sizes of the two units of a conversion go with the units and do not move by themselves; the most of a dose moves
    nothing where the dose is less, nor the later bands of a fluid where the weight is in the first; water vapor moves FiO2 up or
    down, as the pressure there is lower or higher."""
    fixed = {
        "dose.by_weight": {"most"},
        "dose.between": {"least", "most"},
        "pediatric.maintenance": {"band", "second", "rest"},
        "altitude.same_oxygen": {"vapor"},
        **{name: {"from_unit", "to_unit"} for name in CONVERTED},
    }
    for name, formula in FORMULAS.items():
        assert {other for _, other in directions(formula)} | fixed.get(name, set()) == set(formula.inputs)


@pytest.mark.parametrize("formula", [formula for formula in FORMULAS.values() if formula.powers], ids=lambda formula: formula.id)
def test_powers_are_those_of_the_formula(formula):
    """An input that carries units to a power scales the result by it; a difference is scaled as a whole."""

    @DRAWS
    @given(cases(formula), st.integers(2, 9))
    def law(case, times):
        inputs, gives = case
        together = {"pressure": ("pressure", "reserve", "vapor"), "fahrenheit": ("fahrenheit", "offset")}
        for name, power in formula.powers.items():
            scaled = {other: inputs[other].value * times for other in together.get(name, (name,)) if other in inputs}
            grown = inputs | {other: Quantity(value, inputs[other].unit, plain(value)) for other, value in scaled.items()}
            assert evaluate(formula, grown, gives) == evaluate(formula, inputs, gives) * Fraction(times) ** power

    law()


def test_dose_and_rate_undo_each_other():
    """The two infusion formulas by weight, and the two that are not, are each other's way back."""

    @DRAWS
    @given(cases(FORMULAS["infusion.rate"]))
    def law(case):
        inputs, gives = case
        rate = Quantity(value := evaluate(FORMULAS["infusion.rate"], inputs, gives), gives, plain(value))
        shared = {"rate": rate, "weight": inputs["weight"], "concentration": inputs["concentration"]}
        assert evaluate(FORMULAS["infusion.dose"], shared, inputs["dose"].unit) == inputs["dose"].value

    law()


# Refusals


def of(name: str, gives: str, **inputs: str) -> Fraction:
    """A formula applied to quantities given as text."""
    return evaluate(FORMULAS[name], {key: parse_quantity(text) for key, text in inputs.items()}, gives)


CYLINDER = {"pressure": "2000 psi", "reserve": "200 psi", "factor": "0.28 L/psi", "flow": "10 L/min"}
BLEND = {"minute_volume": "8 L/min", "bias_flow": "0 L/min", "fio2": "0.26", "air": "0.21"}


@pytest.mark.parametrize(("name", "gives", "inputs", "told"), [
    ("infusion.rate", "mL/h", {"dose": "10 mcg/min", "weight": "80 kg", "concentration": "16 mcg/mL"}, "use infusion.flat_rate"),
    ("infusion.rate", "mL/h", {"dose": "0.1 mcg/kg/min", "weight": "80 mg", "concentration": "16 mcg/mL"}, "weight is in mg"),
    ("infusion.dose", "mcg/kg/min", {"rate": "3 mL/h", "weight": "80 kg", "concentration": "16 mL/mcg"}, "concentration is in mL/mcg"),
    ("infusion.rate", "mg/h", {"dose": "0.1 mcg/kg/min", "weight": "80 kg", "concentration": "16 mcg/mL"}, "can't be told in mg/h"),
    ("infusion.flat_rate", "mL/h", {"dose": "0.1 mcg/kg/min", "concentration": "16 mcg/mL"}, "dose is in mcg/kg/min"),
    ("infusion.flat_rate", "mL/h", {"dose": "10", "concentration": "16 mcg/mL"}, "dose is in a plain number"),
    ("supply.runout", "min", {"volume": "50 mL", "rate": "5 mg/h"}, "rate is in mg/h"),
    ("supply.cylinder_minutes", "min", CYLINDER | {"reserve": "200 L"}, "reserve is in L"),
    ("supply.cylinder_minutes", "min", CYLINDER | {"factor": "0.28 psi/L"}, "factor is in psi/L"),
    ("supply.ventilator_oxygen", "L/min", BLEND | {"fio2": "0.5 L"}, "fio2 is in L"),
    ("ventilation.tidal_volume", "mL", {"weight": "70 mg", "per_weight": "6 mL/kg"}, "weight is in mg"),
    ("pediatric.weight", "kg", {"age": "6 day", "slope": "3 kg/year", "constant": "7 kg"}, "age is in day"),
    ("pressure.convert", "mL", {"pressure": "10 cmH2O", "from_unit": "98.0665 Pa", "to_unit": "1 Pa"}, "can't be told in mL"),
])  # fmt: skip
def test_wrong_dimension_is_refused(name, gives, inputs, told):
    with pytest.raises(UnitError, match=re.escape(told)):
        of(name, gives, **inputs)


def test_order_of_the_inputs_does_not_matter():
    backwards = dict(reversed(BLEND.items()))
    assert of("supply.ventilator_oxygen", "L/min", **backwards) == of("supply.ventilator_oxygen", "L/min", **BLEND)


@pytest.mark.parametrize(("dose", "concentration"), [
    ("1 mg/h", "1 units/mL"), ("1 units/h", "1 mg/mL"), ("1 mEq/h", "1 mg/mL"), ("1 units/h", "1 mEq/mL"),
])  # fmt: skip
def test_counts_and_masses_do_not_mix(dose, concentration):
    """Whatever doses the infusion formulas take, a mass is never divided by a count."""
    with pytest.raises(UnitError):
        of("infusion.flat_rate", "mL/h", dose=dose, concentration=concentration)


WHOLE = "X.\n\nStatement: s.\n\nLimits: l.\n\nSource: s.\n\nExample: e: a=1 kg -> 1 kg\n"


def body(doc: str, add=None):
    """A function of one weight and one length with this docstring."""

    def made(a, b):
        return add(a, b) if add else a

    made.__doc__ = doc
    made.__annotations__ = {"a": "kg", "b": "cm", "return": "kg"}
    return made


def test_id_is_taken_once():
    with pytest.raises(ValueError, match=r"'infusion\.rate' is already there"):
        register("infusion.rate", working="{a}")(body(WHOLE))
    assert FORMULAS["infusion.rate"].gives == "mL/h"


@pytest.mark.parametrize("paragraph", ["Statement", "Limits", "Source", "Example"])
def test_missing_paragraph_is_refused(paragraph):
    with pytest.raises(ValueError, match=rf"test\.bare has no paragraph '{paragraph}:'"):
        register("test.bare", working="{a}")(body(WHOLE.replace(f"{paragraph}:", "")))
    assert "test.bare" not in FORMULAS


def unregistered() -> Formula:
    """A formula of its own, so that the registry stays as it is."""
    return Formula("test.own", body(WHOLE), {"a": "kg", "b": "cm"}, "kg", "{a} {b}", {})


def test_balance_is_set_once():
    own = unregistered()
    own.balance(lambda a, b, result: (a, result))
    with pytest.raises(ValueError, match=r"test\.own already has its balance"):
        own.balance(lambda a, b, result: (0, 0))


def test_inverse_is_set_once():
    own = unregistered()
    own.inverse(of="a")(lambda result, b: result)
    with pytest.raises(ValueError, match=r"test\.own already has its inverse"):
        own.inverse(of="a")(lambda result, b: result)


def test_a_refused_inverse_changes_nothing():
    own = unregistered()
    own.inverse(of="a")(lambda result, b: result)
    with pytest.raises(ValueError, match="already has its inverse"):
        own.inverse(of="b")(lambda result, a: result)
    assert own.back_to == "a"


def test_inverse_names_an_input():
    with pytest.raises(ValueError, match=r"test\.own has no input 'c'"):
        unregistered().inverse(of="c")


def test_formula_without_its_two_parts_is_not_complete():
    own = unregistered()
    assert not own.complete
    own.balance(lambda a, b, result: (a, result))
    assert not own.complete
    own.inverse(of="a")(lambda result, b: result)
    assert own.complete


@pytest.fixture
def passing() -> Iterator[dict]:
    """The registry, put back afterwards as it was."""
    before = dict(FORMULAS)
    yield FORMULAS
    FORMULAS.clear()
    FORMULAS.update(before)


def test_a_body_that_works_out_to_another_unit_is_refused(passing):
    register("test.product", working="{a} × {b}")(body(WHOLE, lambda a, b: a * b))
    with pytest.raises(UnitError, match=r"works out to|does not work out in these units"):
        of("test.product", "kg", a="1 kg", b="1 cm")


def test_a_body_that_adds_a_length_to_a_weight_is_refused(passing):
    register("test.sum", working="{a} + {b}")(body(WHOLE, lambda a, b: a + b))
    with pytest.raises(UnitError, match=r"works out to|does not work out in these units"):
        of("test.sum", "kg", a="1 kg", b="1 cm")


def test_drawn_numbers_are_decimals():
    """The laws are about what can be typed: every drawn number ends."""

    @DRAWS
    @given(st.sampled_from(list(FORMULAS.values())).flatmap(cases))
    def law(case):
        assert all(decimals(quantity.value) is not None for quantity in case[0].values())

    law()
