"""YAML text → nodes with their marks. What of YAML an edition never needs is refused at its place, before anything is copied."""

from __future__ import annotations

import yaml
from yaml.composer import Composer
from yaml.cyaml import CParser
from yaml.resolver import Resolver

DEEPEST = 12


class Refused(yaml.MarkedYAMLError):
    """Something of YAML that an edition never needs."""


class _Plain:
    """Composes plain YAML only: no alias, anchor or tag, and no nest too deep."""

    depth = -1

    def compose_node(self, parent: yaml.Node | None, index: object) -> yaml.Node:
        event = self.peek_event()
        if event.anchor:
            told = "uses an anchor or alias (&name, *name); expected the value itself: write it out"
            raise Refused(problem=told, problem_mark=event.start_mark)
        if event.tag:
            raise Refused(problem=f"uses a tag ({event.tag}); expected the value alone: take the tag away", problem_mark=event.start_mark)
        if self.depth == DEEPEST:
            raise Refused(problem=f"nests deeper than {DEEPEST} levels; expected a flatter table", problem_mark=event.start_mark)
        self.depth += 1
        try:
            return super().compose_node(parent, index)
        finally:
            self.depth -= 1


class _Fast(_Plain, Composer, CParser, Resolver):
    """Reads by libyaml, some five times as fast as Python."""

    def __init__(self, text: str):
        CParser.__init__(self, text)
        Composer.__init__(self)
        Resolver.__init__(self)


class _Telling(_Plain, yaml.SafeLoader):
    """Reads in Python, which tells in better words, and at a truer place, why a text is not YAML."""


def composed(text: str) -> yaml.Node | None:
    """The nodes of a YAML text. YAMLError where it is none, or is not plain."""
    try:
        return yaml.compose(text, Loader=_Fast)
    except Refused:
        raise
    except yaml.YAMLError:
        yaml.compose(text, Loader=_Telling)
        raise
