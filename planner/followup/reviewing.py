"""Writing down a review of finished work. What was written wrongly is corrected by a review that takes its place."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime

from django.db import transaction
from django.utils.translation import gettext as _

from planner.followup.results import promised_of, wishes_of
from planner.followup.review_models import WITH, Review, ReviewTooth, ReviewWish
from planner.patients.models import Instrument
from planner.plans.accepted_models import AcceptedPlan
from planner.practice.access import Act, Thing, require, require_own
from planner.practice.before import done_by
from planner.practice.books import today
from planner.practice.models import Staff
from planner.rules.item_states import ItemState
from planner.rules.plausible import questions
from planner.rules.promise import WISH_SCALE, Moment, SeenTooth
from planner.rules.teeth import Tooth
from planner.trail.errors import Refused
from planner.trail.services import record


@dataclass(frozen=True, slots=True)
class Seen:
    """What somebody saw, measured and was told at a review."""

    moment: Moment
    on: date
    measured_by: str
    instrument: Instrument = Instrument.CALIPER
    teeth: Mapping[Tooth, SeenTooth] = field(default_factory=dict)
    scores: Mapping[int, int] = field(default_factory=dict)
    """By rank of the wish: 0 to 10."""
    words: str = ""
    sure: bool = False
    """Somebody measured again what looked like a slip."""


def note_review(
    *, plan: AcceptedPlan, seen: Seen, corrects: Review | None = None, actor: Staff, now: datetime
) -> Review:
    """Keep a review of ``plan``. ``corrects`` is the one in whose place it counts.

    Raises Refused with the sentence for the field at fault: before anything is done, for a day that cannot be, a tooth
    or wish that is none of the plan, a length that looks like a slip and was not measured again, nothing seen at all;
    NotAllowed.
    """
    require_own(actor, plan)
    require(actor, Act.CREATE, Thing.REVIEW, subject=plan)
    with transaction.atomic():
        held = AcceptedPlan.objects.select_for_update(of=("self",)).select_related("office", "frozen").get(pk=plan.pk)
        _check_day(held, seen, today(held.office, now))
        _check_seen(held, seen)
        _check_place(held, seen, corrects)
        made = Review.objects.create(
            office=held.office,
            plan=held,
            moment=str(seen.moment),
            on=seen.on,
            measured_by=seen.measured_by.strip(),
            instrument=seen.instrument,
            words=seen.words.strip(),
            corrects=corrects,
            by=actor,
            at=now,
        )
        for tooth, found in seen.teeth.items():
            ReviewTooth.objects.create(
                office=held.office,
                review=made,
                tooth=tooth.key,
                condition=str(found.condition),
                width=found.width,
                length=found.length,
            )
        for rank, score in sorted(seen.scores.items()):
            ReviewWish.objects.create(office=held.office, review=made, rank=rank, score=score)
        content = {
            "plan": held.public_id,
            "moment": made.moment,
            "on": made.on.isoformat(),
            "teeth": {tooth.key: [str(one.condition), one.width, one.length] for tooth, one in seen.teeth.items()},
            "scores": {str(rank): score for rank, score in sorted(seen.scores.items())},
            "corrects": corrects.public_id if corrects is not None else "",
        }
        record(actor=actor, act="review.note", subject=made, content=content, at=now)
    return made


def _check_day(plan: AcceptedPlan, seen: Seen, day: date) -> None:
    done = [item.done_on for item in plan.items.all() if item.state == ItemState.DONE and item.done_on]
    if not done:
        raise Refused(_("Nothing of this plan is done yet: there is no finished work to review."))
    if seen.on > day:
        raise Refused(_("This day is still to come: a review is written down once it was held."), field="on")
    if seen.on < min(done):
        raise Refused(
            _("Nothing was done yet on %(day)s: the first of it was done on %(done)s.")
            % {"day": seen.on.isoformat(), "done": min(done).isoformat()},
            field="on",
        )


def _check_seen(plan: AcceptedPlan, seen: Seen) -> None:
    if not seen.measured_by.strip():
        raise Refused(_("Say who measured and looked."), field="measured_by")
    if seen.instrument not in WITH:
        raise Refused(_("Finished work is measured by caliper or scan: a film enlarges."), field="instrument")
    if not seen.teeth and not seen.scores:
        raise Refused(_("Nothing was seen and nothing was said: write down a tooth or a wish."))
    known = {one.tooth for one in promised_of(plan)}
    for tooth in seen.teeth:
        if tooth not in known:
            raise Refused(_("The %(tooth)s is no tooth of this plan.") % {"tooth": tooth.name})
    ranks = {rank for rank, _words in wishes_of(plan)}
    least, most = WISH_SCALE
    for rank, score in seen.scores.items():
        if rank not in ranks:
            raise Refused(_("The plan has no wish %(n)d.") % {"n": rank})
        if not least <= score <= most:
            raise Refused(
                _("%(n)d is not on the scale: write %(least)d to %(most)d.")
                % {"n": score, "least": least, "most": most},
                field=f"wish_{rank}",
            )
    slips = [
        one.words
        for tooth, found in seen.teeth.items()
        for one in questions(tooth, width=found.width, length=found.length)
    ]
    if slips and not seen.sure:
        raise Refused(" ".join(slips), field="sure")


def _check_place(plan: AcceptedPlan, seen: Seen, corrects: Review | None) -> None:
    if corrects is not None:
        if corrects.plan_id != plan.pk:
            raise Refused(_("The review to be corrected belongs to another plan."))
        newer = Review.objects.filter(corrects=corrects).select_related("by").first()
        if newer is not None:
            who = done_by(_("corrected"), newer.by, newer.at, newer.office)
            raise Refused(_("This review was corrected already (%(who)s): correct the newest.") % {"who": who})
    if seen.moment != Moment.OTHER:
        same = plan.reviews.filter(moment=str(seen.moment), corrected_by=None)
        if corrects is not None:
            same = same.exclude(pk=corrects.pk)
        if same.exists():
            raise Refused(
                _("The review “%(moment)s” is written down already: correct it, or write this one as “%(other)s”.")
                % {"moment": seen.moment, "other": Moment.OTHER},
                field="moment",
            )
