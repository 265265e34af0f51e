"""A service's own templates: they change how a page looks, and can't read a file, ask the network, run for ever or change a number."""

from __future__ import annotations

import time

import pytest
from test_bad_input import run

from cardwright.render import html

CARD = "card.html.j2"


def own(hill, name: str, old: str, new: str) -> None:
    """A template of the service's own: the program's, with something put in the place of something that stands in it once."""
    text = (hill.root / "templates" / name).read_text(encoding="utf-8")
    assert text.count(old) == 1
    (hill.folder / "templates").mkdir(exist_ok=True)
    (hill.folder / "templates" / name).write_text(text.replace(old, new), encoding="utf-8")


def refused(hill, *told: str) -> None:
    """A build that ends with status 1, tells these words, and writes nothing."""
    done = run("build", "cards/hill", "--card", "rates", "--output", "out")
    assert (done.exit_code, done.stdout) == (1, ""), done.stderr
    assert done.stderr.endswith("nothing was written\n")
    assert all(words in done.stderr for words in told), done.stderr
    assert not (hill.root / "out").exists()


FAULTS = {
    "a file above": ("{% include '../edition.yaml' %}", "TemplateNotFound: ../edition.yaml;"),
    "a file by its path": ("{% include '/etc/hostname' %}", "TemplateNotFound: '/etc/hostname' not found"),
    "a parent": ("{% extends '../../small/edition.yaml' %}", "TemplateNotFound: ../../small/edition.yaml"),
    "the program": ("{{ ''.__class__.__mro__ }}", "SecurityError: access to attribute '__class__' of 'str' object is unsafe"),
    "the program by a filter": ("{{ ''|attr('__class__') }}", "SecurityError"),
    "the program by a format": ("{{ '{0.__class__.__mro__}'.format(edition) }}", "SecurityError"),
    "a long range": ("{% for n in range(10 ** 9) %}{% endfor %}", "OverflowError: Range too big"),
    "a slip": ("{{ 1 / 0 }}", "ZeroDivisionError"),
    "no template": ("{% if %}", "TemplateSyntaxError"),
}


@pytest.mark.parametrize("kind", FAULTS)
def test_a_template_that_reaches_out_is_told_and_not_followed(hill, kind):
    """What a template may not do stops the build with one line that names it."""
    text, told = FAULTS[kind]
    own(hill, CARD, "</main>", f"{text}</main>")
    refused(hill, f"template {CARD}: {told}")


def test_a_template_that_loops_is_stopped(hill, monkeypatch):
    """Loops in loops would run for days."""
    monkeypatch.setattr(html, "LONGEST", 0.3)
    inner = "{% for a in range(99999) %}{% for b in range(99999) %}{% endfor %}{% endfor %}"
    own(hill, CARD, "</main>", f"{inner}</main>")
    start = time.monotonic()
    refused(hill, f"template {CARD}: TimeoutError: is not done after 0.3 s")
    assert time.monotonic() - start < 20


FETCHES = {
    "an image": ("</main>", "<img alt='' src='http://127.0.0.1:9/a.png'></main>"),
    "a file": ("</main>", "<img alt='' src='file:///etc/hostname'></main>"),
    "a style sheet": ("</head>", "<link rel='stylesheet' href='http://127.0.0.1:9/a.css'></head>"),
    "an import": ("<style>", "<style>@import url('http://127.0.0.1:9/a.css');"),
    "a background": ("</head>", "<style>body { background: url(http://127.0.0.1:9/a.png) }</style></head>"),
    "a typeface": (
        "</head>",
        "<style>@font-face { font-family: b; src: url(http://127.0.0.1:9/b) } td { font-family: b }</style></head>",
    ),
}


@pytest.mark.parametrize("kind", FETCHES)
def test_a_template_that_asks_for_a_file_or_the_network_is_told(hill, kind):
    """Nothing but what a page carries itself is used, and what it asks for beside is an error."""
    own(hill, CARD, *FETCHES[kind])
    refused(hill, "rates: the renderer said: ")


NUMBERS = {
    "another number": ("else cell.text }}", "else cell.text | replace('26.3', '36.3') }}", "printed.cells"),
    "a number more": ("</main>", "<p>9 mL/h</p></main>", "printed."),
}


@pytest.mark.parametrize("kind", NUMBERS)
def test_a_template_that_prints_another_number_fails_the_proof(hill, kind):
    """What is printed is read back, whichever template printed it."""
    old, new, check = NUMBERS[kind]
    own(hill, CARD, old, new)
    refused(hill, check)


def test_a_template_that_only_looks_otherwise_is_used(hill):
    """The service's style is on the page, and its cards pass their proof."""
    (hill.folder / "templates").mkdir()
    text = (hill.root / "templates" / "card.css").read_text(encoding="utf-8")
    (hill.folder / "templates" / "card.css").write_text(text + "\n.chart { orphans: 3 }\n", encoding="utf-8")
    assert run("build", "cards/hill", "--card", "rates", "--output", "out").exit_code == 0
    assert ".chart { orphans: 3 }" in (hill.root / "out/hill/cards/rates.html").read_text(encoding="utf-8")
