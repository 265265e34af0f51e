"""What a file at hand is worth: current, expired, superseded, unsigned, by an unknown signer, unreadable, or altered, and where."""

from __future__ import annotations

import datetime
import json
import re
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest
import weasyprint
from approvals import Approval, again, approval, chain, trust
from click.testing import CliRunner
from conftest import HERE, Small
from keyring import NOON, key
from test_printed import drawn

from cardwright.approval.package import sha256
from cardwright.approval.page import read_page
from cardwright.approval.register import append, read_register
from cardwright.approval.seal import countersign
from cardwright.approval.verify import VERDICTS, Approvals, Verdict, gathered
from cardwright.build import build
from cardwright.charts import Book
from cardwright.cli import main
from cardwright.models.approval import Superseded
from cardwright.render.contract import digest_of
from cardwright.render.pdf import pdf
from cardwright.standing import approved, terms

TODAY = datetime.date(2026, 6, 2)
CHART = "rates/samplamine-16-mcg-mL"
CELL = f"{CHART} row 70 column 0.1: approved 26.3, here "  # 0.1 mcg/kg/min × 70 kg × 60 ÷ 16 mcg/mL = 26.25 mL/h, worked by hand


@dataclass(frozen=True)
class Scene:
    """The small edition with one approval in its register."""

    small: Small
    made: Approval

    def approvals(self, today: datetime.date = TODAY) -> Approvals:
        """The approvals at hand on a day."""
        register = read_register(self.small.folder)
        return Approvals([register], (key("R. Marlow").certificate, key("S. Okoro").certificate), today)

    def verify(self, data: bytes, today: datetime.date = TODAY) -> Verdict:
        """What a file is worth on a day."""
        return self.approvals(today).verify(data)


@pytest.fixture(scope="module")
def scene(tmp_path_factory) -> Scene:
    """The scene, made once and changed by no test."""
    root = tmp_path_factory.mktemp("scene") / "small"
    shutil.copytree(HERE / "small", root)
    (root / "templates").symlink_to(HERE.parent / "templates")
    small = Small(root)
    trust(small, "R. Marlow", "S. Okoro")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SOURCE_DATE_EPOCH", "1780272000")  # 2026-06-01
        made = approval(small.folder)
    append(small.folder, 1, made.pdf)
    return Scene(small, made)


KINDS = {"cards/rates.pdf": "card PDF", "cards/sizes.html": "card HTML", "edition.json": "edition.json", "review": "review document"}


def data_of(scene: Scene, name: str) -> bytes:
    """A file of the build, or the review document."""
    return scene.made.pdf if name == "review" else scene.made.files[name]


@pytest.mark.parametrize("name", KINDS)
def test_what_is_as_approved_is_current_and_then_expires(scene, name):
    """Every kind of file, on the first and last day and on the day after."""
    data = data_of(scene, name)
    told = "Small edition, approval 1: approved on 2026-06-01, expires 2027-06-01"
    for day in (NOON.date(), datetime.date(2027, 6, 1)):
        found = scene.verify(data, day)
        assert (found.kind, found.verdict, found.reason, found.details, found.status) == (KINDS[name], "current", told, (), 0)
    found = scene.verify(data, datetime.date(2027, 6, 2))
    assert (found.verdict, found.reason, found.status) == ("expired", "Small edition, approval 1: expired on 2027-06-01", 4)
    early = scene.verify(data, datetime.date(2026, 5, 31))
    assert (early.verdict, early.reason) == ("unsigned", "Small edition, approval 1: holds only from 2026-06-01")


def test_what_a_later_approval_took_the_place_of_is_superseded(small):
    """Told with the number of the later one, even when it has expired too."""
    first, _ = chain(small, 2)
    scene = Scene(small, first)
    for name in ("cards/rates.pdf", "cards/rates.html", "review"):
        found = scene.verify(data_of(scene, name))
        assert (found.verdict, found.reason, found.status) == ("superseded", "Small edition, approval 1: approval 2 took its place", 5)


def test_a_missing_signature_and_a_stranger_are_told(scene):
    """One signature of two is none; a stranger's is by an unknown signer; both for the review and for its cards."""
    certificates = (key("R. Marlow").certificate, key("S. Okoro").certificate)
    two = [*scene.made.manifest.signatories, scene.made.manifest.signatories[0].model_copy(update={"name": "S. Okoro"})]
    for data, verdict in ((again(scene.made, signatories=two), "unsigned"), (again(scene.made, by="stranger"), "unknown signer")):
        alone = Approvals(gathered([], [data], certificates), certificates, TODAY)
        assert alone.verify(data).verdict == verdict
        assert alone.verify(scene.made.files["cards/rates.pdf"]).verdict == verdict


def test_a_review_document_is_enough_without_a_register(scene):
    """Offline, with certificates and the signed document: cards are current, and what can't be known is told."""
    certificates = (key("R. Marlow").certificate,)
    alone = Approvals(gathered([], [scene.made.pdf, b"%PDF"], certificates), certificates, TODAY)
    assert alone.verify(scene.made.files["cards/rates.pdf"]).verdict == "current"
    found = Approvals([], certificates, TODAY).verify(scene.made.pdf)
    assert found.verdict == "current"
    assert "whether a later approval took its place is not known here" in found.reason


def printed(scene: Scene, change: Callable[[str], str]) -> bytes:
    """The rates card printed from a changed page."""
    return pdf(change(scene.made.files["cards/rates.html"].decode()), "rates")


def put(old: str, new: str) -> Callable[[str], str]:
    """Other markup in the place of some that stands on the page once."""

    def change(html: str) -> str:
        assert html.count(old) == 1, f"{old!r} stands {html.count(old)} times"
        return html.replace(old, new)

    return change


def test_a_card_printed_again_is_not_called_current(scene):
    """Every word reads as approved, but a typeface could draw other figures: it is told apart from the approved file."""
    data = printed(scene, lambda html: html.replace("</title>", ", again</title>"))  # the same on paper
    found = scene.verify(data)
    assert (found.verdict, found.details) == ("unsigned", ())
    assert found.reason.startswith("Small edition, approval 1, printed again, and every word as approved: approved on")
    assert found.reason.endswith("; but it is not the approved file itself: use that")
    assert scene.verify(data, datetime.date(2028, 1, 1)).verdict == "expired"


def test_a_page_with_other_ends_of_lines_is_the_same_page(scene):
    """Typefaces are in the page itself and in its sums: spaces between tags are all that may differ."""
    lines = scene.made.files["cards/rates.html"].replace(b"\n", b"\r\n")
    assert scene.verify(lines).verdict == "current"


def standing_on(scene: Scene, today: datetime.date) -> Callable:
    """What cards say on a day."""

    def standing(book: Book, digest: str):
        return approved(book.edition, terms(scene.made.manifest), today)

    return standing


def test_a_card_that_says_itself_that_it_is_over_is_believed(scene):
    """Built after its end it prints EXPIRED, and is expired; a draft of the same content says that it is none."""
    late = build(scene.small.folder, standing=standing_on(scene, datetime.date(2027, 7, 1)))
    found = scene.verify(late.files["cards/rates.pdf"], datetime.date(2027, 7, 1))
    assert (found.verdict, found.details) == ("expired", ())
    draft = build(HERE / "small" / "cards" / "small")
    for name in ("cards/rates.pdf", "cards/rates.html"):
        found = scene.verify(draft.files[name])
        assert (found.verdict, found.reason) == ("unsigned", "says itself: DRAFT, not approved")


ALTERED = {
    "a cell": (put(">26.3<", ">36.3<"), CELL + "36.3"),
    "a cell without its point": (put(">26.3<", ">263<"), CELL + "263"),
    "a cell that is empty": (put(">26.3<", "><"), CELL + "nothing"),
}
WORDS = {
    "the drug": lambda html: html.replace("<h1>samplamine", "<h1>samplidine"),
    "the mix": lambda html: html.replace("<strong>16 mcg/mL</strong>", "<strong>160 mcg/mL</strong>"),
    "the unit": put("mL/h for dose", "mL/min for dose"),
    "a column head": put('class="usual">0.1<', 'class="usual">0.2<'),
    "a row head": lambda html: html.replace('scope="row">133.2<', 'scope="row">132.2<'),
    "the ceiling": lambda html: html.replace("ceiling 2 mcg/kg/min", "ceiling 3 mcg/kg/min").replace(
        'ceiling <span class="whole">2 mcg/kg/min', 'ceiling <span class="whole">3 mcg/kg/min'
    ),
    "the expiry": lambda html: html.replace("expires 2027-06-01", "expires 2028-06-01"),
    "the signatory": lambda html: html.replace("APPROVED by R. Marlow", "APPROVED by S. Okoro"),
    "a note taken out": lambda html: re.sub(r'<p class="note">.*?</p>', "", html, flags=re.DOTALL),
    "a word added": put("</main>", "<p style='position: absolute; top: 1mm'>twice</p></main>"),
    "a hidden column": lambda html: html.replace("</style>", "td:nth-child(3) { visibility: hidden }</style>", 1),
    "a cell covered by another number": lambda html: html.replace(
        "</style>", "td:nth-child(3) { position: relative } td:nth-child(3)::after { content: '9' }</style>", 1
    ),
}


@pytest.mark.parametrize("kind", ALTERED)
def test_an_altered_cell_is_told_with_its_place(scene, kind):
    """In the PDF and in the page: chart, row, column, what was approved and what stands there."""
    change, detail = ALTERED[kind]
    for data in (printed(scene, change), change(scene.made.files["cards/rates.html"].decode()).encode()):
        found = scene.verify(data)
        assert (found.verdict, found.status) == ("altered", 9)
        assert found.reason == "is not as Small edition, approval 1, has it"
        assert any(line.replace("0.1 mL/h:", "0.1:") == detail for line in found.details), found.details


@pytest.mark.parametrize("kind", WORDS)
def test_altered_words_are_told(scene, kind):
    """Whatever else a reader goes by: heads, units, names, notes, dates, and what style sheets hide or add."""
    html = scene.made.files["cards/rates.html"].decode()
    assert WORDS[kind](html) != html
    for data in (printed(scene, WORDS[kind]), WORDS[kind](html).encode()):
        found = scene.verify(data)
        assert (found.verdict, bool(found.details)) == ("altered", True)


def test_a_digit_changed_in_the_bytes_of_a_card_is_told(scene):
    """Each of the numbers in the page's own stream, with one figure made another: told at its cell."""
    html = scene.made.files["cards/rates.html"].decode()
    data = weasyprint.HTML(string=html).write_pdf(uncompressed_pdf=True, pdf_variant="pdf/ua-1")
    assert scene.verify(data).details == ()
    glyphs = [re.search(rb"<([0-9a-f]{4})>", found[0][0])[1] for found in (drawn(digit, data) for digit in "0123456789") if found]
    cells = [found for text in ("26.3", "2.6", "0.3", "0.8", "1.5") for found in drawn(text, data)]
    assert cells
    tried = 0
    for cell in cells:
        for match in re.finditer(rb"<([0-9a-f]{4})>", cell[0]):
            for glyph in (glyph for glyph in glyphs if glyph != match[1]):
                at = cell.start() + match.start(1)
                found = scene.verify(data[:at] + glyph + data[at + 4 :])
                assert found.verdict == "altered", match
                assert any(": approved " in line and ", here " in line for line in found.details), found.details
                tried += 1
    assert tried >= 5 * len(glyphs)


PAGES = {
    "a script": (put("const WEIGHT", "document.body.append('9'); const WEIGHT"), "a script differs"),
    "a script more": (put("</main>", "</main><script>1</script>"), "a script was added or taken away"),
    "a style": (lambda html: html.replace("</style>", "td { color: white }</style>", 1), "a style sheet differs"),
    "a style more": (put("</main>", "</main><style>td { color: white }</style>"), "a style sheet was added or taken away"),
    "a handler": (put("<main>", '<main onclick="alert(1)">'), "its words or its markup differ"),
    "a hidden row": (lambda html: html.replace("<tbody>\n<tr>", "<tbody>\n<tr hidden>", 1), "its words or its markup differ"),
    "a trace": (lambda html: re.sub(r"26\.25(?=[^<]*</script>)", "36.25", html, count=1), "a script differs"),
    "a row taken out": (
        lambda html: re.sub(r'<tr[^>]*><th scope="row"[^>]*>70</th>.*?</tr>', "", html, count=1, flags=re.DOTALL),
        f"{CHART}: approved 5 rows, here 4",
    ),
    "a chart taken out": (lambda html: re.sub(r"<table id=.*?</table>", "", html, count=1, flags=re.DOTALL), f"{CHART} is not there"),
}


@pytest.mark.parametrize("kind", PAGES)
def test_what_else_is_changed_in_a_page_is_told(scene, kind):
    """Scripts and styles by their sums; all other markup too."""
    change, detail = PAGES[kind]
    html = scene.made.files["cards/rates.html"].decode()
    changed = change(html)
    assert changed != html
    found = scene.verify(changed.encode())
    assert found.verdict == "altered"
    assert detail in found.details


def test_an_altered_edition_is_told_cell_by_cell(scene):
    """With the digest left or made to fit, the cells that differ are told; a title is no part of the digest, but is held too."""
    data = scene.made.files["edition.json"]
    changed = data.replace(b'"printed": "26.3"', b'"printed": "36.3"', 1)
    found = scene.verify(changed)
    assert (found.verdict, found.reason) == ("altered", "its content does not give its digest")
    assert found.details == (CELL + "36.3",)
    fitted = json.loads(changed)
    fitted["digest"] = digest_of(fitted)
    found = scene.verify(json.dumps(fitted).encode())
    assert (found.verdict, found.details) == ("unsigned", (CELL + "36.3",))


@pytest.mark.parametrize(
    ("old", "new", "part"),
    [
        (b'"title": "Small edition"', b'"title": "Other edition"', "title, number or dates"),
        (b'"working": "', b'"working": "9 ', "traces"),
        (b'"says": "', b'"says": "not ', "givens"),
        (b'"references": {', b'"references": {"more": {}, ', "references"),
    ],
)
def test_what_stands_behind_the_figures_is_held_too(scene, old, new, part):
    """Who issued it and when, each figure's working, givens and references are no part of the digest, but are as approved."""
    changed = scene.made.files["edition.json"].replace(old, new, 1)
    assert changed != scene.made.files["edition.json"]
    found = scene.verify(changed)
    assert (found.verdict, found.details) == ("altered", (f"its {part} differ",))
    assert found.reason == "has the approved figures, but not all that stands behind them"


@pytest.mark.parametrize(
    ("data", "kind"),
    [
        (b"", "file"),
        (b"hello", "file"),
        (b"%PDF-1.7\nhello", "card PDF"),
        (b"{", "edition.json"),
        (b"{}", "edition.json"),
        (b'{"cards": 1, "charts": [], "edition": {"name": 1}}', "edition.json"),
        (b"{" * 100_000, "edition.json"),
        (b"<p>\xff", "card HTML"),
    ],
)
def test_what_can_not_be_read_is_told_and_gives_no_traceback(scene, data, kind):
    """Any bytes have a verdict."""
    found = scene.verify(data)
    assert (found.kind, found.verdict, found.status) == (kind, "unreadable", 8)


def test_what_was_never_approved_is_unsigned(scene):
    """A page and a PDF of someone else."""
    other = b"<html lang='en'><title>x</title><body><p>26.3 mL/h</p></body></html>"
    for data in (other, pdf(other.decode(), "x"), b"<b>" * 5000):
        assert scene.verify(data).verdict == "unsigned"


def test_another_document_under_a_number_is_told(scene):
    """Signed by the director, but not what the register holds; a signature more is no other document."""
    found = scene.verify(again(scene.made, address="elsewhere"))
    assert (found.verdict, found.reason) == ("altered", "is not approval 1 of the register of 'small'")


def run(*arguments: str):
    """A command in the folder of the small edition."""
    return CliRunner().invoke(main, arguments)


def test_the_command_tells_each_file_and_ends_with_the_worst(small, monkeypatch):
    """Text for people, JSON for programs; the status is the worst verdict's."""
    [made] = chain(small, 1)
    for name in ("cards/rates.pdf", "cards/rates.html"):
        (small.root / Path(name).name).write_bytes(made.files[name])
    (small.root / "bad.html").write_bytes(made.files["cards/rates.html"].replace(b">26.3<", b">36.3<"))
    done = run("verify", "rates.pdf", "rates.html", "--edition", "small")
    assert (done.exit_code, done.stderr) == (0, "")
    told = "current: Small edition, approval 1: approved on 2026-06-01, expires 2027-06-01"
    assert done.stdout == f"rates.pdf: {told}\nrates.html: {told}\n"
    done = run("verify", "rates.pdf", "bad.html", "--format", "json")
    assert done.exit_code == VERDICTS["altered"]
    good, bad = json.loads(done.stdout)
    assert (good["verdict"], good["approval"]["number"], good["approval"]["signers"][0]["name"]) == ("current", 1, "R. Marlow")
    assert (bad["file"], bad["verdict"], bad["details"]) == ("bad.html", "altered", [CELL + "36.3"])


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("none.pdf",), "none.pdf: No such file or directory"),
        (("sources", "--edition", "small"), "sources: Is a directory"),
        (("cards/small/edition.yaml", "--edition", "none"), "none:1:1: unknown edition 'none'"),
        (("cards/small/edition.yaml", "--certificates", "none"), "none: is no folder; expected one with certificates (*.pem)"),
    ],
)
def test_a_wrong_command_line_has_status_2(small, arguments, told):
    """One line, no traceback."""
    done = run("verify", *arguments)
    assert (done.exit_code, done.stdout) == (2, "")
    assert done.stderr.startswith(told)


def test_every_verdict_has_a_status_of_its_own_and_the_help_names_it():
    """Programs tell verdicts apart; 1, 2 and 3 keep the meaning that they have elsewhere."""
    assert len(set(VERDICTS.values())) == len(VERDICTS)
    assert not {1, 2, 3} & set(VERDICTS.values())
    told = " ".join(run("verify", "--help").stdout.split())
    assert all(f"{status} {verdict}" in told for verdict, status in VERDICTS.items())


def test_the_register_is_printed_with_its_lists(small):
    """A table; who got which card; and which cards of the approval before are wrong now."""
    assert run("register", "small").stdout.split() == ["number", "approved", "expires", "signed", "by", "digest", "superseded", "by"]
    assert run("register", "small", "--recall").exit_code == 1
    first = chain(small, 1)[0]
    assert "No earlier approval: there is nothing to recall." in run("register", "small", "--recall").stdout
    small.edit("cards/small/edition.yaml", "number: 1\n", "number: 2\n")
    small.edit("cards/small/rates.yaml", "2, 4, 70, 133.2, 133.3 kg", "2, 4, 70, 133.2 kg")
    second = approval(small.folder, supersedes=Superseded(number=1, sha256=sha256(first.pdf)))
    append(small.folder, 2, second.pdf)
    done = run("register", "small")
    assert (done.exit_code, done.stderr) == (0, "")
    rows = [re.split(r" {2,}", line.strip()) for line in done.stdout.splitlines()]
    assert rows[1][:4] == ["1", "2026-06-01", "2027-06-01", "R. Marlow"]
    assert rows[1][-1] == "2"
    listed = run("register", "small", "--distribution").stdout
    assert listed.startswith("Distribution list: Small edition, approval 2 (")
    assert re.search(r"^Rates +copies ____", listed, re.MULTILINE)
    assert re.search(r"^Sizes +copies ____", listed, re.MULTILINE)
    notice = run("register", "small", "--recall").stdout
    assert re.search(r"^Rates +changed +destroyed ____", notice, re.MULTILINE)
    assert "Sizes" not in notice


def test_a_broken_register_is_told(small):
    """The faults on stderr, and exit status 1."""
    chain(small, 2)
    (small.folder / "approvals" / "1.pdf").unlink()
    done = run("register", "small")
    assert done.exit_code == 1
    assert done.stderr == "approvals/2.pdf: takes the place of approval 1, which is not here: it was taken out\n"


def test_a_second_signature_is_no_other_document(small):
    """The review document before and after the second signatory."""
    trust(small, "R. Marlow", "S. Okoro")
    made = approval(small.folder, two=True)
    both = countersign(made.pdf, key("S. Okoro"), reason="agreed", when=NOON)
    append(small.folder, 1, both)
    scene = Scene(small, made)
    assert scene.verify(both).verdict == "current"
    assert scene.verify(made.pdf).verdict == "unsigned"


def test_a_page_is_read_as_a_browser_reads_it():
    """Tables by id, cells without spaces, and sums that spaces between tags do not change."""
    page = read_page(b"<table id='a.b'><tr><th>70<td>26<sup>.3</sup></table><style>a{}</style>")
    assert page.tables == {"a.b": (("70", "26.3"),)}
    assert page.text == "70 26 .3"
    assert page.whole != read_page(b"<table id='a.b'><tr><th>70<td>26<b>.3</b></table><style>a{}</style>").whole
