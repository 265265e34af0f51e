"""The list of documented checks: what each asks, why, where it comes from, and what its codes mean."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Callable, Iterator

from cardwright.checks import CHECKS, Check


def as_text() -> str:
    """For the terminal: a paragraph a check."""
    return "\n\n".join("\n".join(_paragraph(check)) for check in CHECKS.values())


def _paragraph(check: Check) -> Iterator[str]:
    yield f"{check.id} ({_severity(check)})"
    for text in (check.question, f"Why: {check.rationale}", f"Origin: {check.origin}"):
        yield textwrap.fill(text, 100, initial_indent="  ", subsequent_indent="  ")
    wide = max(map(len, check.codes))
    for code, meaning in check.codes.items():
        yield textwrap.fill(meaning, 100, initial_indent=f"    {code:<{wide}}  ", subsequent_indent=" " * (wide + 6))


def as_json() -> str:
    """For programs: a list of the checks."""
    return json.dumps([_plain(check) for check in CHECKS.values()], indent=1, ensure_ascii=False)


def _plain(check: Check) -> dict:
    names = ("id", "subject", "severity", "approval", "question", "rationale", "origin")
    return {name: getattr(check, name) for name in names} | {"codes": dict(check.codes)}


def as_markdown() -> str:
    """For DEVELOPERS.md: an entry a check."""
    return "\n\n".join("\n".join(_entry(check)) for check in CHECKS.values())


def _entry(check: Check) -> Iterator[str]:
    yield f"**`{check.id}`** ({_severity(check)}). {check.question} *Why:* {check.rationale} *Origin:* {check.origin}.\n"
    for code, meaning in check.codes.items():
        yield f"- `{code}`: {meaning}"


def _severity(check: Check) -> str:
    return check.severity if check.approval == check.severity else f"{check.severity}; {check.approval} at approval"


CATALOGUES: dict[str, Callable[[], str]] = {"text": as_text, "json": as_json, "markdown": as_markdown}
