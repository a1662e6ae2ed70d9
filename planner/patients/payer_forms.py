"""Forms about payers: a plan, a person's cover, what is used, a question and its answer. None of them saves."""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import Any, TypeVar

from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _
from pydantic import BaseModel, ValidationError

from planner.patients.payer_models import PayerPlan
from planner.patients.tooth_fields import ToothField
from planner.practice.fields import AmountField, DayField, PlainForm, YesNoField, day_words
from planner.rules.benefit_plans import Basis, BenefitPlan, Cover, Used
from planner.rules.book import Service
from planner.rules.teeth import Numbering

Kind = TypeVar("Kind", bound=BaseModel)
CLASSES = 4
"""Rows for classes on the form of a plan."""
ROWS = 3
"""Empty rows for answers, and for what was paid before, on the form of a cover."""
TOLD = [("written answer", _("a written answer")), ("phone", _("told by telephone")), ("own guess", _("our own guess"))]
WAYS = [
    ("unknown", _("nobody has said")),
    ("standard", _("standard: together no more than the fee")),
    ("maintenance", _("maintenance: its share of what the other left")),
    ("non-duplication", _("non-duplication: only what goes beyond the other")),
    ("carve-out", _("carve-out: its own benefit less the other's")),
]
_SHORT = {"data-size": "short", "autocomplete": "off"}
_MID = {"data-size": "mid", "autocomplete": "off"}


def _number(label: Any, least: int, most: int) -> forms.IntegerField:
    return forms.IntegerField(
        label=label, required=False, min_value=least, max_value=most, widget=forms.TextInput(attrs=_SHORT)
    )


class BasisForm(PlainForm):
    """Who said so, how, when, and why it is written down."""

    told = forms.ChoiceField(label=_("It rests on"), choices=TOLD, widget=forms.RadioSelect)
    told_by = forms.CharField(
        label=_("Who said so"),
        max_length=200,
        help_text=_("The payer's clerk, the letter or booklet, or who of the office guessed."),
        widget=forms.TextInput(attrs=_MID),
    )
    told_on = DayField(label=_("On which day"))

    def basis(self) -> Basis:
        """As typed."""
        data = self.cleaned_data
        return Basis(told=data["told"], by=data["told_by"], on=data["told_on"])


def basis_initial(basis: Basis) -> dict[str, Any]:
    """A stored basis as the form shows it."""
    return {"told": basis.told, "told_by": basis.by, "told_on": basis.on}


class PlanForm(BasisForm):
    """A payer's plan."""

    payer = forms.CharField(label=_("Payer"), max_length=120, widget=forms.TextInput(attrs=_MID))
    name = forms.CharField(label=_("Plan"), max_length=120, widget=forms.TextInput(attrs=_MID))
    day_counts = forms.ChoiceField(
        label=_("Which day is the day of service?"),
        choices=[("start", _("the day work starts")), ("finish", _("the day it is finished"))],
        widget=forms.RadioSelect,
        initial="finish",
    )
    year_begins = DayField(
        label=_("The benefit year begins on"), help_text=_("Any year; day and month count. Such as 1 January 2026.")
    )
    yearly_maximum = AmountField(label=_("Yearly maximum"), required=False, help_text=_("Empty: the plan has none."))
    lifetime_maximum = AmountField(
        label=_("Lifetime maximum"), required=False, help_text=_("For the classes ticked below; empty: none.")
    )
    deductible = AmountField(label=_("Yearly deductible"), required=False, help_text=_("Empty: none."))
    looks_only_excluded = YesNoField(label=_("Does it leave out work that is for looks only?"))
    missing_before_excluded = YesNoField(
        label=_("Does it leave out replacing a tooth that was missing before cover began?")
    )
    coordination = forms.ChoiceField(
        label=_("After another payer, it pays"), choices=WAYS, widget=forms.RadioSelect, initial="unknown"
    )
    fees_agreed = forms.BooleanField(
        label=_("The office has agreed with this payer to take the plan's fees as its own"), required=False
    )
    reason = forms.CharField(label=_("Why is this written down or changed?"), max_length=500)
    seen = forms.IntegerField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, services: Sequence[Service], currency: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.services, self.currency = services, currency
        for row in range(1, CLASSES + 1):
            words = {"n": row}
            self.fields[f"key{row}"] = forms.CharField(
                label=_now("Class %(n)d, name") % words, max_length=40, required=False, widget=forms.TextInput(_MID)
            )
            self.fields[f"percent{row}"] = forms.DecimalField(
                label=_now("Class %(n)d, percent") % words,
                min_value=0,
                max_value=100,
                decimal_places=2,
                required=False,
                widget=forms.TextInput(_SHORT),
            )
            for name, label in (
                ("deductible", _now("Class %(n)d, deductible first")),
                ("yearly", _now("Class %(n)d, counts toward the yearly maximum")),
                ("lifetime", _now("Class %(n)d, counts toward the lifetime maximum")),
            ):
                first = name != "lifetime"
                self.fields[f"{name}{row}"] = forms.BooleanField(label=label % words, required=False, initial=first)
            self.fields[f"waiting{row}"] = _number(_now("Class %(n)d, months to wait") % words, 0, 600)
            self.fields[f"youngest{row}"] = _number(_now("Class %(n)d, from age") % words, 0, 130)
            self.fields[f"oldest{row}"] = _number(_now("Class %(n)d, through age") % words, 0, 130)
        pays = [("", _now("not asked")), ("none", _now("pays nothing"))]
        pays += [(str(row), _now("class %(n)d") % {"n": row}) for row in range(1, CLASSES + 1)]
        swaps = [("", "–"), *((one.key, one.code) for one in services)]
        for place, one in enumerate(services):
            said = {"words": one.words}
            self.fields[f"s{place}_pays"] = forms.ChoiceField(
                label=_now("%(words)s: pays") % said, choices=pays, required=False
            )
            self.fields[f"s{place}_fee"] = AmountField(label=_now("%(words)s: plan's fee") % said, required=False)
            self.fields[f"s{place}_swap"] = forms.ChoiceField(
                label=_now("%(words)s: cheaper service that counts") % said, choices=swaps, required=False
            )
            self.fields[f"s{place}_times"] = _number(_now("%(words)s: times") % said, 1, 99)
            self.fields[f"s{place}_months"] = _number(_now("%(words)s: in months") % said, 1, 600)
            for name, label in (
                ("tooth", _now("%(words)s: counted by tooth")),
                ("prior", _now("%(words)s: written answer first")),
            ):
                self.fields[f"s{place}_{name}"] = forms.BooleanField(label=label % said, required=False)

    def class_rows(self) -> list[dict[str, Any]]:
        """The rows of the table of classes."""
        names = ("key", "percent", "deductible", "waiting", "youngest", "oldest", "yearly", "lifetime")
        return [{name: self[f"{name}{row}"] for name in names} | {"n": row} for row in range(1, CLASSES + 1)]

    def service_rows(self) -> list[dict[str, Any]]:
        """The rows of the table of services."""
        names = ("pays", "fee", "swap", "times", "months", "tooth", "prior")
        return [
            {name: self[f"s{place}_{name}"] for name in names} | {"service": one}
            for place, one in enumerate(self.services)
        ]

    def plan(self) -> BenefitPlan | None:
        """The plan as typed; None, with the faults added to the form, when it does not hold together."""
        data = self.cleaned_data
        used_rows = {data[f"s{place}_pays"] for place in range(len(self.services))} - {"", "none"}
        for row in sorted(used_rows):
            if not data[f"key{row}"] or data[f"percent{row}"] is None:
                self.add_error(f"key{row}", _now("A service is in this class: write its name and percentage."))
        if data["year_begins"].day > 28:
            self.add_error("year_begins", _now("A benefit year begins on a day that every year has: the 1st to 28th."))
        if self.errors:
            return None
        begins: date = data["year_begins"]
        return _made(
            self,
            BenefitPlan,
            {
                "payer": data["payer"],
                "name": data["name"],
                "currency": self.currency,
                "day_counts": data["day_counts"],
                "year_begins": f"{begins.month:02d}-{begins.day:02d}",
                "yearly_maximum_cents": _amount(data["yearly_maximum"]),
                "lifetime_maximum_cents": _amount(data["lifetime_maximum"]),
                "deductible_cents": _amount(data["deductible"] or 0),
                "looks_only_excluded": data["looks_only_excluded"],
                "missing_before_excluded": data["missing_before_excluded"],
                "coordination": data["coordination"],
                "fees_agreed": data["fees_agreed"],
                "classes": [self._class(row) for row in range(1, CLASSES + 1) if data[f"key{row}"]],
                "services": [self._service(place) for place in range(len(self.services)) if self._is_told(place)],
                "basis": self.basis(),
            },
        )

    def _is_told(self, place: int) -> bool:
        return bool(self.cleaned_data[f"s{place}_pays"]) or self.cleaned_data[f"s{place}_fee"] is not None

    def _class(self, row: int) -> dict[str, Any]:
        data = self.cleaned_data
        return {
            "key": data[f"key{row}"],
            "percent": data[f"percent{row}"] or 0,
            "deductible": data[f"deductible{row}"],
            "waiting_months": data[f"waiting{row}"] or 0,
            "youngest": data[f"youngest{row}"],
            "oldest": data[f"oldest{row}"],
            "to_yearly_maximum": data[f"yearly{row}"],
            "to_lifetime_maximum": data[f"lifetime{row}"],
        }

    def _service(self, place: int) -> dict[str, Any]:
        data = {name: self.cleaned_data[f"s{place}_{name}"] for name in _OF_SERVICE}
        limit = None
        if data["times"] or data["months"]:
            limit = {"times": data["times"] or 1, "months": data["months"] or 12, "same_tooth": data["tooth"]}
        row = data["pays"]
        return {
            "service": self.services[place].key,
            "benefit_class": self.cleaned_data[f"key{row}"] if row not in ("", "none") else "",
            "fee_cents": _amount(data["fee"]),
            "swap": data["swap"],
            "limit": limit,
            "prior_answer": data["prior"],
        }


_OF_SERVICE = ("pays", "fee", "swap", "times", "months", "tooth", "prior")


def plan_initial(plan: BenefitPlan, services: Sequence[Service]) -> dict[str, Any]:
    """A stored plan as the form shows it."""
    month, of_month = (int(part) for part in plan.year_begins.split("-"))
    initial: dict[str, Any] = basis_initial(plan.basis) | {
        "payer": plan.payer,
        "name": plan.name,
        "day_counts": plan.day_counts,
        "year_begins": date(plan.basis.on.year, month, of_month),
        "yearly_maximum": plan.yearly_maximum_cents,
        "lifetime_maximum": plan.lifetime_maximum_cents,
        "deductible": plan.deductible_cents,
        "looks_only_excluded": plan.looks_only_excluded,
        "missing_before_excluded": plan.missing_before_excluded,
        "coordination": plan.coordination,
        "fees_agreed": plan.fees_agreed,
    }
    rows = {}
    for row, one in enumerate(plan.classes, start=1):
        rows[one.key] = str(row)
        initial |= {
            f"key{row}": one.key,
            f"percent{row}": format(one.percent.normalize(), "f"),
            f"deductible{row}": one.deductible,
            f"waiting{row}": one.waiting_months or None,
            f"youngest{row}": one.youngest,
            f"oldest{row}": one.oldest,
            f"yearly{row}": one.to_yearly_maximum,
            f"lifetime{row}": one.to_lifetime_maximum,
        }
    for place, service in enumerate(services):
        told = plan.covered(service.key)
        if told is not None:
            initial |= {
                f"s{place}_pays": rows.get(told.benefit_class, "none"),
                f"s{place}_fee": told.fee_cents,
                f"s{place}_swap": told.swap,
                f"s{place}_times": told.limit.times if told.limit else None,
                f"s{place}_months": told.limit.months if told.limit else None,
                f"s{place}_tooth": bool(told.limit and told.limit.same_tooth),
                f"s{place}_prior": told.prior_answer,
            }
    return initial


class CoverForm(BasisForm):
    """A person's cover under a plan."""

    plan = forms.ChoiceField(label=_("Plan"))
    begins = DayField(label=_("Cover begins on"))
    ends = DayField(label=_("Last day of cover"), required=False)
    held_as = forms.ChoiceField(
        label=_("The person is covered as"),
        choices=[("member", _("a member")), ("dependant", _("somebody's dependant"))],
        widget=forms.RadioSelect,
        initial="member",
    )
    seen = forms.IntegerField(widget=forms.HiddenInput, required=False)
    continued = forms.BooleanField(label=_("Continued after work has ended"), required=False)
    holder_birthday = DayField(
        label=_("Birthday of the parent who holds it"),
        required=False,
        help_text=_("For a child with two plans: the parent whose birthday comes first in the year pays first."),
    )
    court_says_first = forms.BooleanField(label=_("A court has said that this plan pays first"), required=False)
    before_asked = forms.BooleanField(
        label=_("It was asked what this plan has paid toward before; all of it stands below"), required=False
    )
    reason = forms.CharField(label=_("Why is this written down or changed?"), max_length=500)

    def __init__(
        self, *args: Any, plans: Sequence[PayerPlan], services: Sequence[Service], numbering: Numbering, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self._plans = {row.series: row for row in plans}
        choice: Any = self.fields["plan"]
        choice.choices = [("", _now("choose")), *((row.series, row.name) for row in plans)]
        named = [("", "–"), *((one.key, f"{one.code} {one.words}") for one in services)]
        known = [dict(self.initial.get(name, {})) for name in ("answers", "done")]
        self.rows = [max(len(rows) + 1, ROWS) for rows in known]
        if self.is_bound:
            self.rows = [_rows_in(self.data, prefix) for prefix in ("a", "d")]
        for place in range(self.rows[0]):
            words = {"n": place + 1}
            self.fields[f"a{place}_service"] = forms.ChoiceField(
                label=_now("Answer %(n)d, service") % words, choices=named, required=False
            )
            self.fields[f"a{place}_pays"] = forms.ChoiceField(
                label=_now("Answer %(n)d") % words,
                choices=[("yes", _now("yes, it pays")), ("no", _now("no"))],
                required=False,
            )
            self.fields[f"a{place}_on"] = DayField(label=_now("Answer %(n)d, of") % words, required=False)
            self.fields[f"a{place}_through"] = DayField(
                label=_now("Answer %(n)d, holds through") % words, required=False
            )
        for place in range(self.rows[1]):
            words = {"n": place + 1}
            self.fields[f"d{place}_service"] = forms.ChoiceField(
                label=_now("Paid before %(n)d, service") % words, choices=named, required=False
            )
            tooth = ToothField(label=_now("Paid before %(n)d, tooth") % words, required=False)
            tooth.numbering = numbering
            self.fields[f"d{place}_tooth"] = tooth
            self.fields[f"d{place}_on"] = DayField(label=_now("Paid before %(n)d, on") % words, required=False)

    def answer_rows(self) -> list[list[forms.BoundField]]:
        """The rows of the table of answers."""
        return [[self[f"a{n}_{name}"] for name in ("service", "pays", "on", "through")] for n in range(self.rows[0])]

    def done_rows(self) -> list[list[forms.BoundField]]:
        """The rows of the table of what was paid before."""
        return [[self[f"d{n}_{name}"] for name in ("service", "tooth", "on")] for n in range(self.rows[1])]

    def chosen_plan(self) -> PayerPlan:
        """The plan that was chosen."""
        return self._plans[self.cleaned_data["plan"]]

    def cover(self) -> Cover | None:
        """The cover as typed; None, with the faults added to the form, when it cannot be."""
        data = self.cleaned_data
        for prefix, rows in zip("ad", self.rows, strict=True):
            for n in range(rows):
                if data[f"{prefix}{n}_service"] and data[f"{prefix}{n}_on"] is None:
                    self.add_error(f"{prefix}{n}_on", _now("This is missing: please write the day."))
        if any(data[f"d{n}_service"] for n in range(self.rows[1])) and not data["before_asked"]:
            self.add_error("before_asked", _now("Tick this when what stands below is all of it."))
        if self.errors:
            return None
        answers = [
            {
                "service": data[f"a{n}_service"],
                "pays": data[f"a{n}_pays"] == "yes",
                "on": data[f"a{n}_on"],
                "through": data[f"a{n}_through"],
            }
            for n in range(self.rows[0])
            if data[f"a{n}_service"]
        ]
        done = [
            {"service": data[f"d{n}_service"], "tooth": data[f"d{n}_tooth"], "on": data[f"d{n}_on"]}
            for n in range(self.rows[1])
            if data[f"d{n}_service"]
        ]
        plain = ("begins", "ends", "held_as", "continued", "holder_birthday", "court_says_first")
        values = {name: data[name] for name in plain}
        more = {"answers": answers, "done_before": done if data["before_asked"] else None, "basis": self.basis()}
        return _made(self, Cover, values | more)


def cover_initial(cover: Cover, series: str) -> dict[str, Any]:
    """A stored cover as the form shows it."""
    initial: dict[str, Any] = basis_initial(cover.basis) | {
        "plan": series,
        "before_asked": cover.done_before is not None,
        "answers": dict(enumerate(cover.answers)),
        "done": dict(enumerate(cover.done_before or ())),
    }
    for name in ("begins", "ends", "held_as", "continued", "holder_birthday", "court_says_first"):
        initial[name] = getattr(cover, name)
    for n, answer in enumerate(cover.answers):
        initial |= {
            f"a{n}_service": answer.service,
            f"a{n}_pays": "yes" if answer.pays else "no",
            f"a{n}_on": answer.on,
            f"a{n}_through": answer.through,
        }
    for n, done in enumerate(cover.done_before or ()):
        initial |= {f"d{n}_service": done.service, f"d{n}_tooth": done.tooth, f"d{n}_on": done.on}
    return initial


class UsedForm(BasisForm):
    """What is used of one benefit year."""

    year = forms.ChoiceField(label=_("Benefit year"))
    maximum = AmountField(
        label=_("Used of the yearly maximum"), required=False, help_text=_("Empty: not told. 0 for nothing used.")
    )
    deductible = AmountField(label=_("Used of the deductible"), required=False, help_text=_("Empty: not told."))
    lifetime = AmountField(
        label=_("Used of the lifetime maximum, all years"), required=False, help_text=_("Empty: not told.")
    )

    def __init__(self, *args: Any, years: Sequence[date], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choice: Any = self.fields["year"]
        choice.choices = [(day.isoformat(), _now("from %(day)s") % {"day": day_words(day)}) for day in years]

    def used(self) -> Used | None:
        """As typed."""
        data = self.cleaned_data
        return _made(
            self,
            Used,
            {
                "year_begins": date.fromisoformat(data["year"]),
                "maximum_cents": _amount(data["maximum"]),
                "deductible_cents": _amount(data["deductible"]),
                "lifetime_cents": _amount(data["lifetime"]),
                "basis": self.basis(),
            },
        )


class AskForm(PlainForm):
    """A question to a payer."""

    words = forms.CharField(
        label=_("What is asked"),
        max_length=1000,
        widget=forms.Textarea(attrs={"rows": 4}),
        help_text=_("Nothing of the medical history. A payer gets only what it needs to answer."),
    )
    due = DayField(label=_("Answer wanted by"))


class AnswerForm(PlainForm):
    """What a payer answered."""

    words = forms.CharField(label=_("What was answered"), max_length=1000, widget=forms.Textarea(attrs={"rows": 4}))
    told = forms.ChoiceField(label=_("How"), choices=TOLD[:2], widget=forms.RadioSelect)
    by = forms.CharField(label=_("Who said so"), max_length=200, widget=forms.TextInput(attrs=_MID))
    on = DayField(label=_("On which day"))


def _rows_in(data: Any, prefix: str) -> int:
    """How many rows a submission holds, within reason."""
    found = 0
    while found < 60 and f"{prefix}{found}_service" in data:
        found += 1
    return max(found, ROWS)


def _amount(cents: int | None) -> Decimal | None:
    """Whole cents as the typed data reads amounts."""
    return None if cents is None else Decimal(cents) / 100


def _made(form: PlainForm, kind: type[Kind], values: dict[str, Any]) -> Kind | None:
    """The typed value; None, with its faults added to the form as sentences, when it does not hold together."""
    try:
        return kind.model_validate(values)
    except ValidationError as error:
        for fault in error.errors():
            said = str(fault["msg"]).removeprefix("Value error, ")
            form.add_error(None, f"{said[:1].upper()}{said[1:]}.")
        return None
