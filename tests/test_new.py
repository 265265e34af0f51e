"""A first local edition from a few answers: it builds at once, carries what was named and nothing else, and never waits for nobody."""

from __future__ import annotations

import datetime
import errno
import os
import subprocess
import sys

import pytest
import yaml
from click.testing import CliRunner
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from test_adopted import held
from test_bad_input import run

from cardwright.charts import Book
from cardwright.checked import checked
from cardwright.checks import run_checks
from cardwright.cli import main
from cardwright.commands import new
from cardwright.compute import compute
from cardwright.edition import Edition, find
from cardwright.loading import load
from cardwright.starting import Answers, OwnMix, offer, quoted, written

PUMP = {"--pump-step": "0.1 mL/h", "--pump-least": "0.5 mL/h", "--pump-most": "500 mL/h"}
FLAGS = {
    "--name": "Valley Transport",
    "--country": "us",
    "--cylinder": "cylinder",
    "--drug": "samplamine=16 mcg/mL",
    "--review-months": "12",
    "--pump-coarse": "1 mL/h from 100 mL/h",
    **PUMP,
}
MIX = ("--mix", "samplamine", "32 mcg/mL", "8 mg", "250 mL", "Infusions on transfer", "section 7")


def make(folder: str = "cards/valley", *more: str, **changed: str | None):
    """``new`` over the small edition with every flag, changed by name (underscores for hyphens), None to leave it out."""
    flags = FLAGS | {f"--{name.replace('_', '-')}": value for name, value in changed.items()}
    return run(
        "new", folder, "--base", "small", *more, *(word for flag, value in flags.items() if value is not None for word in (flag, value))
    )


def test_what_it_makes_passes_every_check(small):
    """The new edition is whole: its file is short, what it uses is adopted, and no check of severity error finds anything."""
    result = make()
    assert (result.exit_code, result.stdout) == (0, f"{small.root}/cards/valley\n")
    book, outcomes = checked(small.root / "cards" / "valley")
    assert [outcome.check.id for outcome in outcomes if outcome.failed] == []
    spec = book.edition.spec
    assert (spec.title, spec.issuer, spec.number) == ("Valley Transport cards", "Valley Transport", 1)
    assert (str(spec.issued), str(spec.review_by)) == ("2026-06-01", "2027-06-01")
    assert [str(getattr(spec.pump, part)) for part in ("step", "least", "most")] == list(PUMP.values())
    assert (str(spec.pump.coarse.from_), str(spec.pump.coarse.step)) == ("100 mL/h", "1 mL/h")
    assert list(book.edition.cards) == ["rates", "sizes"]
    assert len((small.root / "cards" / "valley" / "edition.yaml").read_text().splitlines()) < 30
    assert sorted(path.name for path in (small.root / "cards").iterdir()) == ["hill", "small", "valley"]
    assert (small.root / "cards" / "valley").stat().st_mode & 0o777 == 0o755


def test_what_it_makes_builds(small):
    """A build of it writes its cards."""
    make()
    result = run("build", "cards/valley", "--card", "rates", "--output", "out")
    assert result.exit_code == 0
    assert (small.root / "out" / "valley" / "cards" / "rates.pdf").is_file()


def charts(small) -> set[str]:
    """The charts of what was made."""
    book, outcomes = checked(small.root / "cards" / "valley")
    assert not [outcome.check.id for outcome in outcomes if outcome.failed]
    return {chart.id for chart in book.charts}


def test_nothing_that_is_not_carried_is_on_a_card(small):
    """Without drugs their card is gone; without the cylinder its chart is, and what is for everyone stays."""
    make(drug="none", cylinder="none")
    assert charts(small) == {"sizes/by-age", "sizes/blades"}


def test_a_mix_of_its_own_has_the_charts_of_the_reference_s(small):
    """The service's mix takes the place of one that it does not carry, with its document."""
    assert make("cards/valley", *MIX, drug=None).exit_code == 0
    assert charts(small) == {"rates/samplamine-32-mcg-mL", "rates/running", "sizes/by-age", "sizes/cylinder", "sizes/blades"}
    edition = load(small.root / "cards" / "valley")
    (change,) = (item for item in edition.changes if item.kind == "given")
    assert (change.was, change.became) == ("16 mcg/mL (4 mg in 250 mL)", "32 mcg/mL (8 mg in 250 mL)")
    assert [(edition.references[item.key].title, item.locator) for item in change.cite] == [("Infusions on transfer", "section 7")]


SIZE = "expected index card, ID-1, badge, A6, A7, fold, or width and height such as '90 × 140 mm' or '4 × 6 in'"
WRONG = {
    "no name": ({"name": " "}, "--name: expected 1 to 60 letters, digits and signs that a card can print"),
    "name on two lines": ({"name": "a\nb"}, "--name: expected 1 to 60 letters, digits and signs that a card can print, without U+000A"),
    "name with a picture": (
        {"name": "Valley 🚑"},
        "--name: expected 1 to 60 letters, digits and signs that a card can print, without U+1F691",
    ),
    "name that turns the text": (
        {"name": "a\u202eb"},
        "--name: expected 1 to 60 letters, digits and signs that a card can print, without U+202E",
    ),
    "long name": ({"name": "a" * 61}, "--name: expected 1 to 60 letters, digits and signs that a card can print"),
    "unknown cylinder": ({"cylinder": "us-z"}, "--cylinder: 'us-z' is none of: cylinder"),
    "size that is none": ({"size": "postcard"}, f"--size: 'postcard' is not a size; {SIZE}"),
    "cylinder of the other gauge": ({"pressure": "bar"}, "--cylinder: 'cylinder' is none of: "),
    "unknown drug": ({"drug": "samplamin=16 mcg/mL"}, "--drug: 'samplamin' is none of: samplamine"),
    "drug without a mix": (
        {"drug": "samplamine"},
        "--drug: '' is not a number as we write them; expected digits with at most one point, such as '0.05' or '1,000'",
    ),
    "mix that the reference does not have": (
        {"drug": "samplamine=32 mcg/mL"},
        "--drug: the reference has samplamine as 16 mcg/mL; state '32 mcg/mL' with --mix",
    ),
    "pump in another unit": ({"pump-step": "0.1 mL"}, "--pump-step: '0.1 mL' is not above zero in mL/h"),
    "wider step without a start": (
        {"pump-coarse": "1 mL/h"},
        "--pump-coarse: '' is not a number as we write them; expected digits with at most one point, such as '0.05' or '1,000'",
    ),
    "pump without a rate": ({"pump-least": "0 mL/h"}, "--pump-least: '0 mL/h' is not above zero in mL/h"),
}


@pytest.mark.parametrize("name", WRONG)
def test_answer_that_can_not_be_used_is_told_with_its_flag(small, name):
    """One line with the flag, exit status 2, and no folder."""
    changed, told = WRONG[name]
    result = make(**changed)
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr.splitlines() == [told, "nothing was written"]
    assert not (small.root / "cards" / "valley").exists()


WRONG_MIX = {
    "that the reference has": (1, "16 mcg/mL", "the reference has samplamine 16 mcg/mL; give it with --drug"),
    "of an unknown drug": (0, "other", "'other' is none of: samplamine"),
    "in words": (
        1,
        "strong",
        "'strong' is not a number as we write them; expected digits with at most one point, such as '0.05' or '1,000'",
    ),
    "without a document": (4, "", "expected 1 to 60 letters, digits and signs that a card can print"),
}


@pytest.mark.parametrize("name", WRONG_MIX)
def test_own_mix_that_can_not_be_used_is_told(small, name):
    """A mix is stated with all that a citation needs."""
    place, text, told = WRONG_MIX[name]
    words = [*MIX[1:]]
    words[place] = text
    result = make("cards/valley", "--mix", *words, drug=None)
    assert (result.exit_code, result.stderr.splitlines()) == (2, [f"--mix: {told}", "nothing was written"])
    assert not (small.root / "cards" / "valley").exists()


def test_own_mix_that_its_amount_does_not_give_is_told_where_it_would_stand(small):
    """What the loader and the checks refuse is told, and nothing is left behind."""
    result = make("cards/valley", *MIX[:3], "4 mg", *MIX[4:], drug=None)
    assert result.exit_code == 2
    assert "stated concentration 32 mcg/mL is not 4 mg ÷ 250 mL = 16 mcg/mL; mend the one that is wrong" in result.stderr
    assert result.stderr.startswith("cards/valley/edition.yaml:")
    assert sorted(path.name for path in (small.root / "cards").iterdir()) == ["hill", "small"]


def test_a_check_that_fails_is_told_and_nothing_is_left(small):
    """Markup in a name is a symbol that is misread: the check on wording refuses it before there is an edition."""
    result = make(name="Valley & <b>")
    assert result.exit_code == 2
    assert "'&'" in result.stderr
    assert sorted(path.name for path in (small.root / "cards").iterdir()) == ["hill", "small"]


@pytest.mark.parametrize("flag", FLAGS)
def test_missing_answer_without_a_terminal_names_the_flag(small, flag):
    """Nobody is there to be asked: it says which flag is missing and ends."""
    result = make(**{flag.removeprefix("--"): None})
    told = f"{flag}: missing, and there is no terminal to ask on; expected each as a flag (--help tells more)"
    assert (result.exit_code, result.stderr.splitlines()) == (2, [told, "nothing was written"])


def test_it_never_waits_where_nobody_answers(small):
    """With its input closed it ends at once, and names all that is missing."""
    command = [sys.executable, "-m", "cardwright", "new", "cards/valley", "--base", "small"]
    found = subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True, text=True, timeout=60, check=False)
    assert found.returncode == 2
    missing = "--name, --country, --cylinder, --drug, --review-months, --pump-step, --pump-least, --pump-most, --pump-coarse"
    assert found.stderr.startswith(f"{missing}: missing, and there is no terminal to ask on")


def test_on_a_terminal_it_asks_until_each_answer_can_be_used(small, monkeypatch):
    """A wrong answer is told and asked for again; the pump's rates are offered as the reference has them."""
    monkeypatch.setattr(new, "can_ask", lambda: True)
    answers = ["Valley 🚑", "Valley Transport", "bars", "us", "psia", "", "us-z", "cylinder", "none", "", "", "500 mL/h", "1 mL/h", "none"]
    answers += ["A99", "A7"]
    answers += ["samplamine=1 mg/mL", "samplamine=16 mcg/mL", "none", "25", "6"]
    result = CliRunner().invoke(main, ["new", "cards/valley", "--base", "small"], input="\n".join(answers) + "\n")
    assert (result.exit_code, result.stdout) == (0, f"{small.root}/cards/valley\n")
    wrong = ("'bars' is none of: us, uk, other", "'psia' is none of: psi, bar", "'us-z' is none of: cylinder", "'25' is none of")
    for told in ("without U+1F691", *wrong, "'A99' is not a size", "with --mix"):
        assert told in result.stderr
    spec = load(small.root / "cards" / "valley").spec
    assert (str(spec.pump.step), str(spec.pump.least), str(spec.pump.most)) == ("0.1 mL/h", "0.1 mL/h", "500 mL/h")
    assert (spec.pump.coarse, str(spec.review_by), spec.size.text) == (None, "2026-12-01", "A7")


def test_answers_that_end_too_soon_leave_nothing(small, monkeypatch):
    """Whoever closes the terminal half way has no half edition."""
    monkeypatch.setattr(new, "can_ask", lambda: True)
    result = CliRunner().invoke(main, ["new", "cards/valley", "--base", "small"], input="Valley Transport\nus\n")
    assert result.exit_code == 1
    assert sorted(path.name for path in (small.root / "cards").iterdir()) == ["hill", "small"]


@pytest.mark.parametrize("what", ["a file", "a folder with a file", "an edition"])
def test_a_folder_that_is_not_empty_is_refused(small, what):
    """Nothing that is there is touched."""
    folder = small.root / "cards" / ("small" if what == "an edition" else "valley")
    if what == "a file":
        folder.write_text("mine")
    elif what == "a folder with a file":
        folder.mkdir()
        (folder / "mine.txt").write_text("mine")
    before = held(small.root / "cards")
    result = make(f"cards/{folder.name}")
    told = f"{folder}: is not empty; expected a new folder, or an empty one"
    assert (result.exit_code, result.stderr.splitlines()) == (2, [told, "nothing was written"])
    assert held(small.root / "cards") == before


def test_an_empty_folder_is_filled(small):
    """A folder that was made for it is as good as none."""
    (small.root / "cards" / "valley").mkdir()
    assert make().exit_code == 0


def test_a_full_disk_leaves_nothing(small, monkeypatch):
    """Where adopting fails, there is no edition without what it rests on."""

    def full(path, data):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), str(path))

    monkeypatch.setattr("cardwright.files.Path.write_bytes", full)
    result = make()
    assert (result.exit_code, result.stdout) == (2, "")
    assert sorted(path.name for path in (small.root / "cards").iterdir()) == ["hill", "small"]


PUMPED = {"step": "0.1 mL/h", "least": "0.1 mL/h", "most": "999 mL/h", "coarse": ""}
DAY = datetime.date(2026, 11, 25)


def started(folder, base: Edition, mixes: tuple[str, ...], own: tuple[OwnMix, ...] = ()) -> Book:
    """An edition over the reference that carries these mixes alone; ``start`` makes none in which a check finds anything."""
    cylinders = tuple(id for id, _ in offer(base).cylinders.values())
    new.start(folder, base, Answers("Valley Transport", DAY, DAY.replace(year=2027), "index card", PUMPED, mixes, own, cylinders))
    return compute(load(folder))


def test_the_country_decides_which_cylinders_are_offered(tmp_path):
    """US sizes have psi gauges, the UK's have bar, and elsewhere sizes go by water capacity; another gauge can be named."""
    flags = {key: value for key, value in FLAGS.items() if key not in ("--country", "--cylinder", "--drug")} | {"--drug": "none"}
    words = [word for flag, value in flags.items() for word in (flag, value)]
    for country, told in {"us": "us-d, us-e, us-m, us-h, us-g", "other": "metric-2, metric-5, metric-10, metric-1"}.items():
        named = ["--base", str(find("reference").resolve()), "--country", country, "--cylinder", "uk-d"]
        result = run("new", str(tmp_path / country), *words, *named)
        assert (result.exit_code, result.stderr.splitlines()[0]) == (2, f"--cylinder: 'uk-d' is none of: {told}")


@pytest.mark.parametrize("place", range(4))
def test_every_drug_of_the_reference_can_be_carried_in_one_mix_alone(tmp_path, reference_book, place):
    """Where a chart has a column for each of several mixes, the columns for the others are left out, and the chart stays."""
    mixes = {drug: list(known.items()) for drug, known in offer(reference_book.edition).mixes.items()}
    chosen = [known[min(place, len(known) - 1)] for known in mixes.values()]
    book = started(tmp_path / "valley", reference_book.edition, tuple(id for id, _ in chosen))
    assert {id.partition(":")[0] for id, _ in chosen} <= {chart.source.id for chart in book.charts}
    for drug, known in mixes.items():
        heads = {line.head for chart in book.charts if chart.source.id.endswith(f"/{drug}") for line in chart.columns}
        others = {text for _, text in known} - {known[min(place, len(known) - 1)][1]}
        assert not heads & others


def test_a_column_for_a_mix_of_its_own_says_so_in_its_head(tmp_path, reference_book):
    """The column of the mix that was replaced has the new concentration at its head: 5 mg/h of 0.5 mg/mL are 10 mL/h."""
    own = OwnMix("infusions/nicardipine:mix.0.2-mg-mL", "0.5 mg/mL", "25 mg", "50 mL", "Infusions on transfer", "section 7")
    book = started(tmp_path / "valley", reference_book.edition, (), (own,))
    chart = next(chart for chart in book.charts if chart.id == "vasodilators/nicardipine")
    assert [line.head for line in chart.columns] == ["0.5 mg/mL"]
    assert dict(zip(chart.heads, (row[0].printed for row in chart.cells)))["5"] == "10"


@settings(max_examples=200)
@given(text=st.text())
@example(text="a: b # c\n- {d: [e, 'f\"'}")
@example(text="...\n---\n!!python/object:os.system")
def test_any_text_is_one_scalar(text):
    """Whatever is typed is written as one YAML scalar that reads back as itself, on one line."""
    made = quoted(text)
    assert len(made.splitlines()) == 1
    assert yaml.safe_load(made) == text


NAMES = st.text(alphabet=st.characters(min_codepoint=0x20, max_codepoint=0xFF), min_size=1, max_size=60)


@settings(max_examples=4, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(name=NAMES, months=st.integers(1, 24), drug=st.booleans(), cylinder=st.booleans(), number=st.integers(1, 10**6))
@example(name='O\'Neill: "Air" # 1 {x}', months=24, drug=True, cylinder=True, number=0)
def test_any_answers_give_an_edition_or_a_plain_refusal(small, name, months, drug, cylinder, number):
    """An edition is made that says what was answered, or nothing is left behind; there is never a traceback."""
    folder = small.root / "cards" / f"made-{number}"
    has = offer(small.load())
    answers = {"drug": "samplamine=16 mcg/mL" if drug else "none", "cylinder": next(iter(has.cylinders)) if cylinder else "none"}
    if folder.exists():
        return
    result = make(f"cards/{folder.name}", name=name, review_months=str(months), **answers)
    assert result.exit_code in (0, 2)
    assert folder.exists() == (result.exit_code == 0)
    if result.exit_code == 0:
        assert load(folder).spec.issuer == name.strip()


def test_the_reference_offers_its_drugs_and_cylinders(reference_book):
    """Every mix that the reference carries can be chosen, and the cylinders of three lists by the unit of their gauges."""
    has = offer(reference_book.edition)
    carried = {source.rpartition("/")[2]: {str(mix) for mix in mixes} for source, mixes in reference_book.edition.spec.carries.items()}
    assert {drug: set(mixes.values()) for drug, mixes in has.mixes.items()} == carried
    assert {name.partition("-")[0]: unit for name, (_, unit) in has.cylinders.items()} == {"us": "psi", "metric": "bar", "uk": "bar"}


@pytest.mark.parametrize(
    ("mix", "place"), [("4 mg/mL", "5-mg-mL"), ("2 mg/mL", "1-mg-mL"), ("0.5 mg/mL", "1-mg-mL"), ("50000 mcg/mL", "5-mg-mL")]
)
def test_an_own_mix_takes_the_place_of_the_nearest(reference_book, mix, place):
    """Axes that suit 5 mg/mL suit 4 mg/mL, and not 1 mg/mL; as many times weaker is as far as as many times stronger."""
    (made,) = new.own_mixes(offer(reference_book.edition), (("ketamine", mix, "200 mg", "50 mL", "Infusions", "section 7"),), ())
    assert made.replaces == f"infusions/ketamine:mix.{place}"


def test_a_selection_of_the_reference_passes_every_check(reference_book, tmp_path):
    """One drug with one mix and one cylinder: of the reference's cards those for them and the general ones, with no error."""
    edition, has = reference_book.edition, offer(reference_book.edition)
    day = edition.spec.issued
    mixes = tuple(id for id, text in has.mixes["ketamine"].items() if text == "5 mg/mL")
    answers = new.Answers(
        "Valley Transport",
        day,
        day.replace(year=day.year + 1),
        "index card",
        dict(zip(new.RATES, PUMP.values(), strict=True)),
        mixes,
        (),
        (has.cylinders["uk-cd"][0],),
    )
    text = written(edition, answers)
    named = yaml.load(text, Loader=yaml.BaseLoader)
    infusions = {
        name
        for name, card in edition.cards.items()
        if any(chart.source.startswith("infusions/") for face in card.faces for chart in face.charts)
    }
    assert infusions & set(named["cards"]) == {"ketamine"}
    assert {name for name in named["cards"] if name.startswith("oxygen-")} == {"oxygen-uk", "oxygen-planning", "oxygen-devices"}
    (tmp_path / "edition.yaml").write_text(text)
    book = compute(load(tmp_path, current=True))
    assert [outcome.check.id for outcome in run_checks(book) if outcome.failed] == []
    kept = {chart.id for chart in book.charts}
    assert {"ketamine/ketamine-5-mg-mL", "ketamine/ketamine-running", "oxygen-uk/uk-cd", "oxygen-planning/uk-cd-leg"} <= kept
    assert not {"ketamine/ketamine-1-mg-mL", "oxygen-uk/uk-e", "oxygen-us/us-e"} & kept
