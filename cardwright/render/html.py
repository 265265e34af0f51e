"""Views → HTML, through sandboxed templates with autoescape on and undefined names refused."""

from __future__ import annotations

from pathlib import Path

from jinja2 import FileSystemLoader, StrictUndefined
from jinja2.sandbox import ImmutableSandboxedEnvironment
from markupsafe import Markup

from cardwright.charts import Book
from cardwright.checks import Outcome
from cardwright.edition import data_root
from cardwright.render import views
from cardwright.render.audit import audit_view
from cardwright.render.fonts import check_characters, styles
from cardwright.render.measure import PAD, TYPE
from cardwright.render.traces import traces

# Trim sizes in mm, short side first. The index card is the 3 × 5 in card of the US stationery trade.
SIZES = {"index card": (76.2, 127.0)}
MARGIN = 3.2
STATUS = {"reference": "REFERENCE, not a local protocol", "draft": "DRAFT, not approved"}


class Pages:
    """Renders the pages of one book."""

    def __init__(self, book: Book, digest: str, outcomes: tuple[Outcome, ...]):
        self.book, self.digest, self.outcomes = book, digest, outcomes
        own = book.edition.root / "templates"
        self.folder = own if own.is_dir() else data_root() / "templates"
        self.environment = ImmutableSandboxedEnvironment(
            loader=FileSystemLoader(self.folder),
            autoescape=True,
            undefined=StrictUndefined,
            trim_blocks=True,
            lstrip_blocks=True,
        )

    def card(self, card_id: str) -> str:
        """One card, self-contained: faces for paper and phone, and the trace of every cell."""
        card = self.book.edition.cards[card_id]
        short, long = SIZES[card.size]
        width, height = (short, long) if card.turn == "portrait" else (long, short)
        inner = round(width - 2 * MARGIN, 2), round(height - 2 * MARGIN - 0.1, 2)
        faces = views.faces(self.book, card_id, inner[0])
        return self._render(
            "card.html.j2",
            f"card {card_id}",
            card=card,
            faces=faces,
            width=width,
            height=height,
            margin=MARGIN,
            inner=inner,
            type=TYPE,
            pad=PAD,
            gap=views.GAP,
            css=self._css("card.css"),
            js=Markup(self._text("card.js")),
            traces=traces(self.book, card_id),
        )

    def audit(self) -> str:
        """The audit: every chart, given, working, witness, check and reference."""
        return self._render("audit.html.j2", "the audit", css=self._css("audit.css"), **audit_view(self.book, self.outcomes))

    def index(self) -> str:
        """The list of cards."""
        cards = [
            (card_id, card.title, [side.title for side in self.book.sides[card_id]]) for card_id, card in self.book.edition.cards.items()
        ]
        return self._render("index.html.j2", "the index", css=self._css("index.css"), cards=cards)

    def _render(self, template: str, where: str, **values) -> str:
        spec = self.book.edition.spec
        page = self.environment.get_template(template).render(
            edition=spec,
            status=STATUS[spec.status],
            digest=shown_digest(self.digest),
            language=spec.language,
            fonts=Markup(styles()),
            **values,
        )
        check_characters(page, where)
        return page

    def _text(self, name: str) -> str:
        return Path(self.folder / name).read_text(encoding="utf-8")

    def _css(self, name: str) -> Markup:
        return Markup(self._text(name))


def shown_digest(digest: str) -> str:
    """The digest as printed: its first eight figures in groups of four."""
    figures = digest.removeprefix("sha256:")
    return f"{figures[:4]} {figures[4:8]}"
