"""Gates as data: the form in which a dentist can read and correct them, and nothing else.

A gate looks at one fact and answers with a verdict where the fact is beyond a limit. The general gates stand in
``data/gates.toml``; a treatment's own stand as ``[[gates]]`` at the end of its file in ``data/treatments``. A new
treatment's gates need no code as long as they look at facts that are listed under ``[data]`` in ``gates.toml``.

A gate is written like this::

    [[gates]]
    id = "bonding.overjet"                  # unique; the treatment's key before the dot
    means = "Little room for a longer edge" # one line for whoever reads the file
    scope = "mouth"                         # whom it asks about, see below
    looks_at = "examination.bite.overjet"   # the fact that decides, out of [data]
    when = [ { looks_at = "tooth.lengthening", above = 0 } ]    # only then; all of them
    treatments = ["surgery"]                # general gates only; left out = every treatment
    missing = "ask"                         # a blank gives ask; "pass" only with missing_why
    tag = "T"                               # S settled, T typical, D debatable
    source = "common practice, no source"
    certainty = "common practice"           # published, abstract, secondary, memory, common practice, office

    [[gates.levels]]                        # tried in order, the first that holds answers
    below = 1.0                             # below, above, at_least, at_most, is, one_of; none of them = always
    verdict = "care"                        # care, wait, ask, no
    words = "..."                           # one plain sentence; {value} {limit} {teeth} {each} {also} are filled in

A gate without levels only asks that its fact is known and not too old. ``scope`` is one of

* ``mouth``: once;
* ``tooth``: each tooth the treatment works on, or every recorded tooth where it works on a whole arch;
* ``named tooth``: each tooth the treatment names, none where it works on a whole arch;
* ``touched tooth``: as ``tooth``, and the teeth standing next to those;
* ``any tooth``: every recorded tooth;
* ``smile tooth``: every recorded tooth and every one listed as carrying a crown or filling in the smile;
* ``place``: each place that is filled;
* ``neighbour``: each tooth that stands beside a place that is filled;
* ``gap``: each gap that is closed;
* ``lateral player``: each canine that plays a lateral, where it or its central is worked on.

A fact is a path into the case file (``history.latex``, ``examination.bite.overjet``), a fact of the tooth, place or gap
in question (``tooth.pocket``, ``place.ridge_thickness``, ``gap.new_or_growing``), or a derived one, such as ``age``;
the derived ones are worked out in :mod:`planner.rules.gate_derived` and :mod:`planner.rules.gate_teeth`. A limit is
written in the unit that ``[data]`` gives the fact, millimetres with one decimal. ``treatments`` names treatments by key
or by a flag of the catalogue (``resin``, ``surgery``, ``braces`` ...), or ``fills a place``, or ``faces``.

A condition in ``when`` whose own fact is blank gives ``ask`` for that fact, unless it says ``unknown = "skip"`` (then
it does not hold) or ``unknown = "holds"``. A level may add ``when``, ``treatments`` (and ``but_not``), ``step`` (what
has to happen first), ``earliest_from`` (a fact that is a date) with ``earliest_days``, ``swap`` (a line for the step
sheet), ``private``, ``second_dentist``, ``never_overridable``, and ``also`` (a second fact, printed as {also}).
``none_words`` on a gate makes the choice of no treatment ``care`` where one of the gate's levels holds.
"""

from collections.abc import Iterable, Mapping
from decimal import Decimal
from string import Formatter
from typing import Annotated, Any, Literal, Self

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError, model_validator

from planner.rules.settings import CERTAINTIES
from planner.rules.verdicts import Verdict

Scope = Literal[
    "mouth",
    "tooth",
    "named tooth",
    "touched tooth",
    "any tooth",
    "smile tooth",
    "place",
    "neighbour",
    "gap",
    "lateral player",
]
PLACEHOLDERS = frozenset({"value", "limit", "teeth", "each", "also"})


def _limit(value: object) -> object:
    # A binary float has already lost what was written; the data files are read with decimals kept exact.
    if isinstance(value, bool) or not isinstance(value, (int, Decimal)):
        raise ValueError(f"{value!r} is no limit: write a number such as 40 or 1.5")
    return Decimal(value)


Limit = Annotated[Decimal, BeforeValidator(_limit)]
Plain = bool | int | str


class Form(BaseModel):
    """Base of the form: frozen, and a word nobody knows is a fault."""

    model_config = ConfigDict(frozen=True, extra="forbid", str_strip_whitespace=True, populate_by_name=True)


class Criterion(Form):
    """What a fact is held against. Every bound that is given must hold."""

    below: Limit | None = None
    above: Limit | None = None
    at_least: Limit | None = None
    at_most: Limit | None = None
    equals: Annotated[Plain | None, Field(alias="is")] = None
    one_of: tuple[Plain, ...] = ()

    @property
    def bound(self) -> Decimal | None:
        """The bound to print: the one that the value went beyond."""
        return next((b for b in (self.below, self.above, self.at_least, self.at_most) if b is not None), None)

    def holds(self, value: object) -> bool:
        """Whether ``value`` (bool, word, whole number or Decimal in the unit of the limits) meets every bound."""
        if self.equals is not None and not _same(value, self.equals):
            return False
        if self.one_of and not any(_same(value, choice) for choice in self.one_of):
            return False
        if self.bound is None:
            return True
        if isinstance(value, bool) or not isinstance(value, (int, Decimal)):
            raise TypeError(f"{value!r} is not a number and cannot be held against {self.bound}")
        return (
            (self.below is None or value < self.below)
            and (self.above is None or value > self.above)
            and (self.at_least is None or value >= self.at_least)
            and (self.at_most is None or value <= self.at_most)
        )


def _same(value: object, wanted: object) -> bool:
    # True == 1 in Python; a yes is not a count here.
    return isinstance(value, bool) == isinstance(wanted, bool) and value == wanted


class Condition(Criterion):
    """A fact that must hold as well."""

    looks_at: str
    unknown: Literal["ask", "skip", "holds"] = "ask"


def _placeholders(words: str) -> frozenset[str]:
    return frozenset(name for _, name, _, _ in Formatter().parse(words) if name is not None)


class Level(Criterion):
    """One answer of a gate."""

    when: tuple[Condition, ...] = ()
    treatments: tuple[str, ...] = ()
    but_not: tuple[str, ...] = ()
    verdict: Verdict
    words: Annotated[str, Field(min_length=10)]
    words_es: str = ""
    """The same in Spanish; where it is left out a Spanish letter says it in English and says so."""
    step: str = ""
    step_es: str = ""
    earliest_from: str = ""
    earliest_days: int | None = None
    swap: str = ""
    also: str = ""
    private: bool = False
    second_dentist: bool = False
    never_overridable: bool = False

    @model_validator(mode="after")
    def _sound(self) -> Self:
        if self.verdict is Verdict.OFFER:
            raise ValueError('a gate never answers "offer": what no gate stops is offered')
        if self.verdict is Verdict.WAIT and not self.step:
            raise ValueError('"wait" needs a step: what has to happen first')
        wanted = _placeholders(self.words)
        odd = wanted - PLACEHOLDERS
        if odd:
            known = ", ".join(sorted(PLACEHOLDERS))
            raise ValueError(f"{', '.join(sorted(odd))} cannot be filled in; known are {known}")
        if self.words_es and _placeholders(self.words_es) != wanted:
            raise ValueError("words and words_es must fill in the same")
        return self


class Gate(Form):
    """One gate as its data file carries it."""

    id: Annotated[str, Field(min_length=1, max_length=60)]
    means: Annotated[str, Field(min_length=5)]
    scope: Scope = "mouth"
    looks_at: str
    when: tuple[Condition, ...] = ()
    treatments: tuple[str, ...] = ()
    missing: Literal["ask", "pass"] = "ask"
    missing_why: str = ""
    levels: tuple[Level, ...] = ()
    """None: the gate only asks that the fact is known and not too old."""
    none_words: str = ""
    none_words_es: str = ""
    tag: Literal["S", "T", "D"]
    source: Annotated[str, Field(min_length=3)]
    certainty: str

    @model_validator(mode="after")
    def _sound(self) -> Self:
        if self.certainty not in CERTAINTIES:
            raise ValueError(f'"{self.certainty}" is no certainty; known are {", ".join(sorted(CERTAINTIES))}')
        if (self.missing == "pass") != bool(self.missing_why):
            raise ValueError('missing = "pass" and missing_why go together: a blank that is let through needs a reason')
        if not self.levels and self.missing == "pass":
            raise ValueError("a gate without levels that lets a blank through would never say anything")
        return self

    def data(self) -> tuple[str, ...]:
        """Every fact the gate may look at, each once, in order."""
        conditions = [*self.when, *(condition for level in self.levels for condition in level.when)]
        beside = [name for level in self.levels for name in (level.earliest_from, level.also) if name]
        return tuple(dict.fromkeys([self.looks_at, *(condition.looks_at for condition in conditions), *beside]))


class GateError(ValueError):
    """Gates that cannot be read; says where and why."""


def read_gates(rows: Iterable[Mapping[str, Any]], where: str) -> tuple[Gate, ...]:
    """The gates in ``rows`` as TOML gave them; ``where`` names the file in the message.

    Raises GateError when one is not of the form above or two carry the same id.
    """
    gates: list[Gate] = []
    for number, row in enumerate(rows, start=1):
        try:
            gates.append(Gate.model_validate(row))
        except ValidationError as error:
            faults = "; ".join(
                f"{'.'.join(map(str, item['loc']))}: {item['msg']}" for item in error.errors(include_url=False)
            )
            raise GateError(f"{where}, gate {number} ({row.get('id', 'no id')}): {faults}") from None
    ids = [gate.id for gate in gates]
    twice = sorted({name for name in ids if ids.count(name) > 1})
    if twice:
        raise GateError(f"{where}: two gates are called {', '.join(twice)}; each id is used once")
    return tuple(gates)
