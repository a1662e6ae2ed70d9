"""Why not otherwise: the nearest ideas that a plan rejects, and what stays compromised after less movement."""

from planner.rules.book import OfficeBook
from planner.rules.mouth import CaseFacts
from planner.rules.segments import limit_changes, limits_of, segment_of, shared
from planner.rules.space_conflicts import stays_compromised
from planner.rules.space_ideas import rejected_ideas
from planner.rules.space_results import moves_in_words
from planner.rules.space_told import chosen_plan, in_numbers
from planner.rules.spaces import film_questions, settled


def why_not(facts: CaseFacts, book: OfficeBook) -> tuple[tuple[str, str], ...]:
    """The three nearest ideas that the chosen plan rejects, each with the exact reason; empty where nothing fits.

    Raises MeasureFirst and SpaceError as :func:`planner.rules.segments.segment_of` does.
    """
    segment = segment_of(facts)
    plan = chosen_plan(shared(segment, limit_changes(book.office_limits, facts.choices)))
    if plan is None:
        return ()
    found = rejected_ideas(segment, limits_of(book.office_limits, facts.choices), plan)
    return tuple((in_numbers(idea.idea, facts), in_numbers(idea.why, facts)) for idea in found)


def compromised(facts: CaseFacts, book: OfficeBook, most: int) -> tuple[str, ...]:
    """What still has to give way when teeth may move by ``most`` (0.1 mm, all gaps together) and no more.

    One sentence for every smallest set of rules. Raises as :func:`why_not` does.
    """
    segment, limits = segment_of(facts), limits_of(book.office_limits, facts.choices)
    least = shared(segment, limit_changes(book.office_limits, facts.choices)).movement
    if least is not None and most >= least.total:
        words = in_numbers(moves_in_words(least), facts)
        return (f"{words[0].upper()}{words[1:]}; then everything fits.",)
    if film_questions(segment, limits):
        return ()
    said = []
    for each in stays_compromised(settled(segment, limits), limits, most):
        names = [*(rule.value for rule in each.given_up.rules), *each.given_up.locks]
        moves = moves_in_words(each.movement) if each.movement.moves else "without moving teeth"
        held = f"still broken: {', '.join(names)}" if names else "then everything fits"
        said.append(in_numbers(f"{moves[0].upper()}{moves[1:]}; {held}.", facts))
    return tuple(said)
