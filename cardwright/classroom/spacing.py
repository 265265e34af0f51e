"""When a problem has one right answer however its reader rounds on the way, and when an altered figure is plainly wrong.

The rule, told on each sheet: multiply first, divide last, and round once, at the end, as the chart does. A problem is asked only if

* every value within one part in 2,000 of the exact one prints the same. That is as far as a step that is rounded to four figures
  can move it; or
* nothing is rounded at all: the exact value is the printed one. Multiplied first, every step before it is exact as well.

A figure that stands for a wrong one is off by a tenth of the right one or more, so that no rounding excuses it.
"""

from __future__ import annotations

from fractions import Fraction

from cardwright.charts import Cell, Line
from cardwright.numbers import Rule

PLAY = Fraction(1, 2000)  # half a unit in the fourth figure of 1.000, the most that rounding to four figures moves a number
OFF = Fraction(1, 10)  # twice the 5 % by which a rounded rate may move a dose


def spaced(rule: Rule, exact: Fraction, printed: Fraction) -> bool:
    """Whether one answer is right: ``printed``, however a step before the last was rounded to four figures."""
    if exact == printed:
        return True
    return all(rule.apply(exact * (1 + off)) == printed and not rule.refuses(exact * (1 + off)) for off in (-PLAY, PLAY))


def asked_plainly(line: Line, cell: Cell) -> bool:
    """Whether a cell may be the answer to a problem: a number, not zero, and spaced."""
    return cell.state == "ok" and bool(cell.value) and line.rule is not None and spaced(line.rule, cell.exact, cell.value)


def plainly_wrong(exact: Fraction, altered: Fraction) -> bool:
    """Whether an altered figure is so far off that no rounding excuses it."""
    return abs(altered - exact) >= OFF * abs(exact)
