"""JSON Schemas of the YAML files, for editors. The .json files beside this are generated; a test keeps them true."""

from __future__ import annotations

import json

from cardwright.models import CardSpec, Drug, EditionSpec, LocalSpec, PersonalSpec, References, Subject, Wording

SCHEMAS = {
    "references": References,
    "drug": Drug,
    "subject": Subject,
    "card": CardSpec,
    "edition": EditionSpec,
    "local": LocalSpec,
    "personal": PersonalSpec,
    "wording": Wording,
}


def schema_text(kind: str) -> str:
    """The schema of one kind of file as JSON text."""
    schema = SCHEMAS[kind].model_json_schema()
    return json.dumps({"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}, indent=1, ensure_ascii=False) + "\n"
