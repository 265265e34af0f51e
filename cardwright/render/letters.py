"""The superscript letters that lead from what a face prints to its sources."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from cardwright.models import Reference
from cardwright.provenance import Citation


@dataclass
class Letters:
    """Superscript letters for the references of one face, in order of appearance, with the locators used."""

    references: Mapping[str, Reference]
    used: dict[str, list[str]] = field(default_factory=dict)

    def of(self, citations: Iterable[Citation]) -> str:
        """The letters of these citations, such as ``a,c``."""
        keys = []
        for citation in citations:
            locators = self.used.setdefault(citation.key, [])
            if citation.locator not in locators:
                locators.append(citation.locator)
            if citation.key not in keys:
                keys.append(citation.key)
        return ",".join(self._letter(key) for key in keys)

    def _letter(self, key: str) -> str:
        place = list(self.used).index(key)
        return chr(ord("a") + place) if place < 26 else f"a{chr(ord('a') + place - 26)}"

    def listed(self) -> list[tuple[str, str]]:
        """Letter and text of each source: short name, locators, and whether it rests on memory."""
        return [(self._letter(key), self._told(key, locators)) for key, locators in self.used.items()]

    def _told(self, key: str, locators: list[str]) -> str:
        reference = self.references[key]
        memory = " (from memory)" if reference.read == "memory" else ""
        return f"{reference.short}{memory}, {'; '.join(locators)}"
