"""Children: weight from age, tube sizes and depths, the lowest blood pressure for an age, maintenance fluid."""

from cardwright.formulas.registry import formula


@formula("pediatric.weight", working="{slope} × {age} + {constant}")
def weight(age: "year", slope: "kg/year", constant: "kg") -> "kg":
    """Body weight estimated from age, by one named published rule.

    Statement: weight = slope × age + constant.

    Limits: the ages that the rule was made for; a last resort after weighing, the family's word and length. Every age rule is
    far off for single children.

    Source: Luscombe and Owens 2007 (3 × age + 7; and 2 × (age + 4), the older course rule); Marikar 2015 for the course rules of 2011.

    Example: Marikar 2015, anchor of the 2011 rules, 25 kg at 6 years: age=6 year, slope=3 kg/year, constant=7 kg -> 25 kg
    """
    return slope * age + constant


@weight.balance
def _(age, slope, constant, result):
    return result - constant, age * slope


@weight.inverse(of="age")
def _(result, slope, constant):
    return (result - constant) / slope


@formula("pediatric.size_by_age", working="{age} ÷ {divisor} + {constant}")
def size_by_age(age: "year", divisor: "year/mm", constant: "mm") -> "mm":
    """Length that grows with age: inner diameter of a tracheal tube, or its depth at the lips.

    Statement: size = age ÷ divisor + constant; for example age in years ÷ 4 + 4 in mm.

    Limits: over the age that the source names, to about 10 years; keep a tube 0.5 mm smaller and larger at hand.

    Source: Khine 1997 (uncuffed age/4 + 4), Duracher 2008 (cuffed age/4 + 3.5), hospital guideline (depth age/2 + 12 cm).

    Example: emergency medicine teaching note, 4 years, uncuffed: age=4 year, divisor=4 year/mm, constant=4 mm -> 5 mm
    """
    return age / divisor + constant


@size_by_age.balance
def _(age, divisor, constant, result):
    return (result - constant) * divisor, age


@size_by_age.inverse(of="age")
def _(result, divisor, constant):
    return (result - constant) * divisor


@formula("pediatric.size_by_weight", working="{weight} ÷ {divisor} + {constant}")
def size_by_weight(weight: "kg", divisor: "kg/cm", constant: "cm") -> "cm":
    """Length that grows with body weight: depth of a newborn's tracheal tube at the lips.

    Statement: depth = weight ÷ divisor + constant; for a newborn weight in kg + 6 in cm.

    Limits: newborns; the rule placed the tip mid-trachea in about half of 100 newborns, so confirm by capnography and by sight.

    Source: Peng 2020, abstract (Tochen's rule).

    Example: the rule's own arithmetic for 3 kg, as in Peng 2020: weight=3 kg, divisor=1 kg/cm, constant=6 cm -> 9 cm
    """
    return weight / divisor + constant


@size_by_weight.balance
def _(weight, divisor, constant, result):
    return (result - constant) * divisor, weight


@size_by_weight.inverse(of="weight")
def _(result, divisor, constant):
    return (result - constant) * divisor


@formula("pediatric.size_by_tube", working="{ratio} × {tube}", powers={"ratio": 1, "tube": 1})
def size_by_tube(tube: "mm", ratio: "mm/mm") -> "mm":
    """What follows from the tube chosen: depth at the lips, or the catheter that passes it.

    Statement: size = ratio × inner diameter of the tube; depth in cm = 3 × mm, catheter in Fr = 2 × mm.

    Limits: a rule of thumb on the size printed; look, listen and measure expired CO2.

    Source: Pediatrics Student Handbook, University of Iowa, chapter 7 (depth); emergency medicine teaching note, 1-2-3-4 rule (catheter).

    Example: teaching note, 4 years, tube 5 mm, depth 15 cm: tube=5 mm, ratio=3 cm/mm -> 15 cm
    """
    return ratio * tube


@size_by_tube.balance
def _(tube, ratio, result):
    return result / ratio, tube


@size_by_tube.inverse(of="tube")
def _(result, ratio):
    return result / ratio


@formula("pediatric.lowest_systolic", working="{slope} × {age} + {constant}")
def lowest_systolic(age: "year", slope: "mmHg/year", constant: "mmHg") -> "mmHg":
    """Systolic pressure below which a child of an age has hypotension.

    Statement: limit = slope × age + constant; 2 × age in years + 70 in mmHg.

    Limits: 1 to 10 years; 90 mmHg from 10 years. A limit and no goal: shock begins before pressure falls.

    Source: American Heart Association, pediatric advanced life support 2006 and 2015, tables of hypotension.

    Example: emergency protocol exam, 5 years: age=5 year, slope=2 mmHg/year, constant=70 mmHg -> 80 mmHg
    """
    return slope * age + constant


@lowest_systolic.balance
def _(age, slope, constant, result):
    return result - constant, age * slope


@lowest_systolic.inverse(of="age")
def _(result, slope, constant):
    return (result - constant) / slope


@formula(
    "pediatric.maintenance", working="{first} for the first {band}, {second} for the next, {rest} for the rest of {weight}", as_written=True
)
def maintenance(weight: "kg", band: "kg", first: "mL/kg/h", second: "mL/kg/h", rest: "mL/kg/h") -> "mL/h":
    """Maintenance fluid of a child, with one rate per kg for each band of weight.

    Statement: rate = first × the first band of weight + second × the next band + rest × what is above both.

    Limits: not newborns; a starting rate for a child who drinks nothing, too much where the kidneys hold back water.

    Source: Holliday and Segar 1957, as 4, 2 and 1 mL/kg/h for 10, 10 and the remaining kg, and as 100, 50 and 20 mL/kg/day.

    Example: hospital nursing course, 25 kg: weight=25 kg, band=10 kg, first=4 mL/kg/h, second=2 mL/kg/h, rest=1 mL/kg/h -> 65 mL/h
    """
    above = max(weight - band, 0 * weight)
    return first * min(weight, band) + second * min(above, band) + rest * max(above - band, 0 * weight)


@maintenance.balance
def _(weight, band, first, second, rest, result):
    """The last rate for all the weight, and what the earlier bands get more."""
    return result, rest * weight + (second - rest) * min(weight, 2 * band) + (first - second) * min(weight, band)


@maintenance.inverse(of="weight")
def _(result, band, first, second, rest):
    if result <= first * band:
        return result / first
    if result <= (first + second) * band:
        return band + (result - first * band) / second
    return 2 * band + (result - (first + second) * band) / rest
