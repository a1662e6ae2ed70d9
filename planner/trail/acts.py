"""The acts of the trail in words, and the six kinds that a reader asks for."""

from collections.abc import Mapping
from enum import StrEnum
from typing import Final

from django.db.models import Q
from django.utils.functional import Promise
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

REFUSED: Final = "refused."


class Kind(StrEnum):
    """What sort of act it was."""

    VIEW = "view"
    PRINT = "print"
    EXPORT = "export"
    CHANGE = "change"
    REFUSAL = "refusal"
    SIGN_IN = "sign-in"


KIND_WORDS: Final[Mapping[Kind, str | Promise]] = {
    Kind.VIEW: _("opened"),
    Kind.PRINT: _("printed"),
    Kind.EXPORT: _("taken out as a file"),
    Kind.CHANGE: _("done and changed"),
    Kind.REFUSAL: _("refused"),
    Kind.SIGN_IN: _("signing in and out"),
}

# Whatever is not named here is a change: an act that somebody adds is never hidden from those who look for changes.
_KINDS: Final[Mapping[Kind, tuple[str, ...]]] = {
    Kind.VIEW: ("patient.view", "patient.emergency", "document.check"),
    Kind.PRINT: ("document.make", "steps.draw_up", "story.print"),
    Kind.EXPORT: (
        "document.download", "case.export", "picture.original", "visit.calendar", "diary.calendar", "book.export",
        "monday.export", "stock.export", "records.patient", "records.office",
    ),
    Kind.SIGN_IN: ("session.begin", "session.end", "said.again"),
}  # fmt: skip
OPENINGS: Final = (*_KINDS[Kind.VIEW][:2], *_KINDS[Kind.PRINT], *_KINDS[Kind.EXPORT])
"""What "who opened my file" asks about: somebody looked, printed, or took a file out of the house."""

WORDS: Final[Mapping[str, str | Promise]] = {
    "patient.view": _("opened the file"),
    "patient.emergency": _("opened the file in an emergency"),
    "document.check": _("checked a paper against the office's record"),
    "document.make": _("printed a paper"),
    "document.download": _("took the file of a paper out"),
    "steps.draw_up": _("drew up the step sheet"),
    "story.print": _("printed from the record of acts"),
    "case.export": _("took the case out as a file"),
    "picture.original": _("took a picture out as a file"),
    "visit.calendar": _("took the appointment out as a calendar file"),
    "diary.calendar": _("took the diary out as a calendar file"),
    "book.export": _("took a table of the office book out as a file"),
    "monday.export": _("took the Monday page out as a file"),
    "stock.export": _("took the order list out as a file"),
    "records.ask": _("asked for a copy of everything"),
    "records.allowed": _("allowed a copy of everything"),
    "records.declined": _("declined a copy of everything"),
    "records.patient": _("took a copy of the whole file out"),
    "records.office": _("took a copy of the whole office out"),
    "session.begin": _("signed in"),
    "session.end": _("signed out"),
    "said.again": _("gave the password once more"),
    "patient.register": _("opened a new file"),
    "patient.change": _("corrected the file"),
    "patient.stop_all": _("stopped all contact"),
    "patient.contact_again": _("allowed contact again"),
    "join.ask": _("asked to join two files"),
    "join.allow": _("allowed two files to be joined"),
    "join.decline": _("declined to join two files"),
    "join.done": _("joined two files of one person"),
    "join.apart_ask": _("asked to take two files apart"),
    "join.apart": _("took two files apart"),
    "history.sign": _("entered a signed medical history"),
    "history.any_change": _("asked whether anything has changed"),
    "examination.store": _("stored measurements"),
    "examination.change": _("changed measurements"),
    "examination.confirm": _("confirmed measurements"),
    "examination.close": _("closed measurements: a plan rests on them"),
    "picture.add": _("took a picture in"),
    "picture.read": _("wrote down what a picture shows"),
    "picture.set_aside": _("set a picture aside"),
    "picture.erase": _("erased a picture"),
    "case.open": _("opened a case"),
    "case.import": _("took a case file in"),
    "case.change": _("changed the case"),
    "case.take_over": _("took the case over"),
    "plan.freeze": _("froze the plan"),
    "estimate.draft": _("drafted an estimate"),
    "estimate.options": _("changed what the estimate offers"),
    "estimate.check": _("checked the estimate"),
    "estimate.show": _("showed the estimate"),
    "estimate.answer": _("wrote down the answer"),
    "estimate.reissue": _("began a new issue of the estimate"),
    "estimate.replace": _("replaced an older issue"),
    "estimate.discard": _("discarded a draft"),
    "plan.accept": _("wrote down what was accepted"),
    "plan.amend": _("changed the accepted plan"),
    "plan.agree": _("wrote down the yes to a change"),
    "plan.move": _("moved the accepted plan on"),
    "plan.hold_price": _("held the prices for another term"),
    "plan.charge": _("charged something beside the work"),
    "plan.charge_waive": _("waived a charge"),
    "plan.balance_call": _("wrote down the call about a balance"),
    "plan.carry_forward": _("carried forward what is held"),
    "plan.repair": _("wrote down the yes to a repair"),
    "payment.receipt": _("wrote a receipt"),
    "payment.waiver": _("waived the deposit"),
    "payment.void": _("took a receipt back"),
    "payment.refund": _("paid money back"),
    "refund.ask": _("asked for a refund"),
    "refund.allow": _("allowed a refund"),
    "refund.pay": _("paid a refund"),
    "refund.decline": _("declined a refund"),
    "discount.ask": _("asked for a discount"),
    "discount.give": _("gave a discount"),
    "discount.allow": _("allowed a discount"),
    "discount.take_back": _("took a discount back"),
    "payer.paid": _("wrote down what a payer paid"),
    "payer.answer": _("wrote down what a payer answered"),
    "item.move": _("moved an item on"),
    "item.earn": _("wrote down what is earned"),
    "consent.hand": _("handed the letter over"),
    "consent.talk": _("wrote down a talk"),
    "consent.ask": _("wrote down a question"),
    "consent.answer": _("answered a question"),
    "consent.sign": _("took a signature"),
    "consent.countersign": _("countersigned"),
    "others.say": _("wrote down what somebody else says who must agree"),
    "consent.withdraw": _("wrote down that consent is withdrawn"),
    "consent.replace": _("replaced an older letter"),
    "visit.book": _("booked a visit"),
    "visit.reschedule": _("moved a visit"),
    "visit.cancel": _("cancelled a visit"),
    "visit.keep": _("wrote down that the patient came"),
    "visit.no_show": _("wrote down that nobody came"),
    "laboratory.order": _("ordered laboratory work"),
    "laboratory.move": _("moved laboratory work on"),
    "diary.absence": _("entered an absence"),
    "diary.block": _("took time for something else"),
    "diary.take_back": _("took an entry of the diary back"),
    "steps.stamp": _("stamped a step"),
    "steps.lot": _("wrote down the lot of a material"),
    "steps.note": _("wrote down what was found"),
    "steps.settle": _("settled what was found"),
    "steps.close": _("closed the step sheet"),
    "call.agree": _("wrote down the day for a call"),
    "call.made": _("wrote down a call"),
    "problem.told": _("wrote down a problem"),
    "problem.step": _("wrote down what was done about a problem"),
    "emergency.seen": _("looked at an emergency opening"),
    "staff.add": _("added somebody"),
    "staff.roles": _("changed roles"),
    "staff.end": _("ended somebody's access"),
    "staff.password": _("set a password"),
    "codes.set": _("set up one-time codes"),
    "codes.anew": _("began one-time codes anew"),
    "office.open": _("opened the office"),
    "book.adopt": _("adopted the office book"),
    "book.change": _("changed the office book"),
    "legal.propose": _("proposed a setting with legal weight"),
    "legal.set": _("set a setting with legal weight"),
    "legal.decline": _("declined a proposed setting"),
    "trail.erase": _("erased content, as the law asks"),
    "erase.ask": _("asked that a file be erased"),
    "erase.decline": _("declined to erase a file"),
    "erase": _("erased a file"),
}


def kind_of_act(act: str) -> Kind:
    """Which sort an act belongs to."""
    if act.startswith(REFUSED):
        return Kind.REFUSAL
    return next((kind for kind, acts in _KINDS.items() if act in acts), Kind.CHANGE)


def entries_of_kind(kind: Kind) -> Q:
    """The condition under which an entry is of this sort."""
    if kind is Kind.REFUSAL:
        return Q(act__startswith=REFUSED)
    if kind is Kind.CHANGE:
        named = [act for acts in _KINDS.values() for act in acts]
        return ~Q(act__startswith=REFUSED) & ~Q(act__in=named)
    return Q(act__in=_KINDS[kind])


def act_words(act: str) -> str:
    """An act in plain words; one without words of its own is said as it is recorded."""
    if act.startswith(REFUSED):
        return gettext("was refused: %(act)s") % {"act": _plain(act.removeprefix(REFUSED))}
    return str(WORDS[act]) if act in WORDS else _plain(act)


def _plain(act: str) -> str:
    words = WORDS.get(act)
    return str(words) if words else act.replace(".", ": ").replace("_", " ")
