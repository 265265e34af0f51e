"""The content of an edition as a file has it: an edition.json, or a signed review document with one attached."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path
from typing import Annotated, Literal

from pydantic import AfterValidator, BaseModel, Field, ValidationError, model_validator

from cardwright.approval import Refused
from cardwright.approval.keys import Certificates
from cardwright.approval.register import read_entry
from cardwright.documents import InputError, Problem

EXPECTED = "expected an edition.json, or a signed review document with one attached"
Cite = list[tuple[str, str]]


def _fraction(text: str) -> str:
    Fraction(text)
    return text


class _Cell(BaseModel):
    printed: str
    exact: Annotated[str, Field(pattern="^-?[0-9]{1,400}(/[1-9][0-9]{0,400})?$"), AfterValidator(_fraction)] | None
    state: str
    trace: str | None


class _Axis(BaseModel):
    name: str
    unit: str
    values: list[str]
    groups: list[str] | None = None
    units: list[str] | None = None
    formulas: list[str | None] | None = None


class _Chart(BaseModel):
    id: str
    title: str
    formula: str | None
    unit: str | None
    rows: _Axis
    columns: _Axis
    cells: list[list[_Cell]]

    @model_validator(mode="after")
    def _is_a_grid(self):
        wide = len(self.columns.values)
        lists = [self.columns.groups, self.columns.units, self.columns.formulas, *self.cells]
        if len(self.cells) != len(self.rows.values) or any(len(each) != wide for each in lists if each is not None):
            raise ValueError(f"chart '{self.id}' is no grid of its rows and columns")
        return self


class _Note(BaseModel):
    text: str
    cite: Cite


class _Face(BaseModel):
    title: str
    mixes: list[str]


class _Card(BaseModel):
    id: str
    title: str
    faces: list[_Face]
    charts: list[str]
    notes: list[_Note]


class _Trace(BaseModel):
    formula: str | None
    working: str
    rounding: str
    inputs: list[str]


class _Given(BaseModel):
    value: str
    says: str
    cite: Cite


class _Reference(BaseModel, extra="allow"):
    __pydantic_extra__: dict[str, str]
    title: str


class _Told(BaseModel):
    name: str
    title: str
    number: int
    issued: str


class _Content(BaseModel):
    """What of an edition.json is compared with another one."""

    format: Literal["cardwright-edition/1"]
    edition: _Told
    digest: str
    cards: list[_Card]
    charts: list[_Chart]
    traces: dict[str, _Trace]
    givens: dict[str, _Given]
    references: dict[str, _Reference]


def recorded(path: Path, certificates: Certificates) -> dict:
    """The content in a file. InputError where it can't be read, or where it is signed by none of these certificates."""
    data = path.read_bytes()
    try:
        if data.startswith(b"%PDF-"):
            entry = read_entry(data, certificates)
            if entry.seal.verdict:
                raise Refused(entry.seal.reason)
            return checked_content(entry.edition_json)
        return checked_content(json.loads(data))
    except Refused as error:
        raise InputError([Problem(str(path), 1, 1, f"{error}; {EXPECTED}")]) from None
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(map(str, first["loc"])) or "the file"
        raise InputError([Problem(str(path), 1, 1, f"{where}: {first['msg']}; {EXPECTED}")]) from None
    except (ValueError, RecursionError):
        raise InputError([Problem(str(path), 1, 1, f"can't be read as JSON; {EXPECTED}")]) from None


def checked_content(content: object) -> dict:
    """The content itself, if it has the shape that ``differences`` asks for; ValidationError if not."""
    _Content.model_validate(content)
    return content
