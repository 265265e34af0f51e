"""Doses that are given once: by weight, up to a most and from a least; a part of a dose; their volume, and the rate that gives them."""

from cardwright.formulas.registry import formula


@formula("dose.by_weight", working="{per_weight} × {weight}, at most {most}", as_written=True)
def by_weight(
    weight: "kg",
    per_weight: "mg/kg | units/kg | mEq/kg | mg/kg/h | units/kg/h | mEq/kg/h",
    most: "mg | units | mEq | mg/h | units/h | mEq/h",
) -> "mg | units | mEq | mg/h | units/h | mEq/h":
    """Dose by body weight that no weight raises above the most that is given.

    Statement: dose = dose per weight × weight, or the most that is given where that is less.

    Limits: the weight that the prescription means; for what is given per hour, the rate at the start, before it is titrated.

    Source: American Heart Association and American Stroke Association guideline 2013, Table 12: 0.9 mg/kg, maximum 90 mg.

    Example: stroke order form, 89 kg: weight=89 kg, per_weight=0.9 mg/kg, most=90 mg -> 80.1 mg
    """
    return min(per_weight * weight, most)


@by_weight.balance
def _(weight, per_weight, most, result):
    """The smaller and the larger of two add up to the two; what is given is neither more than the one nor than the other."""
    product = weight * per_weight
    return result + max(product, most), product + most


@by_weight.inverse(of="weight")
def _(result, per_weight, most):
    """ZeroDivisionError above the most that is given: every weight that is large enough leads there."""
    if result > most:
        raise ZeroDivisionError(f"no weight leads to more than {most}")
    return result / per_weight


@formula("dose.per_weight", working="{per_weight} × {weight}", powers={"per_weight": 1, "weight": 1})
def per_weight(weight: "kg", per_weight: "mg/kg | units/kg | mEq/kg | mL/kg | J/kg") -> "mg | units | mEq | mL | J":
    """Dose, volume or shock energy by body weight, for which no most is set.

    Statement: dose = dose per weight × weight.

    Limits: weights at which it stays under what an adult is given.

    Source: American Heart Association 2010, pediatric advanced life support, Table 1 (sodium bicarbonate 1 mEq/kg, glucose 0.5 g/kg).

    Example: regional base hospital's advice, first shock at 9.5 kg: weight=9.5 kg, per_weight=2 J/kg -> 19 J
    """
    return per_weight * weight


@per_weight.balance
def _(weight, per_weight, result):
    return result / weight, per_weight


@per_weight.inverse(of="weight")
def _(result, per_weight):
    return result / per_weight


@formula("dose.between", working="{per_weight} × {weight}, at least {least}, at most {most}", as_written=True)
def between(
    weight: "kg", per_weight: "mg/kg | units/kg | mEq/kg", least: "mg | units | mEq", most: "mg | units | mEq"
) -> "mg | units | mEq":
    """Dose by body weight that is never less than one amount, nor more than another.

    Statement: dose = the middle one of dose per weight × weight, the least and the most that is given.

    Limits: the weight that the prescription means; under least ÷ dose per weight the child gets more per kg than the rule says.

    Source: American Heart Association 2010, pediatric advanced life support, Table 1: atropine 0.02 mg/kg, minimum 0.1 mg, maximum 0.5 mg.

    Example: the same row, its least at 3 kg: weight=3 kg, per_weight=0.02 mg/kg, least=0.1 mg, most=0.5 mg -> 0.1 mg
    """
    return sorted((per_weight * weight, least, most))[1]


@between.balance
def _(weight, per_weight, least, most, result):
    """The smallest, the middle and the largest of three add up to the three."""
    product = weight * per_weight
    return result + min(product, least, most) + max(product, least, most), product + least + most


@between.inverse(of="weight")
def _(result, per_weight, least, most):
    """ZeroDivisionError above the most: every weight that is large enough leads there. No weight under the least: every small one does."""
    if result > most:
        raise ZeroDivisionError(f"no weight leads to more than {most}")
    return result / per_weight if result >= least else 0 * result


@formula("dose.volume", working="{dose} ÷ {concentration}", powers={"dose": 1, "concentration": -1})
def volume(dose: "mg | units | mEq", concentration: "mg/mL | units/mL | mEq/mL") -> "mL":
    """Volume that holds a dose.

    Statement: volume = dose ÷ concentration.

    Limits: the concentration on the label in hand.

    Source: American Heart Association 2010, pediatric advanced life support, Table 1: 0.01 mg/kg is 0.1 mL/kg of 0.1 mg/mL.

    Example: the same table, calcium chloride 10 % for 1 kg: dose=20 mg, concentration=100 mg/mL -> 0.2 mL
    """
    return dose / concentration


@volume.balance
def _(dose, concentration, result):
    """Drug in the volume drawn up = the dose."""
    return result * concentration, dose


@volume.inverse(of="dose")
def _(result, concentration):
    return result * concentration


@formula("dose.part", working="{part} × {whole}", powers={"whole": 1})
def part(whole: "mg | units | mEq | mg/h | units/h | mEq/h", part: "") -> "mg | units | mEq | mg/h | units/h | mEq/h":
    """Part of a dose, such as the bolus that comes before the rest.

    Statement: part of the dose = part × whole dose.

    Limits: the parts of one dose must make up the whole.

    Source: American Heart Association and American Stroke Association guideline 2013, Table 12: 10 % of the dose as a bolus.

    Example: stroke order form, 10 % of 80.1 mg: whole=80.1 mg, part=10 % -> 8.0 mg
    """
    return part * whole


@part.balance
def _(whole, part, result):
    return result / whole, part


@part.inverse(of="whole")
def _(result, part):
    return result / part


@formula("dose.over_time", working="{dose} ÷ {time} ÷ {concentration}", powers={"dose": 1, "time": -1, "concentration": -1})
def over_time(dose: "mg | units | mEq", time: "min", concentration: "mg/mL | units/mL | mEq/mL") -> "mL/h":
    """Pump rate that gives a dose within a time: a loading dose, or the rest after a bolus.

    Statement: rate = dose ÷ time ÷ concentration.

    Limits: nominal concentration; the volume to be infused must be set too, or the pump goes on past the dose.

    Source: worked nursing example, 6 g of magnesium sulfate in 20 minutes from 40 g in 1,000 mL.

    Example: nursing question, 6 g in 20 minutes, 40 g in 1,000 mL: dose=6 g, time=20 min, concentration=40 mg/mL -> 450 mL/h
    """
    return dose / time / concentration


@over_time.balance
def _(dose, time, concentration, result):
    """Drug that leaves the bag within the time = the dose."""
    return result * time * concentration, dose


@over_time.inverse(of="dose")
def _(result, time, concentration):
    return result * time * concentration
