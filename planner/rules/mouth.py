"""What was found: the facts of one case, validated, before anything is computed from them.

These frozen models are at once the facts the rules read and the shape of the case file (see
:mod:`planner.rules.casefile`), so that nothing is translated twice. A datum that was not asked or not measured is
``None``; the gates answer ``ask`` for it and never take a blank for "fine". Lengths are whole tenths of a millimetre
(written as millimetres), dates are dates in the office's time zone.

Three facts are kept apart for every tooth: what it *is* (``tooth``), where it *stands* (``place``) and what it must
*look like* (``role``). An absent tooth is a fact about a tooth; an empty place is a fact about a place.
"""

from datetime import date
from enum import StrEnum
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from planner.rules.choices import Choices
from planner.rules.facts import LONGEST_WISH, Facts, LongText, Percent, ShortText, ToothRef
from planner.rules.teeth import Numbering, Tooth
from planner.rules.units import Cents, Tenths


class Sex(StrEnum):
    """Only where a published band differs (edge step of the lateral, default age thresholds of growth)."""

    WOMAN = "woman"
    MAN = "man"


class Grinding(StrEnum):
    NO = "no"
    SUSPECTED = "suspected"
    CONFIRMED = "confirmed"


class Allergy(StrEnum):
    NO = "no"
    SUSPECTED = "suspected"
    POSITIVE = "positive"


class Person(Facts):
    """Who it is about, as far as the computation needs it."""

    name: ShortText
    birth_date: date
    sex: Sex | None = None
    language: Literal["en", "es"] = "en"
    print_points: Literal[11, 14, 18, 24] = 11
    can_decide_alone: bool | None = True
    decision_maker: ShortText = ""
    """Name of the lawful decision-maker where the patient is under age or cannot decide alone."""
    own_agreement: bool | None = None
    """The young person's own agreement, where somebody else decides."""


class History(Facts):
    """Signed medical history. ``None`` means not asked."""

    signed_on: date | None = None
    any_change_asked_on: date | None = None
    urgent_problem: bool | None = None
    """Pain, swelling, abscess or a suspicious sore that is not resolved."""
    methacrylate: Allergy | None = None
    latex: bool | None = None
    nickel: bool | None = None
    peroxide: bool | None = None
    chlorhexidine: bool | None = None
    sulphite: bool | None = None
    antibiotics: bool | None = None
    pregnant: bool | None = None
    due_on: date | None = None
    breast_feeding: bool | None = None
    bone_drug: Literal["none", "osteoporosis dose", "cancer dose", "other"] | None = None
    bone_drug_years: Annotated[int, Field(ge=0, le=60)] | None = None
    earlier_jaw_death: bool | None = None
    jaw_radiation: Literal["none", "under 50 Gy", "50 Gy or more", "dose unknown"] | None = None
    diabetes: bool | None = None
    hba1c_tenths: Annotated[int, Field(ge=30, le=200)] | None = None
    """HbA1c in tenths of a percent: 78 is 7.8 %."""
    hba1c_on: date | None = None
    nicotine_per_day: Annotated[int, Field(ge=0, le=200)] | None = None
    highest_risk_heart: bool | None = None
    bleeding_or_thinner: bool | None = None
    steroid_or_low_immunity: bool | None = None
    asthma: bool | None = None
    epilepsy: bool | None = None
    untreated_reflux: bool | None = None
    looks_worry: bool | None = None
    """Worry out of proportion, or a wish for what nobody can see (see gate G12)."""
    smile_treatments_disliked: Annotated[int, Field(ge=0, le=20)] | None = None
    jaw_pain: bool | None = None
    anxious: bool | None = None
    """Afraid of treatment: a long visit is hard."""
    weight_kg: Annotated[int, Field(ge=10, le=300)] | None = None


class WishTarget(Facts):
    """What must be true for a wish to be met. Without targets "meets the wish" cannot be computed."""

    kind: Literal[
        "gap closed", "tooth larger", "edge shorter", "colour lighter", "tooth replaced", "no sound tooth cut"
    ]
    teeth: tuple[ToothRef, ...] = ()
    """Two teeth for a gap, one or more for a tooth, none for colour or "no sound tooth cut"."""

    @model_validator(mode="after")
    def _named_teeth(self) -> Self:
        count = len(self.teeth)
        if self.kind == "gap closed" and count != 2:
            raise ValueError(f'"gap closed" names the two teeth beside the gap, not {count}')
        if self.kind in ("tooth larger", "edge shorter", "tooth replaced") and not count:
            raise ValueError(f'"{self.kind}" names the tooth it is about')
        if self.kind in ("colour lighter", "no sound tooth cut") and count:
            raise ValueError(f'"{self.kind}" is about all teeth and names none')
        return self


class Wish(Facts):
    """One wish in the patient's own words, ranked (1 = matters most), with the dentist's targets."""

    rank: Annotated[int, Field(ge=1, le=9)]
    words: Annotated[str, Field(max_length=LONGEST_WISH)]
    targets: tuple[WishTarget, ...] = ()


class Limits(Facts):
    """The patient's own limits. ``None`` means no limit was named."""

    removal: Tenths | None = None
    """Most that may be removed from any one tooth."""
    teeth_reduced: Annotated[int, Field(ge=0, le=32)] | None = None
    """Most teeth that may be irreversibly reduced."""
    visits: Annotated[int, Field(ge=1, le=100)] | None = None
    months: Annotated[int, Field(ge=0, le=120)] | None = None
    money: Cents | None = None
    wish_by: date | None = None
    wish_by_firm: bool = True
    """It must be finished by then; a date that is only hoped for is shown and changes no verdict."""
    wish_by_words: ShortText = ""


class ToothFacts(Facts):
    """One tooth that is present, measured at the crown."""

    tooth: ToothRef
    place: ToothRef | None = None
    """The tooth whose place this one stands in; left out when it stands in its own."""
    role: Literal["central", "lateral", "canine", "premolar"] | None = None
    """What it must look like; left out when that follows from its place."""
    width: Tenths | None = None
    width_again: Tenths | None = None
    length: Tenths | None = None
    length_again: Tenths | None = None
    neck_width: Tenths | None = None
    contact_height: Tenths | None = None
    """Height from half a millimetre under the gum to the contact; the rules use 4.0 where it is left out."""
    rotation: Annotated[int, Field(ge=0, le=180)] | None = None
    """Degrees by which the crown is turned out of the line of the arch; 0 stands in line."""
    thickness: Tenths | None = None
    """From face to palate."""
    arch_space: Tenths | None = None
    """What the tooth takes up along the arch, where that was measured directly; worked out for a turned one else."""
    frontal_width: Tenths | None = None
    """Apparent width in a true-scale photograph from the front: another measure than ``width``."""
    gum_step: Tenths | None = None
    """How far the gum line lies toward the edge, minus for away from it: a lateral's from the line between central and
    canine, that of a premolar in the canine's place from the other canine's."""
    double: bool = False
    """Fused or twin tooth: one crown that looks like two."""
    double_counts: Literal["once", "twice"] | None = None
    """Whether a double tooth is one tooth of the row (a bud that split) or two that grew together."""
    double_with: ToothRef | None = None
    """The second tooth of one that counts twice."""
    palatal_cusp: Literal["low", "full", "in the bite"] | None = None
    """Palatal cusp of a premolar in the canine's place."""
    root_bulge: bool | None = None
    """The root makes the bulge in the gum that a canine's makes."""
    shade: ShortText = ""
    """The tooth's own shade, where it differs from its neighbours or must match them."""
    side_guidance: Literal["this tooth", "a group", "other teeth"] | None = None
    """What carries the jaw to this side."""
    undersized: bool | None = None
    restored: bool | None = None
    crowned: bool | None = None
    """Carries an artificial crown."""
    root_treated: bool | None = None
    crown_lost_percent: Percent | None = None
    """How much of the natural crown is already lost."""
    ferrule: Tenths | None = None
    """Least height of sound tooth above the gum, all round, on a tooth that may need a crown."""
    gum_too_low: Tenths | None = None
    """How far the gum edge would go up to match its twin, or the tooth it stands for; 0.0 for level."""
    bone_to_gum: Tenths | None = None
    """From the bone to the edge of the gum, on the face, sounded or read in a picture."""
    decay: bool | None = None
    pocket: Annotated[int, Field(ge=0, le=15)] | None = None
    """Deepest pocket in whole millimetres."""
    pocket_bleeds: bool | None = None
    papilla_bleeds: bool | None = None
    mobility: Annotated[int, Field(ge=0, le=3)] | None = None
    nerve: Literal["responds", "negative", "unclear"] | None = None
    dark: bool | None = None
    gum_lump: bool | None = None
    trauma: bool | None = None
    sensitivity: Annotated[int, Field(ge=0, le=10)] | None = None
    wear: Annotated[int, Field(ge=0, le=4)] | None = None
    wear_cause: ShortText = ""
    dentine_visible: bool | None = None
    edge_thickness: Tenths | None = None
    guides_bite: bool | None = None
    """The edge or cusp guides the bite forward or sideways."""
    guidance_checked: bool = False
    """Side and forward guidance was checked for a longer edge."""
    enamel_percent: Literal[0, 25, 50, 75, 100] | None = None
    """Share of the bonding outline that lies in enamel."""
    wing_enamel_height: Tenths | None = None
    wing_enamel_area: Annotated[int, Field(ge=0, le=200)] | None = None
    """Palatal enamel that a wing could hold on to, whole square millimetres."""
    wing_filling_percent: Percent | None = None
    wing_clearance: Tenths | None = None
    bone_loss_percent: Percent | None = None
    root_short: bool | None = None
    """Root shortened by more than a third, or no longer than the crown."""
    infolding_checked: bool | None = None
    """Film and palatal pit check of an undersized lateral for an infolded tooth."""
    exposed_neck: Tenths | None = None
    edge_removed_before: Tenths = 0
    """Millimetres already taken off the edge in the tooth's life."""
    sides_removed_before: Tenths = 0
    not_to_be_touched: bool = False


class Gap(Facts):
    """The space between the crowns of two neighbours at contact height. Zero is a contact."""

    between: tuple[ToothRef, ToothRef]
    width: Tenths
    width_again: Tenths | None = None
    film: Literal["tight", "film"] | None = None
    """Only for 0.1 and 0.2 mm: tight to a 0.05 mm strip, or a film of resin is allowed here."""
    may_stay: bool = False
    new_or_growing: bool | None = None
    contact_to_bone: Tenths | None = None
    connector_height: Tenths | None = None
    """Height over which the two crowns seem to touch, seen from the front; only where they do."""


class AbsentTooth(Facts):
    """A tooth that never formed, was lost, or is only presumed absent."""

    tooth: ToothRef
    cause: Literal["never formed", "lost", "not erupted", "presumed"] = "presumed"
    lost_on: date | None = None
    palpation_note: LongText = ""
    felt: bool | None = None
    localised: bool | None = None


class EmptyPlace(Facts):
    """A place where no tooth stands now, or where one is to be made empty."""

    place: ToothRef
    crown_distance: Tenths | None = None
    root_distance: Tenths | None = None
    measured_with: Literal["caliper", "scan", "film"] | None = None
    film_factor_percent: Annotated[int, Field(ge=80, le=150)] | None = None
    ridge_thickness: Tenths | None = None
    height_to_bite: Tenths | None = None


class Picture(Facts):
    """A film, scan or photograph and what a named reader saw in it."""

    kind: Literal["small film", "panoramic", "small 3-D", "photo", "scan"]
    on: date
    reader: ShortText
    absent: tuple[ToothRef, ...] = ()
    """Teeth this picture proves absent."""
    roots_of: tuple[ToothRef, ...] = ()
    """Teeth whose root and nerve state were read."""
    reading: LongText = ""


class Gums(Facts):
    on: date | None = None
    probed_whole_mouth: bool | None = None
    deepest_pocket: Annotated[int, Field(ge=0, le=15)] | None = None
    deepest_bleeds: bool | None = None
    bleeding_percent: Percent | None = None
    plaque_percent: Percent | None = None
    ever_treated_for_gum_disease: bool | None = None
    cleaned_on: date | None = None
    gum_thickness: Literal["thin", "thick"] | None = None
    firm_gum: Tenths | None = None


class Decay(Facts):
    on: date | None = None
    open_lesions: Annotated[int, Field(ge=0, le=32)] | None = None
    """Open decay anywhere in the mouth, the plan's teeth included."""
    filling_booked_on: date | None = None
    risk: Literal["low", "medium", "high"] | None = None
    leaking_fillings: bool | None = None


class Bite(Facts):
    on: date | None = None
    overjet: Tenths | None = None
    overbite: Tenths | None = None
    overbite_percent: Annotated[int, Field(ge=-50, le=150)] | None = None
    grinding: Grinding | None = None
    guard_agreed: bool | None = None
    guard_nights_per_week: Annotated[int, Field(ge=0, le=7)] | None = None
    mouth_opening: Annotated[int, Field(ge=5, le=80)] | None = None
    """Whole millimetres."""
    smile_line: Literal["low", "medium", "high"] | None = None
    long_face: bool | None = None
    frenum_checked: bool | None = None
    habit_checked: bool | None = None
    extra_tooth_checked: bool | None = None
    can_be_kept_dry: bool | None = None
    crossbite: bool | None = None


class Colour(Facts):
    on: date | None = None
    shade: ShortText = ""
    grey_bands: bool | None = None
    white_spots: bool | None = None
    cracks: bool | None = None
    restorations_in_smile: tuple[ToothRef, ...] = ()
    """Crowns and fillings that whitening will not change."""
    last_whitening_night: date | None = None


class Growth(Facts):
    """Two height readings, or two side skull films, with dates."""

    height_mm: tuple[tuple[date, Annotated[int, Field(ge=400, le=2500)]], ...] = ()
    skull_films: tuple[date, ...] = ()
    skull_films_changed: bool | None = None


class Orthodontics(Facts):
    state: Literal["none", "in treatment", "finished"] | None = None
    removed_on: date | None = None


class Examination(Facts):
    """One set of measurements, by one person on one day, confirmed by a dentist."""

    on: date
    by: ShortText
    instrument: Literal["caliper", "scan", "film"] = "caliper"
    film_factor_percent: Annotated[int, Field(ge=80, le=150)] | None = None
    confirmed_by: ShortText = ""
    teeth: tuple[ToothFacts, ...] = ()
    gaps: tuple[Gap, ...] = ()
    absent: tuple[AbsentTooth, ...] = ()
    empty_places: tuple[EmptyPlace, ...] = ()
    midline_offset: Tenths | None = None
    """Plus = the teeth stand too far to the patient's left of the middle of the face; 0 when they are in line."""
    strip_length: Tenths | None = None
    """The arch between the facing sides of the outermost measured teeth, in one go with a flexible strip (closure
    check)."""
    gums: Gums = Gums()
    decay: Decay = Decay()
    bite: Bite = Bite()
    colour: Colour = Colour()
    growth: Growth = Growth()
    orthodontics: Orthodontics = Orthodontics()


Weight = Literal["a lot", "a little", "not"]


class Matters(Facts):
    """How much each thing matters to the patient, as the patient answered; blank where it was not asked."""

    tooth: Weight | None = None
    undo: Weight | None = None
    safe: Weight | None = None
    visits: Weight | None = None
    soon: Weight | None = None
    cost_now: Weight | None = None
    cost_years: Weight | None = None
    lasting: Weight | None = None
    look: Weight | None = None


class CaseFacts(Facts):
    """All facts of one case: what the case file carries and what ``plan_case`` reads."""

    format: Literal["leastways-case"] = "leastways-case"
    version: Literal[1] = 1
    numbering: Numbering = Numbering.ISO
    case: Annotated[str, Field(min_length=1, max_length=80)]
    """What this case is called in lists; no meaning."""
    patient: Person
    history: History = History()
    wishes: tuple[Wish, ...] = ()
    limits: Limits = Limits()
    matters: Matters = Matters()
    """It marks options and never moves one."""
    examination: Examination
    pictures: tuple[Picture, ...] = ()
    choices: Choices = Choices()
    notes: LongText = ""

    def tooth(self, tooth: Tooth) -> ToothFacts | None:
        """The facts of one tooth, or None when it was not recorded."""
        return next((found for found in self.examination.teeth if found.tooth == tooth), None)
