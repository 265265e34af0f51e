"""Lung-protective ventilation: predicted body weight and tidal volume."""

from cardwright.formulas.registry import formula


@formula("ventilation.predicted_weight", working="{base} + {slope} × ({height} − {offset})")
def predicted_weight(height: "cm", base: "kg", slope: "kg/cm", offset: "cm") -> "kg":
    """Predicted body weight of an adult from height and sex.

    Statement: predicted weight = base + slope × (height − offset height); base 50 kg for men, 45.5 kg for women.

    Limits: adults; measured height; not a dosing weight. The inch form (2.3 kg/in above 60 in) is up to 0.2 kg lower at 190 cm.

    Source: ARDS Network ventilation protocol, predicted body weight, as transcribed by two hospitals.

    Example: ARDS Network, man of 152.4 cm: height=152.4 cm, base=50 kg, slope=0.91 kg/cm, offset=152.4 cm -> 50 kg
    """
    return base + slope * (height - offset)


@predicted_weight.balance
def _(height, base, slope, offset, result):
    return (result - base) / slope, height - offset


@predicted_weight.inverse(of="height")
def _(result, base, slope, offset):
    return offset + (result - base) / slope


@formula("ventilation.tidal_volume", working="{per_weight} × {weight}", powers={"per_weight": 1, "weight": 1})
def tidal_volume(weight: "kg", per_weight: "mL/kg") -> "mL":
    """Tidal volume for a predicted body weight.

    Statement: tidal volume = mL per kg of predicted body weight × predicted body weight.

    Limits: predicted, never actual weight; adults; plateau pressure decides, not the volume alone.

    Source: ARDS Network ventilation protocol, steps 3 and 4.

    Example: common practice, the protocol's 6 mL/kg for 50 kg: weight=50 kg, per_weight=6 mL/kg -> 300 mL
    """
    return per_weight * weight


@tidal_volume.balance
def _(weight, per_weight, result):
    return result / weight, per_weight


@tidal_volume.inverse(of="per_weight")
def _(result, weight):
    return result / weight
