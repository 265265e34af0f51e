"""The shape of the lists of wording: ways of writing that are read for something else, and names in tall man letters."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field, PlainValidator, WithJsonSchema, model_validator

from cardwright.models.record import Record
from cardwright.models.sources import Conflict
from cardwright.provenance import Citation
from cardwright.values import Cite, Words

# How a form must stand to be meant; letters beside it make it part of another word.
STANDS = ("a word", "after a number", "a unit", "between amounts", "anywhere")


class Misread(Record):
    """A way of writing that is read for something else: what it means, what it is taken for, and what to write."""

    forms: Annotated[list[Words], Field(min_length=1)] = Field(description="as written, capitals counting; {n} is any whole number")
    stands: Literal[STANDS] = Field("a word", description="a unit stands after a number or by a slash; an amount is number and unit")
    means: Words
    mistaken_for: Words
    write: Words
    cite: Cite


class Designation(Record):
    """A way to write a dose that is read for another dose; ``such_as`` is an example of it."""

    such_as: Words
    mistaken_for: Words
    write: Words
    cite: Cite


class Doses(Record):
    """Every way to write a dose that the checks know how to find."""

    trailing_zero: Designation
    naked_decimal: Designation
    no_space: Designation
    no_comma: Designation
    ratio: Designation
    fraction: Designation
    roman: Designation
    joined: Designation
    period: Designation


def _listed(value: object) -> tuple[str, ...]:
    names = value.split(", ") if isinstance(value, str) else [""]
    if wrong := [name for name in names if not name.isalpha()]:
        raise ValueError(f"'{wrong[0]}' is not a name; expected names of letters with a comma and a space between: 'DOPamine, DOBUTamine'")
    return tuple(names)


class NameList(Record):
    """Names of one published list, each as that list prints it."""

    title: Words
    forms: Annotated[tuple[str, ...], PlainValidator(_listed), WithJsonSchema({"type": "string", "examples": ["DOPamine, DOBUTamine"]})]
    cite: Cite


class Names(Record):
    """The national list that names follow, part by part, and names known to be on no part of it, which stay plain."""

    national_list: Words
    tall_man: Annotated[list[NameList], Field(min_length=1)]
    plain: NameList

    @model_validator(mode="after")
    def _one_form(self):
        forms = [form for part in (*self.tall_man, self.plain) for form in part.forms]
        names = [form.lower() for form in forms]
        if twice := [form for form, name in zip(forms, names) if names.count(name) > 1]:
            raise ValueError(f"name '{twice[0]}' stands twice; expected one form of each name: delete the other")
        for form in (form for part in self.tall_man for form in part.forms):
            if form in (form.lower(), form.upper()):
                raise ValueError(f"'{form}' is not in tall man letters; expected some letters in capitals, such as 'DOPamine'")
        if tall := [form for form in self.plain.forms if form != form.lower()]:
            raise ValueError(f"'{tall[0]}' is not plain; expected small letters only, or the name under 'tall man'")
        return self


class Wording(Record):
    """``wording.yaml``: facts of the safe-labelling lists in our own words, each with where it was read."""

    abbreviations: list[Misread]
    symbols: list[Misread]
    units: list[Misread]
    doses: Doses
    names: Names
    conflicts: list[Conflict] = Field(default_factory=list)
    open: list[Words] = Field(default_factory=list, description="what no list that was read states")

    def citations(self) -> Iterator[Citation]:
        """Every citation of the lists."""
        doses = (getattr(self.doses, name) for name in Doses.model_fields)
        names = (*self.names.tall_man, self.names.plain)
        for item in (*self.abbreviations, *self.symbols, *self.units, *doses, *names, *self.conflicts):
            yield from item.cite
