"""One unit into another: weights and lengths, temperature, strengths of solutions, drops, and doses by weight and by hour."""

from cardwright.formulas.registry import formula


@formula("conversion.units", working="{amount} × {from_unit} ÷ {to_unit}", as_written=True)
def units(amount: "kg | mm", from_unit: "kg | mm", to_unit: "kg | mm") -> "kg | mm":
    """The same body weight or length in another unit.

    Statement: amount in the new unit = amount × size of the old unit ÷ size of the new unit.

    Limits: international pound and inch; a scale that reads in kg, or a tape in cm, needs no conversion and is the safer one.

    Source: NIST SP 811, Appendix B. The two sizes are cited givens; they are held against our unit registry by the balance.

    Example: weight page, 150 lb: amount=150 lb, from_unit=0.45359237 kg, to_unit=1 kg -> 68.04 kg
    """
    return amount


@units.balance
def _(amount, from_unit, to_unit, result):
    return amount.number * from_unit, result.number * to_unit


@units.inverse(of="amount")
def _(result, from_unit, to_unit):
    return result


@formula("conversion.celsius", working="({fahrenheit} − {offset}) ÷ {scale}", powers={"fahrenheit": 1, "scale": -1})
def celsius(fahrenheit: "°F", offset: "°F", scale: "°F/°C") -> "°C":
    """A temperature in °C from one in °F.

    Statement: temperature in °C = (temperature in °F − 32 °F) ÷ 1.8 °F/°C.

    Limits: readings, not differences. The two degrees are different dimensions here, so that no reading is ever told in the
    other scale without its offset.

    Source: NIST SP 811, Appendix B, degree Fahrenheit.

    Example: sepsis protocol of an ambulance service, 100.4 °F: fahrenheit=100.4 °F, offset=32 °F, scale=1.8 °F/°C -> 38 °C
    """
    return (fahrenheit - offset) / scale


@celsius.balance
def _(fahrenheit, offset, scale, result):
    return result * scale + offset, fahrenheit


@celsius.inverse(of="fahrenheit")
def _(result, offset, scale):
    return result * scale + offset


@formula("conversion.percent_strength", working="{percent} × {whole}", powers={"whole": 1})
def percent_strength(percent: "", whole: "mg/mL") -> "mg/mL":
    """Concentration of a solution whose strength is told in percent.

    Statement: concentration = percent × 1 g/mL, since 1 % is 1 g in 100 mL.

    Limits: percent weight in volume, as injections are labeled; of the substance that the label names, base or salt.

    Source: university teaching page on drug concentrations; emergency medicine reference page on local anesthetics.

    Example: reference page, bupivacaine 0.25 %: percent=0.25 %, whole=1 g/mL -> 2.5 mg/mL
    """
    return percent * whole


@percent_strength.balance
def _(percent, whole, result):
    return result / whole, percent


@percent_strength.inverse(of="percent")
def _(result, whole):
    return result / whole


@formula("conversion.ratio_strength", working="{whole} ÷ {parts}", powers={"whole": 1})
def ratio_strength(parts: "", whole: "mg/mL") -> "mg/mL":
    """Concentration of a solution whose strength is told as 1 in so many parts.

    Statement: concentration = 1 g/mL ÷ parts, since 1 in 1,000 is 1 g in 1,000 mL.

    Limits: weight in volume; for reading old labels only, ratios are no longer a way to label or to order a strength.

    Source: emergency medicine reference page on local anesthetics; intensive care drug manual, appendix on percentages.

    Example: reference page, 1 in 1,000: parts=1000, whole=1 g/mL -> 1 mg/mL
    """
    return whole / parts


@ratio_strength.balance
def _(parts, whole, result):
    return result * parts, whole


@ratio_strength.inverse(of="parts")
def _(result, whole):
    return whole / result


@formula("conversion.drops", working="{rate} × {drip_set}", powers={"rate": 1, "drip_set": 1})
def drops(rate: "mL/h", drip_set: "gtt/mL") -> "gtt/min":
    """Drops a minute that give a rate through a drip set.

    Statement: drops a minute = rate × drops that the set gives to the milliliter.

    Limits: the number printed on the set's package; drop size changes with fluid, slope and flow. Not for drugs that need a pump.

    Source: US Army Medical Department, Subcourse MD0904, computing intravenous infusion rates.

    Example: US Army MD0904, 125 mL/h with 20 gtt/mL: rate=125 mL/h, drip_set=20 gtt/mL -> 42 gtt/min
    """
    return rate * drip_set


@drops.balance
def _(rate, drip_set, result):
    """Volume that drops in a minute = volume that is to run in a minute."""
    return result / drip_set, rate


@drops.inverse(of="rate")
def _(result, drip_set):
    return result / drip_set


@formula("conversion.flat_dose", working="{dose} × {weight}", powers={"dose": 1, "weight": 1})
def flat_dose(dose: "mcg/kg/min | units/kg/min | mEq/kg/min", weight: "kg") -> "mg/h | units/h | mEq/h":
    """Dose by the hour for a dose by body weight.

    Statement: dose by the hour = dose by weight × weight.

    Limits: the weight that the prescription means; says nothing of a concentration.

    Source: the product of two quantities; nursing lesson on dopamine, worked to mcg/min.

    Example: nursing page, dopamine 5 mcg/kg/min for 70 kg: dose=5 mcg/kg/min, weight=70 kg -> 350 mcg/min
    """
    return dose * weight


@flat_dose.balance
def _(dose, weight, result):
    return result / weight, dose


@flat_dose.inverse(of="dose")
def _(result, weight):
    return result / weight


@formula("conversion.dose_by_weight", working="{dose} ÷ {weight}", powers={"dose": 1, "weight": -1}, turns="conversion.flat_dose")
def dose_by_weight(dose: "mg/h | units/h | mEq/h", weight: "kg") -> "mcg/kg/min | units/kg/min | mEq/kg/min":
    """Dose by body weight for a dose by the hour.

    Statement: dose by weight = dose by the hour ÷ weight.

    Limits: as conversion.flat_dose.

    Source: the quotient of two quantities; college nursing page on titration, dopamine at 12 mL/h.

    Example: college nursing page, 9,600 mcg/h for 60.45 kg: dose=9600 mcg/h, weight=60.45 kg -> 2.65 mcg/kg/min
    """
    return dose / weight


@dose_by_weight.balance
def _(dose, weight, result):
    return result * weight, dose


@dose_by_weight.inverse(of="dose")
def _(result, weight):
    return result * weight
