"""What every mapping of the YAML files has in common.

Keys are field names with spaces for underscores (``review by``). Numbers and quantities stay exact and keep their marks.
"""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ConfigDict, PrivateAttr, ValidationInfo, model_validator

from cardwright.documents import Table, unknown
from cardwright.provenance import Mark
from cardwright.values import NOWHERE


class Record(BaseModel):
    """A mapping of the YAML files: unknown keys are problems with a near miss, and the mark is kept."""

    model_config = ConfigDict(
        frozen=True, alias_generator=lambda name: name.replace("_", " "), arbitrary_types_allowed=True, extra="ignore"
    )
    _mark: Mark = PrivateAttr(NOWHERE)

    @property
    def mark(self) -> Mark:
        """Where the record begins."""
        return self._mark

    @model_validator(mode="wrap")
    @classmethod
    def _keep_mark(cls, data: Any, handler, info: ValidationInfo):
        if isinstance(data, Table):
            known = [item.alias for item in cls.model_fields.values()]
            for key in data:
                if key not in known:
                    info.context.add(key.mark, unknown("key", key, known))
        made = handler(data)
        made._mark = getattr(data, "mark", NOWHERE)
        return made

    @classmethod
    def model_json_schema(cls, **options):
        """JSON Schema in which unknown keys are wrong, as they are here."""
        schema = super().model_json_schema(**options)
        for part in [schema, *schema.get("$defs", {}).values()]:
            if "properties" in part:
                part["additionalProperties"] = False
        return schema
