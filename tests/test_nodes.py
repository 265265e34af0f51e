"""Two readers of YAML: the fast one decides what a file says, the other tells what is wrong. They read our files alike."""

from __future__ import annotations

from pathlib import Path

import pytest
import yaml

from cardwright.nodes import Refused, _Fast, _Telling, composed

ROOT = Path(__file__).parent.parent
FILES = sorted(path for folder in ("cards", "sources", "tests/small") for path in (ROOT / folder).rglob("*.yaml"))


def told(node: yaml.Node) -> tuple:
    """A node with its place, and whether and how it was quoted."""
    place = node.start_mark.line, node.start_mark.column
    if isinstance(node, yaml.MappingNode):
        return place, [(told(key), told(value)) for key, value in node.value]
    return place, [told(item) for item in node.value] if isinstance(node, yaml.SequenceNode) else (node.value, node.style or None)


def test_both_readers_read_every_file_of_the_project_alike():
    """Each key and value, with its line and column: a source table says the same whichever reads it."""
    assert len(FILES) > 100
    for path in FILES:
        text = path.read_text(encoding="utf-8")
        assert told(yaml.compose(text, Loader=_Fast)) == told(yaml.compose(text, Loader=_Telling)), path


@pytest.mark.parametrize("text", ["a: &x 1\nb: *x\n", "a: !!int 1\n", "a: " + "[" * 13 + "]" * 13])
def test_what_an_edition_never_needs_is_refused_by_both(text):
    """An alias can make a small file huge; a tag gives a value another meaning; a deep nest is no table."""
    for reader in (_Fast, _Telling):
        with pytest.raises(Refused):
            yaml.compose(text, Loader=reader)


def test_what_is_wrong_is_told_in_the_words_of_the_one_that_tells():
    """The place is the one to mend, and the words name the sign that is missing."""
    with pytest.raises(yaml.MarkedYAMLError) as caught:
        composed("a: [1, 2\nb: 3\n")
    assert (caught.value.problem, caught.value.problem_mark.line) == ("expected ',' or ']', but got ':'", 1)


def test_what_only_the_fast_one_refuses_is_refused():
    """Half a character, written as an escape: Python would read it."""
    with pytest.raises(yaml.YAMLError, match="invalid Unicode character escape"):
        composed('a: "\\ud800"')
