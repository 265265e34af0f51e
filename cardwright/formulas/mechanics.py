"""Checks on a ventilated patient: driving pressure, compliance, minute volume for a carbon dioxide, oxygenation."""

from cardwright.formulas.registry import formula


@formula("mechanics.driving_pressure", working="{plateau} − {peep}")
def driving_pressure(plateau: "cmH2O", peep: "cmH2O") -> "cmH2O":
    """Driving pressure: what a breath adds to the pressure in the lung.

    Statement: driving pressure = plateau pressure − PEEP.

    Limits: plateau read in a pause without flow, a patient who makes no effort, total PEEP where gas is trapped.

    Source: The future of driving pressure, Journal of Intensive Care 2018, Table 1.

    Example: nursing exam question, plateau 28, PEEP 8: plateau=28 cmH2O, peep=8 cmH2O -> 20 cmH2O
    """
    return plateau - peep


@driving_pressure.balance
def _(plateau, peep, result):
    return result + peep, plateau


@driving_pressure.inverse(of="plateau")
def _(result, peep):
    return result + peep


@formula("mechanics.static_compliance", working="{volume} ÷ {driving_pressure}", powers={"volume": 1, "driving_pressure": -1})
def static_compliance(volume: "mL", driving_pressure: "cmH2O") -> "mL/cmH2O":
    """Static compliance of lungs and chest wall together.

    Statement: static compliance = tidal volume ÷ driving pressure, which is plateau pressure − PEEP.

    Limits: as driving pressure; the tidal volume that reaches the patient.

    Source: The future of driving pressure, Journal of Intensive Care 2018, Table 1.

    Example: nursing exam question, 360 mL over 20 cmH2O: volume=360 mL, driving_pressure=20 cmH2O -> 18 mL/cmH2O
    """
    return volume / driving_pressure


@static_compliance.balance
def _(volume, driving_pressure, result):
    return result * driving_pressure, volume


@static_compliance.inverse(of="volume")
def _(result, driving_pressure):
    return result * driving_pressure


@formula("mechanics.minute_volume", working="{volume_now} × {paco2} ÷ {target}", powers={"volume_now": 1, "paco2": 1, "target": -1})
def minute_volume(volume_now: "L/min", paco2: "mmHg", target: "mmHg") -> "L/min":
    """Minute volume that brings the arterial carbon dioxide to a target.

    Statement: new minute volume = minute volume now × PaCO2 now ÷ PaCO2 wanted.

    Limits: production of carbon dioxide and dead space unchanged; small steps, and a new blood gas; plateau pressure and trapped
    gas may forbid it. At the same tidal volume the rate changes in the same proportion.

    Source: respiratory therapy teaching page on minute ventilation; PaCO2 = production × 0.863 ÷ alveolar ventilation.

    Example: teaching page, 8 L/min, 55 to 40 mmHg: volume_now=8 L/min, paco2=55 mmHg, target=40 mmHg -> 11 L/min
    """
    return volume_now * paco2 / target


@minute_volume.balance
def _(volume_now, paco2, target, result):
    """Ventilation × PaCO2 stays the same, as the carbon dioxide breathed out does."""
    return result * target, volume_now * paco2


@minute_volume.inverse(of="volume_now")
def _(result, paco2, target):
    return result * target / paco2


@formula("mechanics.oxygenation", working="{pao2} ÷ {fio2}", powers={"pao2": 1})
def oxygenation(pao2: "mmHg", fio2: "") -> "mmHg":
    """PaO2/FiO2, by which the severity of respiratory distress syndrome is told.

    Statement: ratio = PaO2 ÷ FiO2, FiO2 as a fraction.

    Limits: near sea level; classes hold at PEEP or CPAP of 5 cmH2O or more, and with the rest of the definition.

    Source: Berlin definition, Table 1; clinical teaching page on the ratio.

    Example: clinical teaching page, PaO2 90 mmHg on 0.5: pao2=90 mmHg, fio2=0.5 -> 180 mmHg
    """
    return pao2 / fio2


@oxygenation.balance
def _(pao2, fio2, result):
    return result * fio2, pao2


@oxygenation.inverse(of="pao2")
def _(result, fio2):
    return result * fio2
