"""The approval of an edition: keys, the signed review document, the register of approvals, and what a file at hand is worth."""

from __future__ import annotations


class Refused(Exception):
    """What was asked for is refused; ``problems`` say why, each in a line."""

    def __init__(self, *problems: str):
        super().__init__("\n".join(problems))
        self.problems = problems
