"""Airway pressure: one unit into another, and the setting of a PEEP valve."""

from cardwright.formulas.registry import formula


@formula("pressure.convert", working="{pressure} × {from_unit} ÷ {to_unit}", as_written=True)
def convert(pressure: "cmH2O", from_unit: "Pa", to_unit: "Pa") -> "mmHg":
    """The same pressure in another unit.

    Statement: pressure in the new unit = pressure × size of the old unit ÷ size of the new unit.

    Limits: conventional units (water at 1 g/cm3, mercury at 13.5951 g/cm3, standard gravity); gauge against gauge.

    Source: NIST SP 811 Appendix B; UCUM 2.2. The two sizes are cited givens; they are held against our unit registry by the balance.

    Example: pressure unit glossary, 1 cmH2O: pressure=1 cmH2O, from_unit=98.0665 Pa, to_unit=133.322387415 Pa -> 0.735559 mmHg
    """
    return pressure


@convert.balance
def _(pressure, from_unit, to_unit, result):
    return pressure.number * from_unit, result.number * to_unit


@convert.inverse(of="pressure")
def _(result, from_unit, to_unit):
    return result


@formula("pressure.valve_setting", working="{peep}", powers={"peep": 1})
def valve_setting(peep: "cmH2O") -> "cmH2O":
    """PEEP valve setting on a bag-valve mask that stands in for the PEEP of a ventilator.

    Statement: setting = the ventilator's PEEP, told in the unit that the valve is marked in.

    Limits: a valve holds its pressure only while expired gas flows and the mask seals; read the manometer, not the mark.

    Source: common practice; the unit by UCUM 2.2 (cm[H2O] = 98.0665 Pa).

    Example: UCUM 2.2, unit cm[H2O], 10 cmH2O = 980.665 Pa: peep=980.665 Pa -> 10 cmH2O
    """
    return peep


@valve_setting.balance
def _(peep, result):
    return peep, result


@valve_setting.inverse(of="peep")
def _(result):
    return result
