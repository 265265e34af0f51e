"""The record of a drill that stands beside an edition, in ``drill.json``; a program writes it, and the audit prints it."""

from __future__ import annotations

import datetime

from pydantic import BaseModel, ConfigDict, Field, model_validator


class Count(BaseModel):
    """How many slips were seeded, and how many of them the checks caught."""

    model_config = ConfigDict(frozen=True, extra="forbid")
    seeded: int = Field(ge=0)
    caught: int = Field(ge=0)

    @model_validator(mode="after")
    def _no_more_than_all(self):
        if self.caught > self.seeded:
            raise ValueError("more slips caught than seeded")
        return self

    @property
    def told(self) -> str:
        """The count in words with its percentage, rounded down so that 100 % means all: ``9,990 of 10,000 (99.9 %)``."""
        tenths = self.caught * 1000 // self.seeded if self.seeded else 0
        return f"{self.caught:,} of {self.seeded:,} ({tenths // 10}.{tenths % 10} %)"


class DrillRecord(Count):
    """A drill of an edition: on which day, with which seed, and the digest of the charts that were drilled."""

    on: datetime.date
    digest: str = Field(pattern="^sha256:[0-9a-f]{64}$")
    seed: int
    critical: Count
