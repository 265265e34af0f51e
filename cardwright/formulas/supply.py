"""What runs out: syringes and bags, oxygen cylinders, and how fast a ventilator uses oxygen."""

from cardwright.formulas.registry import formula


@formula("supply.runout", working="{volume} ÷ {rate}", powers={"volume": 1, "rate": -1})
def runout(volume: "mL", rate: "mL/h") -> "min":
    """Time until a syringe or bag is empty at a pump rate.

    Statement: time = volume left ÷ rate.

    Limits: volume is what is left to give, without the dead space of syringe and line; no bolus; a pump alarms before the end.

    Source: common practice; the quotient of two quantities.

    Example: amiodarone premix label, Table 1, 150 mg in 100 mL: volume=100 mL, rate=10 mL/min -> 10 min
    """
    return volume / rate


@runout.balance
def _(volume, rate, result):
    return result * rate, volume


@runout.inverse(of="rate")
def _(result, volume):
    return volume / result


@formula("supply.cylinder_minutes", working="({pressure} − {reserve}) × {factor} ÷ {flow}", powers={"pressure": 1, "factor": 1, "flow": -1})
def cylinder_minutes(pressure: "psi", reserve: "psi", factor: "L/psi", flow: "L/min") -> "min":
    """Time that an oxygen cylinder lasts, from a factor in liters per unit of gauge pressure.

    Statement: time = (gauge pressure − safe residual) × cylinder factor ÷ flow.

    Limits: the factor fits one cylinder size in one country; contents taken as proportional to gauge pressure (real oxygen
    falls short by at most 24 psi of gauge in a part-used cylinder, which a 200 psi residual covers); constant flow.

    Source: US Army Medical Department, Subcourse MD0542, paragraph d, steps 1 to 6.

    Example: respiratory therapy study notes, E cylinder: pressure=1000 psi, reserve=0 psi, factor=0.28 L/psi, flow=2 L/min -> 140 min
    """
    return (pressure - reserve) * factor / flow


@cylinder_minutes.balance
def _(pressure, reserve, factor, flow, result):
    """Liters breathed + liters left behind = liters at the start."""
    return result * flow + reserve * factor, pressure * factor


@cylinder_minutes.inverse(of="flow")
def _(result, pressure, reserve, factor):
    return (pressure - reserve) * factor / result


@formula(
    "supply.water_capacity_minutes",
    working="{capacity} × ({pressure} − {reserve}) ÷ {reference} ÷ {flow}",
    powers={"capacity": 1, "pressure": 1, "reference": -1, "flow": -1},
)
def water_capacity_minutes(capacity: "L", pressure: "bar", reserve: "bar", reference: "bar", flow: "L/min") -> "min":
    """Time that an oxygen cylinder lasts, from its water capacity.

    Statement: time = water capacity × (gauge pressure − residual) ÷ 1 bar ÷ flow.

    Limits: the plain liters × bar rule; real oxygen at 15 °C holds up to 6 % more between 100 and 230 bar; constant flow.

    Source: German ambulance teaching page (liters = water capacity × bar); the 1 bar is the gas at about atmospheric pressure.

    Example: practice guide Erlangen, 2 L cylinder: capacity=2 L, pressure=120 bar, reserve=0 bar, reference=1 bar, flow=15 L/min -> 16 min
    """
    return capacity * (pressure - reserve) / reference / flow


@water_capacity_minutes.balance
def _(capacity, pressure, reserve, reference, flow, result):
    return result * flow * reference + capacity * reserve, capacity * pressure


@water_capacity_minutes.inverse(of="flow")
def _(result, capacity, pressure, reserve, reference):
    return capacity * (pressure - reserve) / reference / result


@formula("supply.ventilator_oxygen", working="({minute_volume} + {bias_flow}) × ({fio2} − {air}) ÷ (1 − {air})")
def ventilator_oxygen(minute_volume: "L/min", bias_flow: "L/min", fio2: "", air: "") -> "L/min":
    """Cylinder oxygen that a blending ventilator uses.

    Statement: oxygen = (minute volume + bias flow) × (FiO2 − air) ÷ (1 − air), where air is the oxygen fraction of air.

    Limits: a ventilator that blends and draws its air from the room; a gas-driven one adds its own drive gas, and leaks add too.

    Source: oxygen balance of a mixed gas, FiO2 × total = oxygen + 0.21 × (total − oxygen), from a teaching text on inspired oxygen.

    Example: course notes, 0.5 L/min of oxygen in 8 L/min: minute_volume=8 L/min, bias_flow=0 L/min, fio2=0.26, air=0.21 -> 0.5 L/min
    """
    return (minute_volume + bias_flow) * (fio2 - air) / (1 - air)


@ventilator_oxygen.balance
def _(minute_volume, bias_flow, fio2, air, result):
    """Oxygen breathed = oxygen from the cylinder + oxygen in the air drawn in."""
    total = minute_volume + bias_flow
    return fio2 * total, result + air * (total - result)


@ventilator_oxygen.inverse(of="fio2")
def _(result, minute_volume, bias_flow, air):
    return air + result * (1 - air) / (minute_volume + bias_flow)
