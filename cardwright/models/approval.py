"""What a signature on an edition approves: the manifest that is embedded, as ``manifest.json``, in the signed review document."""

from __future__ import annotations

import datetime
from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

Told = Annotated[str, Field(min_length=1)]
Digest = Annotated[str, Field(pattern="^sha256:[0-9a-f]{64}$")]
Sum = Annotated[str, Field(pattern="^[0-9a-f]{64}$")]


class _Strict(BaseModel):
    """Unknown keys and other types than the ones asked for are refused."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)


class Signatory(_Strict):
    """Someone whose signature the approval needs."""

    name: Told
    license: str
    role: Told


class Superseded(_Strict):
    """The approval that this one takes the place of: its number, and the SHA-256 of its signed PDF."""

    number: int = Field(ge=1)
    sha256: Sum


class Manifest(_Strict):
    """An approval: of which content (digests), in which files (SHA-256 by path), by whom, from when until when.

    ``charts`` are digests by chart id, ``references`` identifiers or titles by key, ``acknowledged`` the large changes that the
    signatories have seen, ``address`` where the service can be asked, or nothing.
    """

    format: Literal["cardwright-approval/1"] = "cardwright-approval/1"
    edition: Told
    title: Told
    issuer: Told
    number: int = Field(ge=1)
    digest: Digest
    approved: datetime.date
    expires: datetime.date
    signatories: Annotated[list[Signatory], Field(min_length=1)]
    charts: dict[Told, Digest]
    artifacts: dict[Told, Sum]
    references: dict[Told, Told]
    acknowledged: list[Told]
    supersedes: Superseded | None
    address: str = ""

    @model_validator(mode="after")
    def _in_order(self):
        if self.expires <= self.approved:
            raise ValueError(f"approval ends on {self.expires}, but begins on {self.approved}; expected a later end")
        if self.supersedes and self.supersedes.number >= self.number:
            raise ValueError(f"approval {self.number} takes the place of {self.supersedes.number}; expected an earlier one")
        return self
