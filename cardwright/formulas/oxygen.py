"""Oxygen for a journey: time from the content of a full cylinder, cylinders for a leg, and time from liquid oxygen."""

from cardwright.formulas.registry import formula


@formula(
    "oxygen.contents_minutes",
    working="{contents} × ({pressure} − {reserve}) ÷ {full} ÷ {flow}",
    powers={"contents": 1, "pressure": 1, "full": -1, "flow": -1},
)
def contents_minutes(contents: "L", pressure: "bar", reserve: "bar", full: "bar", flow: "L/min") -> "min":
    """Time that an oxygen cylinder lasts, from the content and pressure that its collar states for it when full.

    Statement: time = content when full × (gauge pressure − residual) ÷ full pressure ÷ flow.

    Limits: one size in one country; content taken as proportional to gauge pressure; constant flow. In a part-used cylinder of
    137 bar, real oxygen falls short of that by at most 2 bar of gauge.

    Source: Lutman and Petros 2006, contents and pressures of UK cylinders, and volume proportional to pressure.

    Example: exam page, size D: contents=340 L, pressure=137 bar, reserve=0 bar, full=137 bar, flow=10 L/min -> 34 min
    """
    return contents * (pressure - reserve) / full / flow


@contents_minutes.balance
def _(contents, pressure, reserve, full, flow, result):
    """Liters breathed + liters left behind = liters at the start, each times the full pressure."""
    return result * flow * full + contents * reserve, contents * pressure


@contents_minutes.inverse(of="flow")
def _(result, contents, pressure, reserve, full):
    return contents * (pressure - reserve) / full / result


@formula("oxygen.cylinders", working="{safety} × {leg} ÷ {lasts}", powers={"leg": 1, "lasts": -1})
def cylinders(leg: "min", safety: "", lasts: "min") -> "":
    """Full cylinders to take for a leg of a journey.

    Statement: cylinders = reserve factor × time of the leg ÷ time that one full cylinder lasts at the flow; rounded up.

    Limits: the same flow for the whole leg, from bed to bed; each cylinder full at the start; a change of cylinder needs both hands.

    Source: emergency medicine exam page, oxygen for transfer: twice flow × time.

    Example: exam page, twice 16 min on size D, 34 min each at 10 L/min, printed as one: leg=16 min, safety=2, lasts=34 min -> 0.9
    """
    return safety * leg / lasts


@cylinders.balance
def _(leg, safety, lasts, result):
    """Time that the cylinders last together = the leg, as often as the reserve asks."""
    return result * lasts, leg * safety


@cylinders.inverse(of="leg")
def _(result, safety, lasts):
    return result * lasts / safety


@formula("oxygen.liquid_minutes", working="{liquid} × {expansion} ÷ {flow}", powers={"liquid": 1, "expansion": 1, "flow": -1})
def liquid_minutes(liquid: "L", expansion: "L/L", flow: "L/min") -> "min":
    """Time that liquid oxygen lasts.

    Statement: time = liters of liquid × liters of gas to a liter of liquid ÷ flow.

    Limits: what is left by the vessel's gauge; no allowance for what boils off, which a vessel does even when it is not used.

    Source: respiratory care examination item on home liquid oxygen; anesthesia revision notes for the expansion.

    Example: patient page, reservoir of 31 L at 2 L/min, 24,950 L of gas: liquid=31 L, expansion=804.84 L/L, flow=2 L/min -> 12475 min
    """
    return liquid * expansion / flow


@liquid_minutes.balance
def _(liquid, expansion, flow, result):
    return result * flow, liquid * expansion


@liquid_minutes.inverse(of="flow")
def _(result, liquid, expansion):
    return liquid * expansion / result
