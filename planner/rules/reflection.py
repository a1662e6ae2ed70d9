"""Time to think it over between letter and signature: how long, by the kind of option, and by whose rule.

An office sets days of its own as dated settings with legal weight; where it has set none, the shipped value holds.
"""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final, Literal

from planner.rules.book import OfficeBook
from planner.rules.ranking import spared
from planner.rules.results import OptionShape, WorkLine
from planner.rules.settings import read_settings
from planner.rules.words import told

Kind = Literal["cutting for looks", "taking away", "adding"]
KINDS: Final[tuple[Kind, ...]] = ("cutting for looks", "taking away", "adding")


@dataclass(frozen=True, slots=True)
class Reflection:
    """How long to wait, for which kind of option, and where that comes from."""

    kind: Kind
    hours: int
    source: str

    def over_at(self, handed: datetime) -> datetime:
        """The instant from which a letter handed over at ``handed`` may be signed."""
        return handed + timedelta(hours=self.hours)


def setting_key(kind: Kind) -> str:
    """Key of the office's dated setting, whole days, for a kind of option."""
    return f"reflection-days-{kind.replace(' ', '-')}"


def kind_of(option: OptionShape) -> Kind:
    """The kind of an option, counted by the work in it that weighs most."""
    cut = {work.tooth for work in option.work if work.tooth is not None and _cuts(work)}
    looks = {tooth for line in option.estimate.lines if line.tax_class == "looks only" for tooth in line.teeth}
    if cut & looks:
        return "cutting for looks"
    takes = option.rank.surgery or any(
        work.irreversible or work.extracted or work.removal_tenths or work.crown_percent_high for work in option.work
    )
    return "taking away" if takes else "adding"


def reflection(option: OptionShape, book: OfficeBook, day: date) -> Reflection:
    """The time to think it over that holds for ``option`` on ``day``."""
    kind = kind_of(option)
    own = book.legal_on(setting_key(kind), day)
    if own is not None and own.value.isdecimal():
        return Reflection(kind, int(own.value) * 24, f"{own.reason} ({own.set_by}, {own.effective.isoformat()})")
    if kind == "taking away":
        known = read_settings("office_settings.toml")["reflection_hours_subtractive"]
        return Reflection(kind, book.reflection_hours_subtractive, known.source)
    shipped = read_settings("reflection.toml")[kind.replace(" ", "_")]
    return Reflection(kind, int(shipped.value) * 24, shipped.source)


def source_said(source: str) -> str:
    """Where the time comes from, in the language spoken: a shipped source; what an office wrote stays as it is."""
    return told(source) if source in shipped_sources() else source


def shipped_sources() -> tuple[str, ...]:
    """Where the times come from that hold as long as an office has set none of its own."""
    own = read_settings("office_settings.toml")["reflection_hours_subtractive"]
    return own.source, *(one.source for one in read_settings("reflection.toml").values())


def usual_words(kind: Kind) -> str:
    """What holds for a kind of option where the office has set no days of its own, in words."""
    if kind == "taking away":
        return "the hours of the office book hold"
    shipped = read_settings("reflection.toml")[kind.replace(" ", "_")]
    return f"{shipped.value} days hold ({shipped.source})"


def _cuts(work: WorkLine) -> bool:
    return work.removal_tenths > spared() or bool(work.crown_percent_high)
