"""Forms of the office book: name and place, opening, prices, and settings with legal weight. They never save."""

from datetime import date
from decimal import Decimal
from typing import Any, Literal
from zoneinfo import available_timezones

from babel.numbers import list_currencies
from django import forms
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from planner.practice.drafts import weekday_name
from planner.practice.fields import AmountField, DayField, DaysField, HourField, PlainForm
from planner.rules.book import LegalSetting, OfficeBook, OpenHours, PriceList, Service, TaxRate
from planner.rules.office_law import TEXT_SETTINGS, text_fault

NUMBERINGS = [
    ("iso", _("ISO 3950, two digits: the upper right central incisor is 11")),
    ("universal", _("Universal, 1 to 32: the upper right central incisor is 8")),
    ("palmer", _("Palmer, digit and corner: the upper right central incisor is 1\u23cc, on paper UR1")),
]
PAIRS = (("a", "b"), ("c", "d"))
PRICED_TWICE = ("first and further", "per surface")


class OfficeForm(PlainForm):
    """What the office is called, where it is, and how it counts."""

    office = forms.CharField(label=_("Name of the office"), max_length=120)
    place = forms.CharField(label=_("Place"), max_length=120)
    currency = forms.CharField(
        label=_("Currency"),
        max_length=10,
        help_text=_("Its three letters (ISO 4217), such as CAD, EUR or MXN."),
        widget=forms.TextInput(attrs={"data-size": "short", "autocomplete": "off"}),
    )
    numbering = forms.ChoiceField(label=_("How teeth are written"), choices=NUMBERINGS, widget=forms.RadioSelect)
    time_zone = forms.ChoiceField(label=_("Time zone"), help_text=_("Days begin and end by it."))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        zones = sorted(zone for zone in available_timezones() if "/" in zone and not zone.startswith(("Etc/", "posix")))
        choice = self.fields["time_zone"]
        assert isinstance(choice, forms.ChoiceField)
        choice.choices = [("", _("choose")), *((zone, zone.replace("_", " ")) for zone in zones)]

    def clean_currency(self) -> str:
        """Three letters that stand for a currency."""
        written = str(self.cleaned_data["currency"]).strip().upper()
        if written not in list_currencies():
            raise forms.ValidationError(
                _now("“%(text)s” is no currency: write its three letters, such as CAD, EUR or MXN.")
                % {"text": self.cleaned_data["currency"]}
            )
        return written


class OpeningForm(PlainForm):
    """Opening hours by weekday, chairs, and days on which the office is closed."""

    chairs = forms.CharField(
        label=_("Chairs"),
        help_text=_("One on each line, as you call them."),
        widget=forms.Textarea(attrs={"rows": 3}),
    )
    closed_days = DaysField(
        label=_("Closed days"),
        required=False,
        help_text=_("One on each line, such as 24 December 2026: holidays, leave, courses."),
    )

    def __init__(self, *args: Any, book: OfficeBook | None = None, **kwargs: Any) -> None:
        if book is not None:
            kwargs["initial"] = opening_initial(book) | (kwargs.get("initial") or {})
        super().__init__(*args, **kwargs)
        for day in range(7):
            for part, words in (("a", _("opens")), ("b", _("closes")), ("c", _("opens again")), ("d", _("closes"))):
                self.fields[f"day{day}{part}"] = HourField(label=f"{weekday_name(day)}, {words}", required=False)

    def weekdays(self) -> list[tuple[str, list[forms.BoundField]]]:
        """The rows of the table: a weekday's name and its four hours."""
        return [(weekday_name(day), [self[f"day{day}{part}"] for part in "abcd"]) for day in range(7)]

    def clean_chairs(self) -> tuple[str, ...]:
        """The names, in the order written."""
        names = tuple(line.strip() for line in self.cleaned_data["chairs"].splitlines() if line.strip())
        for name in names:
            if len(name) > 40:
                raise forms.ValidationError(
                    _now("“%(name)s” is longer than 40 signs: give the chair a shorter name.") % {"name": name}
                )
        if len(set(names)) < len(names):
            raise forms.ValidationError(_now("Two chairs have the same name: give each a name of its own."))
        return names

    def clean(self) -> dict[str, Any]:
        """Hours come in pairs, in order, and do not overlap."""
        data = super().clean() or {}
        for day in range(7):
            for opens, closes in ((f"day{day}a", f"day{day}b"), (f"day{day}c", f"day{day}d")):
                if {opens, closes} & set(self.errors):
                    continue
                one, two = data.get(opens), data.get(closes)
                if (one is None) != (two is None):
                    missing = opens if one is None else closes
                    self.add_error(missing, _now("Opening and closing go together: write both hours or neither."))
                elif one is not None and one >= two:
                    self.add_error(closes, _now("It closes before it opens: write a later hour here."))
            first, second = data.get(f"day{day}b"), data.get(f"day{day}c")
            if second is not None and (first is None or second < first):
                self.add_error(f"day{day}c", _now("The second opening comes after the first closing."))
        if not self.errors and not self._lines(data):
            self.add_error(None, _now("No weekday has opening hours: write them for one day at least."))
        return data

    def _lines(self, data: dict[str, Any]) -> tuple[OpenHours, ...]:
        pairs = ((day, data[f"day{day}{one}"], data[f"day{day}{two}"]) for day in range(7) for one, two in PAIRS)
        return tuple(OpenHours(weekday=day, opens=one, closes=two) for day, one, two in pairs if one is not None)

    def opening(self) -> dict[str, Any]:
        """What was typed, as :func:`planner.practice.drafts.with_opening` takes it."""
        data = self.cleaned_data
        return {"hours": self._lines(data), "closed_days": data["closed_days"], "chairs": data["chairs"]}


def opening_initial(book: OfficeBook) -> dict[str, Any]:
    """The opening hours, chairs and closed days of a book, as the form shows them."""
    initial: dict[str, Any] = {"chairs": "\n".join(book.chairs), "closed_days": book.closed_days}
    for day in range(7):
        lines = sorted((line.opens, line.closes) for line in book.hours if line.weekday == day)
        for (opens, closes), (one, two) in zip(lines, PAIRS, strict=False):
            initial[f"day{day}{one}"], initial[f"day{day}{two}"] = opens, closes
    return initial


class PricesForm(PlainForm):
    """The lines of a price list: the office's own short code, the words printed, and what it costs."""

    def __init__(self, *args: Any, prices: PriceList, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.prices = prices
        for line in prices.services:
            self._add_line(line)

    def _add_line(self, line: Service) -> None:
        key = line.key
        self.fields[f"{key}.code"] = forms.CharField(
            label=_now("%(words)s: code") % {"words": line.words},
            max_length=12,
            initial=line.code,
            error_messages={"required": _("Every line has a code: write one of your own.")},
        )
        self.fields[f"{key}.words"] = forms.CharField(
            label=_now("%(words)s: words") % {"words": line.words},
            max_length=120,
            initial=line.words,
            error_messages={"required": _("Write what is printed on the estimate.")},
        )
        self.fields[f"{key}.cents"] = AmountField(
            label=_now("%(words)s: price") % {"words": line.words}, required=False, initial=line.cents
        )
        if line.shape in PRICED_TWICE:
            self.fields[f"{key}.further_cents"] = AmountField(
                label=_now("%(words)s: further price") % {"words": line.words},
                required=False,
                initial=line.further_cents,
            )
        self.fields[f"{key}.lab_cents"] = AmountField(
            label=_now("%(words)s: laboratory in it") % {"words": line.words},
            required=False,
            initial=line.lab_cents or None,
        )

    def lines(self) -> list[dict[str, Any]]:
        """The rows of the table, each with its service and its fields."""
        return [
            {
                "service": line,
                "code": self[f"{line.key}.code"],
                "words": self[f"{line.key}.words"],
                "cents": self[f"{line.key}.cents"],
                "further": self[f"{line.key}.further_cents"] if line.shape in PRICED_TWICE else None,
                "lab": self[f"{line.key}.lab_cents"],
            }
            for line in self.prices.services
        ]

    def clean(self) -> dict[str, Any]:
        """Codes are different, a price is not zero, and two-part prices are whole."""
        data = super().clean() or {}
        taken: dict[str, str] = {line.further_code: line.words for line in self.prices.services if line.further_code}
        for line in self.prices.services:
            code, cents = data.get(f"{line.key}.code"), data.get(f"{line.key}.cents")
            if code and code in taken:
                self.add_error(
                    f"{line.key}.code",
                    _now("“%(code)s” stands for “%(other)s” already: give one of the two another code.")
                    % {"code": code, "other": taken[code]},
                )
            elif code:
                taken[code] = line.words
            if cents == 0 and line.shape != "included":
                self.add_error(
                    f"{line.key}.cents",
                    _now("A price of zero looks like a price and is none: write the price, or leave it empty for now."),
                )
            if line.shape in PRICED_TWICE and cents and not data.get(f"{line.key}.further_cents"):
                self.add_error(
                    f"{line.key}.further_cents",
                    _now("This line has two prices: write what the second and further ones cost as well."),
                )
        return data

    def services(self) -> dict[str, dict[str, Any]]:
        """What was typed, by service, as :func:`planner.practice.drafts.with_prices` takes it."""
        typed: dict[str, dict[str, Any]] = {}
        for line in self.prices.services:
            data = {name: self.cleaned_data.get(f"{line.key}.{name}") for name in ("code", "words", "cents")}
            if line.shape in PRICED_TWICE:
                data["further_cents"] = self.cleaned_data.get(f"{line.key}.further_cents")
            typed[line.key] = data | {"lab_cents": self.cleaned_data.get(f"{line.key}.lab_cents") or 0}
        return typed


LEGAL_KEYS = (
    ("age-of-own-consent", _("Age from which a patient consents alone"), _("Whole years, such as 18.")),
    ("age-of-majority", _("Age of majority"), _("Whole years, such as 18.")),
    ("whitening-age", _("Youngest age for whitening"), _("Whole years, such as 18.")),
    ("leap-day-birthday", _("Birthday of who was born on 29 February, in other years"), _("1 March or 28 February.")),
)
TAX_KEYS = {
    "looks only": _("Sales tax on work that is for looks only, percent"),
    "reconstructive": _("Sales tax on work that repairs or replaces, percent"),
}
LEAP_DAYS = [("1 March", _("1 March")), ("28 February", _("28 February"))]


def _legal_field(key: str, label: Any, hint: Any, required: bool) -> forms.Field:
    if key == "leap-day-birthday":
        choices = LEAP_DAYS if required else [*LEAP_DAYS, ("", _("not set yet"))]
        return forms.ChoiceField(
            label=label, choices=choices, widget=forms.RadioSelect, required=required, help_text=_("Ask local counsel.")
        )
    return forms.IntegerField(
        label=label,
        help_text=hint,
        min_value=0,
        max_value=99,
        required=required,
        widget=forms.TextInput(attrs={"data-size": "short", "inputmode": "numeric"}),
        error_messages={
            "invalid": _("This is not a whole number of years: write one such as 18."),
            "min_value": _("An age is 0 or more: write one such as 18."),
            "max_value": _("An age here has two digits at most: write one such as 18."),
        },
    )


def percent_field(label: Any, **kwargs: Any) -> forms.DecimalField:
    """A percentage from 0 to 100, with a comma or a point."""
    return forms.DecimalField(
        label=label,
        min_value=Decimal(0),
        max_value=Decimal(100),
        max_digits=7,
        decimal_places=4,
        localize=True,
        widget=forms.TextInput(attrs={"data-size": "short", "inputmode": "decimal"}),
        error_messages={
            "invalid": _("This is not a percentage: write a number such as 13 or 7.5."),
            "min_value": _("A tax is 0 percent or more."),
            "max_value": _("A tax is 100 percent at most."),
        },
        **kwargs,
    )


class FirstLegalForm(PlainForm):
    """The settings with legal weight a new office begins with, and who says so."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for key, label, hint in LEGAL_KEYS:
            self.fields[key] = _legal_field(key, label, hint, required=False)
        self.fields["looks_only"] = percent_field(
            TAX_KEYS["looks only"],
            required=False,
            help_text=_("0 where there is none. Left empty, nothing can be estimated until it is set."),
        )
        self.fields["reconstructive"] = percent_field(
            TAX_KEYS["reconstructive"],
            required=False,
            help_text=_("0 where there is none."),
        )
        self.fields["effective"] = DayField(label=_("In effect from"), help_text=_("Today, or an earlier day."))
        self.fields["set_by"] = forms.CharField(label=_("Who says so"), max_length=200)
        self.fields["reason"] = forms.CharField(
            label=_("On what ground"),
            max_length=500,
            help_text=_("The rule or the advice it follows, with its date. It is printed beside the setting."),
        )

    def settings(self) -> tuple[list[LegalSetting], list[TaxRate]]:
        """The dated settings and the taxes that were typed; what was left empty is not set."""
        data = self.cleaned_data
        common = {name: data[name] for name in ("effective", "set_by", "reason")}
        legal = [
            LegalSetting(key=key, value=str(data[key]), **common)
            for key, _label, _hint in LEGAL_KEYS
            if data.get(key) not in (None, "")
        ]
        classes: tuple[tuple[str, Literal["looks only", "reconstructive"]], ...] = (
            ("looks_only", "looks only"),
            ("reconstructive", "reconstructive"),
        )
        taxes = [
            TaxRate(tax_class=words, percent=data[name], **common) for name, words in classes if data[name] is not None
        ]
        return legal, taxes


_TEXT_KEYS = frozenset(one.key for one in TEXT_SETTINGS)


class LegalForm(PlainForm):
    """One setting with legal weight, dated, in the name of who sets it."""

    key = forms.ChoiceField(
        label=_("Setting"),
        choices=[
            *((key, label) for key, label, _hint in LEGAL_KEYS),
            *TAX_KEYS.items(),
            *((one.key, _(one.label)) for one in TEXT_SETTINGS),
        ],
    )
    value = forms.CharField(
        label=_("Value"),
        max_length=2000,
        help_text=_(
            "Whole years for an age; 1 March or 28 February for the leap day; a percentage for a tax; us, uk or none "
            "for the duty of estimate; us, eu or other for the law of credit; days or the office's own words."
        ),
        widget=forms.Textarea(attrs={"rows": 2}),
    )

    def clean(self) -> dict[str, Any]:
        """An age is a whole number, and the leap day one of two."""
        data = super().clean() or {}
        key, value = data.get("key"), (data.get("value") or "").strip()
        if key == "leap-day-birthday" and value and value not in dict(LEAP_DAYS):
            self.add_error("value", _now("“%(value)s” is neither: write 1 March or 28 February.") % {"value": value})
        elif key in TAX_KEYS and value:
            self._read_percent(value)
        elif key in _TEXT_KEYS:
            if fault := text_fault(str(key), value):
                self.add_error("value", fault)
        elif (
            key not in TAX_KEYS
            and key
            and key != "leap-day-birthday"
            and value
            and not (value.isdigit() and len(value) <= 2)
        ):
            self.add_error(
                "value", _now("“%(value)s” is not a whole number of years: write one such as 18.") % {"value": value}
            )
        return data

    def _read_percent(self, value: str) -> None:
        try:
            percent_field("").clean(value.replace(",", "."))
        except forms.ValidationError:
            self.add_error(
                "value", _now("“%(value)s” is not a percentage: write one such as 13 or 7.5.") % {"value": value}
            )

    def setting(self, *, effective: date, set_by: str, reason: str) -> LegalSetting | TaxRate:
        """The dated setting as typed."""
        key, value = self.cleaned_data["key"], self.cleaned_data["value"].strip()
        common: dict[str, Any] = {"effective": effective, "set_by": set_by, "reason": reason}
        if key in TAX_KEYS:
            return TaxRate(tax_class=key, percent=Decimal(value.replace(",", ".")), **common)
        return LegalSetting(key=key, value=value, **common)


class WhenAndWhyForm(PlainForm):
    """From which day a change holds, and why it is made."""

    effective = DayField(label=_("In effect from"))
    reason = forms.CharField(label=_("Reason"), max_length=500, help_text=_("It stays in the record."))
    seen = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, earliest: date, hint: Any = "", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["effective"]
        assert isinstance(field, DayField)
        field.earliest = earliest
        field.help_text = hint
