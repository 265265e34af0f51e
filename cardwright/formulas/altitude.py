"""Oxygen at altitude, from the pressure of the standard atmosphere."""

from cardwright.formulas.registry import formula


@formula("altitude.inspired_oxygen", working="{fio2} × ({pressure} − {vapor})", powers={"pressure": 1})
def inspired_oxygen(fio2: "", pressure: "mmHg", vapor: "mmHg") -> "mmHg":
    """Pressure of the oxygen in the windpipe.

    Statement: inspired oxygen = FiO2 × (barometric pressure − pressure of water vapor at body temperature).

    Limits: the pressure in the cabin, not the height of the aircraft; gas saturated at 37 °C.

    Source: Merck Manual, equations for alveolar oxygen pressure (water vapor 47 mmHg); Samuels 2004, Table 1.

    Example: Samuels 2004, sea level: fio2=0.21, pressure=760 mmHg, vapor=47 mmHg -> 150 mmHg
    """
    return fio2 * (pressure - vapor)


@inspired_oxygen.balance
def _(fio2, pressure, vapor, result):
    return result / fio2 + vapor, pressure


@inspired_oxygen.inverse(of="pressure")
def _(result, fio2, vapor):
    return result / fio2 + vapor


@formula("altitude.same_oxygen", working="{fio2} × ({here} − {vapor}) ÷ ({there} − {vapor})")
def same_oxygen(fio2: "", here: "mmHg", there: "mmHg", vapor: "mmHg") -> "":
    """FiO2 that gives at another pressure the inspired oxygen that the patient has here.

    Statement: FiO2 there = FiO2 here × (pressure here − water vapor) ÷ (pressure there − water vapor).

    Limits: inspired oxygen only; lungs, PEEP and trapped gas change too. Above 1 there is no such FiO2: fly lower, or raise PEEP.

    Source: equal inspired oxygen pressure, Merck Manual equations; a book on air travel: 8,000 ft is like 15.1 % at sea level.

    Example: handbook on altitude, air at 604 mmHg, told at sea level: fio2=0.21, here=604 mmHg, there=760 mmHg, vapor=47 mmHg -> 0.16
    """
    return fio2 * (here - vapor) / (there - vapor)


@same_oxygen.balance
def _(fio2, here, there, vapor, result):
    return result * there - result * vapor, fio2 * here - fio2 * vapor


@same_oxygen.inverse(of="here")
def _(result, fio2, there, vapor):
    return result * (there - vapor) / fio2 + vapor
