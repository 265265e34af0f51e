"""Teaching material made from the charts of an edition: handouts, posters, practice problems with their key, and exports.

No number is made here but by the engine: what is asked beyond a chart's own heads goes through ``compare.worked``, which lets
``CellMaker`` make the cell.
"""

from __future__ import annotations


class Unfit(Exception):
    """What was asked for can't be made of these charts; ``problems`` say why, one line each."""

    def __init__(self, *problems: str):
        super().__init__("\n".join(problems))
        self.problems = problems
