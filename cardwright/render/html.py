"""Views → HTML, through sandboxed templates with autoescape on and undefined names refused."""

from __future__ import annotations

import re
import signal
import threading
from collections.abc import Iterable, Iterator
from contextlib import contextmanager

from jinja2 import FileSystemLoader, StrictUndefined
from jinja2.sandbox import ImmutableSandboxedEnvironment
from markupsafe import Markup, escape

from cardwright.charts import Book
from cardwright.checks import Outcome
from cardwright.edition import data_root
from cardwright.render import views
from cardwright.render.audit import audit_view
from cardwright.render.deck import listed
from cardwright.render.fit import MARGIN, Fit, fitted
from cardwright.render.fonts import RenderError, check_characters, styles
from cardwright.render.measure import FIGURES, KEPT, PAD, TYPE, UNIT
from cardwright.render.signs import code, stamp
from cardwright.render.traces import traces
from cardwright.standing import Standing, shown_digest, unapproved

LONGEST = 30.0  # s: no page takes a tenth of that; a template that loops is stopped


class Pages:
    """Renders the pages of one book."""

    def __init__(self, book: Book, digest: str, outcomes: tuple[Outcome, ...], standing: Standing | None = None):
        self.book, self.digest, self.outcomes = book, digest, outcomes
        self.standing = standing or unapproved(book.edition, digest)
        self._fits: dict[str, Fit] = {}
        folders = [book.edition.root / "templates", data_root() / "templates"]
        self.environment = ImmutableSandboxedEnvironment(
            loader=FileSystemLoader(folders),
            autoescape=True,
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
        )
        self.environment.filters |= {"whole": whole, "unbroken": unbroken, "figures": figures}

    def fit(self, card_id: str) -> Fit:
        """How a card is printed. RenderError where it fits no way."""
        if card_id not in self._fits:
            self._fits[card_id] = fitted(self.book, card_id, self.standing)
        return self._fits[card_id]

    def card(self, card_id: str) -> str:
        """One card, self-contained: faces for paper and phone, and the trace of every cell."""
        card, fit = self.book.edition.cards[card_id], self.fit(card_id)
        return self._render(
            "card.html.j2",
            f"card {card_id}",
            card=card,
            card_id=card_id,
            faces=[(face.view, face.type) for face in fit.faces],
            width=fit.width,
            height=fit.height,
            margin=MARGIN,
            inner=round(fit.height - 2 * MARGIN - 0.1, 2),
            usual=TYPE,
            pad=PAD,
            gap=views.GAP,
            css=self._joined("card.css"),
            screen=self._joined("deck.css", "card-screen.css"),
            js=self._joined("columns.js", "card.js", "weight.js"),
            stamp=stamp(self.standing.stamp).address if self.standing.stamp else "",
            code=code(self.standing.code),
            traces=traces(self.book, card_id),
        )

    def audit(self) -> str:
        """The audit: every chart, given, working, witness, check and reference."""
        drill = self.book.edition.drill
        since = bool(drill) and drill.digest != self.digest
        view, css, screen = audit_view(self.book, self.outcomes), self._joined("audit.css"), self._joined("deck.css")
        return self._render("audit.html.j2", "the audit", css=css, screen=screen, drill=drill, changed_since=since, **view)

    def index(self, names: Iterable[str]) -> str:
        """The deck: the cards of these names, with what each is found by."""
        css, screen, js = self._joined("index.css"), self._joined("deck.css"), self._joined("index.js")
        return self._render("index.html.j2", "the index", css=css, screen=screen, js=js, cards=listed(self.book, names))

    def _render(self, template: str, where: str, **values) -> str:
        spec = self.book.edition.spec
        page = self.fill(
            template,
            edition=spec,
            name=self.book.edition.name,
            deck_js=self._joined("deck.js"),
            standing=self.standing,
            digest=shown_digest(self.digest),
            language=spec.language,
            fonts=Markup(styles()),
            **values,
        )
        check_characters(page, where)
        return page

    def fill(self, template: str, **values) -> str:
        """A template with these values. RenderError for whatever goes wrong in it, since it may be a service's own."""
        try:
            with _limited(LONGEST):
                return self.environment.get_template(template).render(**values)
        except Exception as error:  # a template can do wrong whatever an expression can
            told = str(error) or "no reason given"
            raise RenderError(f"template {template}: {type(error).__name__}: {told}; mend the template, or delete your own") from error

    def _text(self, name: str) -> str:
        return self.environment.loader.get_source(self.environment, name)[0]

    def _joined(self, *names: str) -> Markup:
        """Style sheets or scripts, one after the other, to stand in a page as they are."""
        return Markup("\n".join(self._text(name) for name in names))


@contextmanager
def _limited(seconds: float) -> Iterator[None]:
    """TimeoutError for work that goes on for longer; only the main thread can be stopped."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return

    def stop(*_: object) -> None:
        raise TimeoutError(f"is not done after {seconds:g} s")

    before = signal.signal(signal.SIGALRM, stop)
    signal.setitimer(signal.ITIMER_REAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)


def whole(text: str, kept: str = KEPT.pattern) -> Markup:
    """A text in which no unit with a slash is broken between two lines, nor parted from its number."""
    span = Markup('<span class="whole">{}</span>')
    return Markup("").join(span.format(part) if place % 2 else escape(part) for place, part in enumerate(re.split(f"({kept})", text)))


def unbroken(text: str) -> Markup:
    """The head of a narrow column, in which a unit with a slash is not broken, but may stand under its number."""
    return whole(text, UNIT)


def figures(text: str) -> Markup:
    """The words of a cell, in which no range is broken between two lines, nor a figure parted from what it counts."""
    return whole(text, FIGURES.pattern)
