"""Infusions: what to set on the pump for a dose, and what dose a running pump gives."""

from cardwright.formulas.registry import formula


@formula("infusion.rate", working="{dose} × {weight} ÷ {concentration}", powers={"dose": 1, "weight": 1, "concentration": -1})
def rate(dose: "mcg/kg/min | units/kg/min | mEq/kg/min", weight: "kg", concentration: "mcg/mL | units/mL | mEq/mL") -> "mL/h":
    """Pump rate that delivers a dose by body weight.

    Statement: rate = dose × weight ÷ concentration.

    Limits: nominal concentration, one drug in the line, the weight that the prescription means; no loading dose.

    Source: label of dopamine in 5 % dextrose, section 2.2; label of dobutamine in 5 % dextrose, recommended dosage.

    Example: dobutamine in 5 % dextrose label, example 1: dose=0.5 mcg/kg/min, weight=60 kg, concentration=500 mcg/mL -> 3.6 mL/h
    """
    return dose * weight / concentration


@rate.balance
def _(dose, weight, concentration, result):
    """Drug out of the syringe in a time = drug into the patient in that time."""
    return result * concentration, dose * weight


@rate.inverse(of="dose")
def _(result, weight, concentration):
    return result * concentration / weight


@formula("infusion.flat_rate", working="{dose} ÷ {concentration}", powers={"dose": 1, "concentration": -1})
def flat_rate(dose: "mg/h | units/h | mEq/h", concentration: "mcg/mL | units/mL | mEq/mL") -> "mL/h":
    """Pump rate that delivers a dose not related to body weight.

    Statement: rate = dose ÷ concentration.

    Limits: nominal concentration, one drug in the line.

    Source: label of nicardipine premix 0.2 mg/mL, section 2.1.

    Example: nicardipine premix label, section 2.1, maximum: dose=15 mg/h, concentration=0.2 mg/mL -> 75 mL/h
    """
    return dose / concentration


@flat_rate.balance
def _(dose, concentration, result):
    return result * concentration, dose


@flat_rate.inverse(of="dose")
def _(result, concentration):
    return result * concentration


@formula(
    "infusion.dose",
    working="{rate} × {concentration} ÷ {weight}",
    powers={"rate": 1, "concentration": 1, "weight": -1},
    turns="infusion.rate",
)
def dose(rate: "mL/h", weight: "kg", concentration: "mcg/mL | units/mL | mEq/mL") -> "mcg/kg/min | units/kg/min | mEq/kg/min":
    """Dose by body weight that a pump gives at the rate it runs at.

    Statement: dose = rate × concentration ÷ weight.

    Limits: as infusion.rate, and true only once the line beyond the pump is filled with this mix.

    Source: label of dopamine in 5 % dextrose, section 2.2, solved for the dose.

    Example: cisatracurium label, section 2.6, Table 1, read backwards: rate=42 mL/h, weight=70 kg, concentration=0.1 mg/mL -> 1 mcg/kg/min
    """
    return rate * concentration / weight


@dose.balance
def _(rate, weight, concentration, result):
    return result * weight, rate * concentration


@dose.inverse(of="rate")
def _(result, weight, concentration):
    return result * weight / concentration


@formula("infusion.flat_dose", working="{rate} × {concentration}", powers={"rate": 1, "concentration": 1}, turns="infusion.flat_rate")
def flat_dose(rate: "mL/h", concentration: "mcg/mL | units/mL | mEq/mL") -> "mg/h | units/h | mEq/h":
    """Dose not related to body weight that a pump gives at the rate it runs at.

    Statement: dose = rate × concentration.

    Limits: as infusion.flat_rate, and true only once the line beyond the pump is filled with this mix.

    Source: label of nicardipine premix 0.2 mg/mL, section 2.1, solved for the dose.

    Example: emergency department protocol, Emerg Med J 2024 (letter): rate=50 mL/h, concentration=16 mcg/mL -> 13.3 mcg/min
    """
    return rate * concentration


@flat_dose.balance
def _(rate, concentration, result):
    return result, rate * concentration


@flat_dose.inverse(of="rate")
def _(result, concentration):
    return result / concentration
