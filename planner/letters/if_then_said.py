"""What is agreed for what may be found, as papers say it: each sentence with its work and price, and the span."""

from django.utils.translation import gettext as _

from planner.letters.wording import money
from planner.rules.mouth import CaseFacts
from planner.rules.results import FoundShape, OptionShape
from planner.rules.strip import Words


def agreed_lines(facts: CaseFacts, option: OptionShape | None, words: Words, language: str) -> tuple[str, ...]:
    """Every agreed sentence; those with work that belongs to ``option`` say how much of it."""
    found = span.found if option is not None and (span := option.estimate.span) is not None else ()
    pieces = {piece.words: f"({_piece(piece, words, language)})" for piece in found}
    return tuple(
        f"{entry} {pieces[str(entry)]}" if str(entry) in pieces else str(entry) for entry in facts.choices.if_then
    )


def pieces_said(option: OptionShape, words: Words, currency: str, language: str) -> tuple[str, ...]:
    """The sentences whose work belongs to ``option``, with how much of it and the total it makes."""
    span = option.estimate.span
    found = span.found if span is not None else ()
    return tuple(
        _("%(sentence)s %(piece)s. The total is then %(total)s.")
        % {
            "sentence": piece.words,
            "piece": _piece(piece, words, language),
            "total": money(piece.alone_cents, currency, language),
        }
        for piece in found
    )


def span_said(option: OptionShape, currency: str, language: str) -> str:
    """Between what the price of ``option`` lies, and what it is not more than; empty where it is the total."""
    span = option.estimate.span
    if span is None:
        return ""
    low, high = money(span.low_cents, currency, language), money(span.high_cents, currency, language)
    return _("The price is between %(low)s and %(high)s; not more than %(high)s without your signature.") % {
        "low": low,
        "high": high,
    }


def _piece(piece: FoundShape, words: Words, language: str) -> str:
    named = piece.service_words_es if language == "es" and piece.service_words_es else piece.service_words
    where = f", {'; '.join(words.number(tooth) for tooth in piece.teeth)}" if piece.teeth else ""
    return _("At most %(n)d × %(service)s%(where)s") % {"n": piece.quantity, "service": named, "where": where}
