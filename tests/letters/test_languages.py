"""Papers in Spanish, and what a right-to-left language would need: looked at in the text of the finished file."""

import io
import json
import re
import subprocess
import sys
import unicodedata
from dataclasses import replace
from pathlib import Path

import pikepdf
import pytest
from django.utils import translation

from planner.letters import papers
from planner.letters.consent import KEY
from planner.letters.forms import PapersForm
from planner.letters.papers import job
from planner.letters.pdf import PaperError, render_here
from planner.letters.translated import translated
from planner.letters.wording import day, money
from planner.rules.after_care import care_sheet
from planner.rules.consent_states import facts_are_others, not_to_be_read, papers_differ, too_hard_to_read
from planner.rules.frozen import thaw
from planner.rules.plan import plan_case
from planner.rules.results import OtherWords, plain, sha256, stable_json
from planner.rules.treatments import all_treatments
from planner.rules.words import Texts, speaking
from planner.rules.words import texts as rule_texts
from tests.letters.conftest import (
    AGREEMENT,
    ISSUE,
    RESULT,
    after_two_years,
    arrangement,
    beside,
    guess_for,
    shown,
    texts,
)
from tests.rules.books import DAY_ZERO, tern_row
from tests.rules.stories import facts_of
from tests.support import render_once

sys.path.insert(0, str(Path(__file__).parents[2] / "tools"))
import write_messages

STOP_WORDS = re.compile(
    r"\b(?:[Tt]he|[Aa]nd|[Oo]f|[Ii]s|[Aa]re|[Ww]ith|[Yy]our?|[Ff]rom|[Ww]hich|[Tt]ooth|[Tt]eeth|not|this)\b"
)
"""Common English words, from memory; none of them is a word of Spanish."""


@pytest.fixture(scope="module")
def frozen():
    """The lead case as that of somebody who reads Spanish and whose words were written down in Spanish."""
    own = {
        "patient.language": "es",
        "choices.tax_reason": "Un diente que nunca se formó.",
        "wishes[0].words": "el hueco junto a mi diente izquierdo",
        "wishes[1].words": "el puntiagudo de la derecha",
        "wishes[2].words": "que no me limen dientes sanos",
        "limits.wish_by_words": "la boda de mi hija",
        "pictures[0].reading": "Falta 12.",
        "choices.if_then": ["Si un empaste viejo filtra, se cambia el mismo día."],
    }
    return plan_case(facts_of("lead", own), tern_row(), DAY_ZERO).to_json()


@pytest.fixture(scope="module")
def issue():
    return replace(ISSUE, own_risks=("Puede que rechine los dientes.",), questions=())


@pytest.fixture(scope="module")
def letter(frozen, issue):
    return render_once(job(frozen, KEY, issue, language="es")).content


def test_the_letter_has_no_english_left(letter):
    said = " ".join(texts(letter))
    said = said[: said.index("De dónde vienen los números")]  # what follows are titles of studies
    found = [said[max(0, at.start() - 40) : at.end() + 30] for at in STOP_WORDS.finditer(said)]
    assert not found
    assert "dentista y titular de la clínica" in said


def test_the_letter_says_who_translated_it_that_nobody_checked_it_and_which_language_rules(letter):
    first = texts(letter)[0]
    assert "Traducción aún no revisada." in first
    assert "hecha por los autores de este programa" in first
    assert "vale el papel en inglés" in first


def test_the_letter_says_in_spanish_what_decides_as_fully_as_in_english(letter):
    """Sentences that shorter ones once stood for, and that lost what they are there to say."""
    said = " ".join(texts(letter))
    for sentence in (
        "Pueden parecer más oscuros junto a dientes más blancos.",
        "Espere 14 días tras la última noche antes de añadir resina.",
        "Las manchas blancas pueden verse aún más blancas al principio.",
        "Cambia la forma y el color de toda la parte de delante del diente.",
        "Más adelante puede elegir un tratamiento mayor. El diente bajo la resina queda casi entero.",
        "Todas las opciones siguen abiertas.",
        "99 siguen en su sitio, 1 no",
    ):
        assert sentence in said


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_the_letter_of_seven_options_keeps_to_six_pages_and_its_annex(frozen, issue, paper):
    pages = texts(render_once(job(frozen, KEY, issue, language="es", paper=paper)).content)
    (signing,) = [at for at, said in enumerate(pages) if "Firmo por mi propia voluntad" in said]
    assert signing == 5
    assert "¿Qué le importa más?" in pages[signing], "the place to sign does not stand alone"
    assert "Anexo: más sobre cada opción" in pages[6]


def test_days_decimals_and_money_are_those_of_the_language(letter):
    """As Unicode CLDR has them for Spanish: day of month and year with "de", comma before decimals."""
    said = " ".join(texts(letter))
    assert "20 de octubre de 1978" in said
    assert "0,5\u00a0mm" in said or "0,5 mm" in said
    assert "CAD 1.618,25" in said.replace("\u00a0", " ")
    assert not re.search(r"\d\.\d mm", said)
    with translation.override("es"):
        assert (day(DAY_ZERO, "es"), money(161825, "CAD", "es")) == ("2 de marzo de 2026", "CAD\u00a01.618,25")


def test_the_file_names_its_language(letter):
    with pikepdf.open(io.BytesIO(letter)) as pdf:
        assert str(pdf.Root.Lang) == "es"


def test_every_point_of_the_yardstick_is_found_in_spanish_as_in_english(frozen, issue, letter):
    """The IPDAS self-check reads the words that are printed, whatever their language."""
    said = " ".join(texts(letter))
    assert "Básicos: 6 de 6" in said
    assert "Certificación: 6 de 6" in said


@pytest.mark.parametrize("kind", ["option-sheet", "estimate"])
def test_the_other_papers_have_no_english_left(frozen, issue, kind):
    html = job(frozen, kind, issue, language="es").html
    said = re.sub(r"<style.*?</style>|<[^>]+>", " ", html)
    for heading in ("De dónde vienen estos números",):
        said = re.sub(rf"{heading}.*?(?=Cómo leer esto|$)", " ", said, flags=re.DOTALL)
    found = [said[max(0, at.start() - 40) : at.end() + 30] for at in STOP_WORDS.finditer(said)]
    assert not found


def test_the_after_care_sheet_has_no_english_left_and_says_who_translated_it(frozen, issue):
    known = all_treatments()
    sheet = care_sheet([(known["reshaping"], "reshaping"), (known["bonding"], "bonding")], "es")
    about = {"visit": "Bonding", "day": "2026-03-12", "next": "2026-03-26", "plan_sha256": sha256(frozen)}
    taken_home = replace(issue, care=stable_json(plain(sheet) | about).decode())
    html = job(frozen, "after-care", taken_home, language="es").html
    said = " ".join(re.sub(r"<style.*?</style>|<[^>]+>", " ", html, flags=re.DOTALL).split())
    assert not [said[max(0, at.start() - 40) : at.end() + 30] for at in STOP_WORDS.finditer(said)]
    assert "Traducción aún no revisada." in said
    assert "llame al número de emergencias" in said
    assert "en su idioma" not in said, "every line is there"


def test_promise_and_result_has_no_english_left(frozen, issue):
    said = json.loads(after_two_years())
    said |= {"plan_sha256": sha256(frozen), "name_es": "Adición en tres dientes", "next_on": "2029-03-13"}
    said["reviews"][0]["moment"] = "in between"
    for wish, words in zip(said["wishes"], ("el hueco", "el puntiagudo", "sin limar"), strict=True):
        wish["words"] = words
    html = job(frozen, RESULT, replace(issue, result=stable_json(said).decode()), language="es").html
    text = " ".join(re.sub(r"<style.*?</style>|<[^>]+>|made-from\.json", " ", html, flags=re.DOTALL).split())
    assert not [text[max(0, at.start() - 40) : at.end() + 30] for at in STOP_WORDS.finditer(text)]
    assert "Traducción aún no revisada." in text
    assert "7,1 × 9,3" in text
    assert "20 de enero de 2027" in text


def in_spanish(frozen, kind, **changes):
    """What stands beside the plan on a paper of this kind, as it is frozen for somebody who reads Spanish."""
    return {
        field: stable_json(json.loads(said) | {"plan_sha256": sha256(frozen)} | changes).decode()
        for field, said in beside(kind).items()
    }


@pytest.mark.parametrize(
    ("kind", "typed"),
    [
        ("receipt", {}),
        ("statement", {"lines": []}),
        ("refund-letter", {"reason": "Un diente se queda como está."}),
        ("shortfall-letter", {"reason": "El segundo diente es solo por estética."}),
    ],
)
def test_papers_about_money_have_no_english_left(frozen, issue, kind, typed):
    """But for what somebody typed, and the name of the file inside."""
    told = in_spanish(frozen, kind, name_es="Adición en tres dientes", **typed)
    html = job(frozen, kind, replace(issue, **told), language="es").html
    text = " ".join(re.sub(r"<style.*?</style>|<[^>]+>|made-from\.json", " ", html, flags=re.DOTALL).split())
    assert not [text[max(0, at.start() - 40) : at.end() + 30] for at in STOP_WORDS.finditer(text)]
    assert "Adición en tres dientes" in text
    assert "Traducción aún no revisada." in text


def test_an_agreement_to_pay_in_parts_speaks_spanish_but_for_what_the_office_asks_counsel(frozen, issue):
    with speaking("es"):
        (spanish,) = in_spanish(frozen, AGREEMENT).values()
        again = json.loads(arrangement.__wrapped__())
    words = {"rates_es": again["rates"], "how_es": again["how"], "option": "reshape-bond", "part": True}
    told = in_spanish(frozen, AGREEMENT, warnings=[], questions=[], **words)
    html = job(frozen, AGREEMENT, replace(issue, **told), language="es").html
    text = " ".join(re.sub(r"<style.*?</style>|<[^>]+>|made-from\.json", " ", html, flags=re.DOTALL).split())
    assert not [text[max(0, at.start() - 40) : at.end() + 30] for at in STOP_WORDS.finditer(text)]
    assert "8,24 %" in text
    assert f"{thaw(frozen, 'es').option('reshape-bond').name}: una parte" in text
    assert "1.618,25 − depósito 560,00" in text
    assert json.loads(spanish)["option_name"] not in text


@pytest.mark.parametrize("kind", ["wax-up-order", "step-sheet", "question-to-payer", "request-to-orthodontist"])
def test_what_goes_to_a_colleague_a_workshop_or_a_payer_is_in_english(frozen, issue, kind):
    asks = replace(thaw(frozen).spaces, request=("Move the canine back by 1.0 mm.",))
    plan = replace(thaw(frozen), spaces=asks).to_json()
    told = {"payer_guess": guess_for(thaw(plan))} if kind == "question-to-payer" else in_spanish(plan, kind)
    html = job(plan, kind, replace(issue, **told), language="es").html
    assert '<html lang="en"' in html
    assert "Traducción" not in html
    if kind == "question-to-payer":
        # What the patient signs on it is in the patient's language.
        html, signed = html.split('<section lang="es"')
        assert "El acuerdo del paciente" in signed
        assert "The patient’s agreement" not in html
    assert not re.search(
        r"\b(?:para|diente|dentista|clínica|página)\b", re.sub(r"<ol>.*?</ol>", "", html, flags=re.DOTALL)
    )


def test_a_plan_that_was_frozen_in_english_alone_is_refused_in_a_sentence(frozen, issue):
    english = plan_case(facts_of("lead", {}), tern_row(), DAY_ZERO).to_json()
    with pytest.raises(PaperError, match="Set the language in the patient's file and make a new estimate"):
        job(english, KEY, issue, language="es")
    with pytest.raises(PaperError, match="not there yet; there are: en, es"):
        job(english, KEY, issue, language="fr")


def test_a_reviewer_is_named_once_both_the_plan_and_the_texts_have_the_same(frozen, monkeypatch):
    plan = thaw(frozen, "es")
    (words,) = plan.other_words
    read = replace(plan, other_words=(replace(words, reviewer="Ana Ruiz"),))
    with translation.override("es"):
        assert translated(read, "es").checked is False
        known = replace(rule_texts("es"), reviewer="Ana Ruiz")
        monkeypatch.setattr("planner.letters.translated.texts", lambda _language: known)
        assert translated(read, "es").checked is True
        assert "La revisó Ana Ruiz." in translated(read, "es").sentences
        lacking = replace(read, other_words=(replace(words, untranslated=("A sentence.",)),))
        assert "aparece aquí en inglés" in translated(lacking, "es").sentences[-1]
    assert translated(plan, "en") is None


ARABIC = {"No treatment": "بدون علاج", "Whitening": "تبييض الأسنان", "Reshaping": "تشكيل السن"}
"""A sample, from memory; no Arabic is shipped."""


@pytest.fixture
def in_arabic(frozen, monkeypatch):
    """The lead plan as if its names of options had been frozen in Arabic too, in a program that ships that language."""
    plan = thaw(frozen)
    named = {f"options.{at}.name": ARABIC[one.name] for at, one in enumerate(plan.options) if one.name in ARABIC}
    sample = Texts("ar", "a test", "", {})
    known = rule_texts
    monkeypatch.setattr(papers, "LANGUAGES", ("en", "ar"))
    for place in ("planner.rules.words.texts", "planner.letters.translated.texts"):
        monkeypatch.setattr(place, lambda language: sample if language == "ar" else known(language))
    return replace(plan, other_words=(OtherWords("ar", "a test", "", named),)).to_json()


def test_a_right_to_left_language_is_laid_out_from_the_right(in_arabic, issue, tmp_path):
    """Read from the finished file with poppler: tables and paragraphs begin at the right margin, words are whole."""
    made = render_here(job(in_arabic, "estimate", issue, language="ar")).content
    with pikepdf.open(io.BytesIO(made)) as pdf:
        assert str(pdf.Root.Lang) == "ar"
    (tmp_path / "ar.pdf").write_bytes(made)
    read = subprocess.run(["pdftotext", "-bbox", tmp_path / "ar.pdf", "-"], capture_output=True, text=True, check=True)
    words = re.findall(r'<word xMin="([\d.]+)" yMin="[\d.]+" xMax="([\d.]+)" yMax="[\d.]+">(.*?)</word>', read.stdout)
    # Poppler gives the letters of such a word as they stand on the sheet, the last one first.
    assert "تبييض" in {unicodedata.normalize("NFKC", word)[::-1] for _, _, word in words}
    width = float(re.search(r'<page width="([\d.]+)"', read.stdout)[1])
    (heading,) = [float(right) for _, right, word in words if word == "Option"][:1]
    amounts = [float(left) for left, _, word in words if word == "Total"]
    assert heading > 0.8 * width, "the first column stands at the right"
    assert amounts[0] < 0.6 * width


def test_the_catalogue_is_complete_and_compiled():
    found = write_messages.catalogue("es")
    assert write_messages.untranslated(found) == []
    assert write_messages.po_path("es").read_bytes() == write_messages.po_bytes(found)
    assert write_messages.po_path("es").with_suffix(".mo").read_bytes() == write_messages.mo_bytes(found)


def test_a_translated_message_fills_in_what_the_english_does():
    for message in write_messages.catalogue("es"):
        if not message.id:
            continue
        english, spanish = (message.id[1], message.string[1]) if message.pluralizable else (message.id, message.string)
        assert set(re.findall(r"%\(\w+\)[sd]|%%", english)) == set(re.findall(r"%\(\w+\)[sd]|%%", spanish)), english


def test_every_template_of_a_paper_marks_all_its_words():
    """Text between tags that stands outside the marks would stay English whatever the language."""
    for path in sorted((write_messages.ROOT / "templates" / "letters").glob("*.html")):
        name = path.relative_to(write_messages.ROOT).as_posix()
        if any(path.match(office) for office in write_messages.FOR_THE_OFFICE):
            continue
        source = path.read_text(encoding="utf-8")
        source = re.sub(r"\{% (blocktranslate|comment).*?\{% end\1 %\}", " ", source, flags=re.DOTALL)
        source = re.sub(r"\{% block turned %\}.*?\{% endblock %\}", " ", source)
        bare = re.sub(r"\{%.*?%\}|\{\{.*?\}\}|\{#.*?#\}|<[^>]*>|&\w+;", " ", source, flags=re.DOTALL)
        left = [
            word
            for word in re.findall(r"\b[A-Za-z][A-Za-z0-9.]{2,}", bare)
            if word not in ("SHA", "PDF", "IPDAS", "sha256sum", "paper.pdf")
        ]
        assert not left, f"{name}: {left}"


def test_papers_can_be_asked_for_in_what_the_plan_carries_and_in_nothing_else(frozen):
    given = {"kinds": ["estimate"], "options": [], "today": DAY_ZERO}
    assert papers.languages_of(thaw(frozen)) == ("en", "es")
    asked = {"kinds": ["estimate"], "points": "11", "language": "es"}
    form = PapersForm(asked, languages=("en", "es"), **given)
    assert form.is_valid(), form.errors
    assert form.cleaned_data["language"] == "es"
    assert not PapersForm(asked | {"language": "fr"}, languages=("en", "es"), **given).is_valid()
    assert "language" not in PapersForm(languages=("en",), **given).fields


def test_what_stops_a_signature_is_said_in_spanish():
    """What papers differ on is said to the office, in English; whoever signs is told that they do, and how often."""
    differ = ("Papers differ on the fee. It is 10. But 20.", "Papers differ on the day. It is the 1st. But the 2nd.")
    assert papers_differ(differ) == differ
    with speaking("es") as missing:
        said = [*papers_differ(differ), facts_are_others(), too_hard_to_read("9.1", "8"), not_to_be_read()]
        assert papers_differ(()) == ()
    assert not missing
    assert said[0] == "Los papeles no coinciden en estos datos: 2. Antes lo arregla la clínica."
    assert not STOP_WORDS.search(" ".join(said))


def test_no_words_hide_within_a_formatted_string():
    """They would not be found, and stay English."""
    for path in sorted((write_messages.ROOT / "planner").rglob("*.py")):
        assert "{_(" not in path.read_text(encoding="utf-8"), path


def test_the_paper_to_take_home_has_no_english_left(frozen, issue):
    told = json.loads(shown()) | {"plan_sha256": sha256(frozen)}
    told["parts"]["arrangement"]["option"] = "reshape-bond"
    for question in told["questions"]:
        question |= {"words": "¿Me va a doler?", "answers": []}
    html = job(frozen, "take-home", replace(issue, showing=json.dumps(told)), language="es").html
    said = " ".join(re.sub(r"<style.*?</style>|<[^>]+>", " ", html, flags=re.DOTALL).split())
    said = re.sub(r"De dónde vienen estos números.*?(?=Lo calculó un programa)", " ", said, flags=re.DOTALL)
    assert not [said[max(0, at.start() - 40) : at.end() + 30] for at in STOP_WORDS.finditer(said)]
    assert "Aún sin respuesta." in said
