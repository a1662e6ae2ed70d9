"""People, their signed histories, and what was measured in their mouths.

Lengths are whole tenths of a millimetre, teeth are kept by key, dates are dates in the office's zone. A set of
measurements is open while it is a draft or confirmed, and closed for good once a frozen plan rests on it; a correction
is a new set.
"""

from typing import Any

from django.conf import settings
from django.db import models
from django.db.models import Q

from planner.practice.models import Noted, Office
from planner.trail.fields import Public, Versioned

LONGEST = 400
"""Tenths of a millimetre: no crown, gap or root distance in a mouth is longer than 40 mm."""
LONGEST_STRIP = 2000
"""And no arch is longer than 200 mm."""


class Patient(Versioned):
    """One person, named as that person writes the name."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="patients")
    name = models.CharField(max_length=200)
    sort_key = models.CharField(max_length=200)
    birth_date = models.DateField()
    phone = models.CharField(max_length=40, blank=True)
    language = models.CharField(max_length=2, default="en")
    print_points = models.PositiveSmallIntegerField(default=11)
    contact_consent = models.BooleanField(null=True)
    """None: not asked."""
    stop_all = models.BooleanField(default=False)
    """No reminder and no call of any kind any more."""
    sex = models.CharField(max_length=5, blank=True)
    can_decide_alone = models.BooleanField(null=True, default=True)
    decision_maker = models.CharField(max_length=200, blank=True)
    own_agreement = models.BooleanField(null=True)
    created_at = models.DateTimeField()

    class Meta:
        ordering = ("sort_key", "id")
        constraints = [
            models.CheckConstraint(condition=~Q(name="") & ~Q(sort_key=""), name="patient_named"),
            models.CheckConstraint(condition=Q(language__in=("en", "es")), name="patient_language_known"),
            models.CheckConstraint(condition=Q(print_points__in=(11, 14, 18, 24)), name="patient_print_size_known"),
            models.CheckConstraint(condition=Q(sex__in=("", "woman", "man")), name="patient_sex_known"),
        ]
        indexes = [
            models.Index(fields=("office", "sort_key", "id"), name="patient_by_name"),
            models.Index(fields=("office", "birth_date", "sort_key", "id"), name="patient_by_birth_date"),
        ]

    def __str__(self) -> str:
        return self.name


class NameWord(models.Model):
    """One word of a patient's name, for finding people by any part of it."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    patient = models.ForeignKey(Patient, on_delete=models.CASCADE, related_name="words")
    word = models.CharField(max_length=200)

    class Meta:
        constraints = [models.UniqueConstraint(fields=("patient", "word"), name="name_word_once")]
        indexes = [models.Index(fields=("office", "word", "patient"), name="name_word_search")]

    def __str__(self) -> str:
        return self.word


class HistoryForm(Public):
    """A medical history as it was signed. A change is a new form."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="histories")
    signed_on = models.DateField(null=True)
    signed_by = models.CharField(max_length=200, blank=True)
    facts = models.JSONField(default=dict)
    """A :class:`planner.rules.mouth.History` without the day of signing and of the last "any change?"."""
    entered_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ("patient", "id")
        indexes = [models.Index(fields=("patient", "-id"), name="history_newest")]

    def __str__(self) -> str:
        return f"history of {self.signed_on}"


class AnyChange(Public):
    """An answer to "has anything changed since you signed?"."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    form = models.ForeignKey(HistoryForm, on_delete=models.PROTECT, related_name="answers")
    asked_on = models.DateField()
    changed = models.BooleanField()
    note = models.TextField(blank=True)
    asked_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ("form", "id")

    def __str__(self) -> str:
        return f"any change? {self.asked_on}"


class Status(models.TextChoices):
    """How far a set of measurements is."""

    DRAFT = "draft"
    CONFIRMED = "confirmed"
    USED = "used"


class Instrument(models.TextChoices):
    """What a length was taken with."""

    CALIPER = "caliper"
    SCAN = "scan"
    FILM = "film"


class Examination(Versioned):
    """One set of measurements, by one person on one day, confirmed by a dentist."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="examinations")
    corrects = models.ForeignKey("self", null=True, on_delete=models.PROTECT, related_name="corrections")
    status = models.CharField(max_length=10, choices=Status.choices, default=Status.DRAFT)
    on = models.DateField()
    by = models.CharField(max_length=200, blank=True)
    instrument = models.CharField(max_length=10, choices=Instrument.choices, default=Instrument.CALIPER)
    film_factor_percent = models.PositiveSmallIntegerField(null=True)
    confirmed_by = models.CharField(max_length=200, blank=True)
    midline_offset = models.SmallIntegerField(null=True)
    strip_length = models.PositiveSmallIntegerField(null=True)
    gums = models.JSONField(default=dict)
    decay = models.JSONField(default=dict)
    bite = models.JSONField(default=dict)
    colour = models.JSONField(default=dict)
    growth = models.JSONField(default=dict)
    orthodontics = models.JSONField(default=dict)
    entered_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ("patient", "-on", "-id")
        constraints = [
            models.CheckConstraint(condition=Q(status__in=Status.values), name="examination_status_known"),
            models.CheckConstraint(condition=Q(instrument__in=Instrument.values), name="examination_instrument_known"),
            models.CheckConstraint(
                condition=Q(status=Status.DRAFT) | ~Q(confirmed_by=""), name="examination_confirmed_by_somebody"
            ),
        ]
        indexes = [models.Index(fields=("patient", "-on", "-id"), name="examination_newest")]

    def __str__(self) -> str:
        return f"examination of {self.on}"


class Reading(models.Model):
    """One line of an examination, in the order in which it was written down."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    position = models.PositiveSmallIntegerField()

    class Meta:
        abstract = True


def _length() -> "models.PositiveSmallIntegerField[Any, Any]":
    return models.PositiveSmallIntegerField(null=True)


def _within(*names: str) -> Q:
    found = Q()
    for name in names:
        found &= Q(**{f"{name}__isnull": True}) | Q(**{f"{name}__lte": LONGEST})
    return found


TOOTH_LENGTHS = ("width", "width_again", "length", "length_again", "neck_width", "contact_height")


class ToothReading(Reading):
    """What was measured and found at one tooth that is present."""

    examination = models.ForeignKey(Examination, on_delete=models.CASCADE, related_name="teeth")
    tooth = models.CharField(max_length=60)
    place = models.CharField(max_length=60, blank=True)
    role = models.CharField(max_length=10, blank=True)
    width = _length()
    width_again = _length()
    length = _length()
    length_again = _length()
    neck_width = _length()
    contact_height = _length()
    findings = models.JSONField(default=dict)
    """The other fields of :class:`planner.rules.mouth.ToothFacts`, as far as recorded."""

    class Meta:
        ordering = ("examination", "position")
        constraints = [
            models.UniqueConstraint(fields=("examination", "tooth"), name="tooth_read_once"),
            models.UniqueConstraint(fields=("examination", "position"), name="tooth_position_once"),
            models.CheckConstraint(condition=_within(*TOOTH_LENGTHS), name="tooth_lengths_in_a_mouth"),
        ]

    def __str__(self) -> str:
        return self.tooth


class GapReading(Reading):
    """The space between two neighbours at contact height."""

    examination = models.ForeignKey(Examination, on_delete=models.CASCADE, related_name="gaps")
    first = models.CharField(max_length=60)
    second = models.CharField(max_length=60)
    width = models.PositiveSmallIntegerField()
    width_again = _length()
    film = models.CharField(max_length=5, blank=True)
    may_stay = models.BooleanField(default=False)
    new_or_growing = models.BooleanField(null=True)
    contact_to_bone = _length()
    connector_height = _length()

    class Meta:
        ordering = ("examination", "position")
        constraints = [
            models.UniqueConstraint(fields=("examination", "first", "second"), name="gap_read_once"),
            models.UniqueConstraint(fields=("examination", "position"), name="gap_position_once"),
            models.CheckConstraint(condition=Q(film__in=("", "tight", "film")), name="gap_film_known"),
            models.CheckConstraint(
                condition=_within("width", "width_again", "contact_to_bone", "connector_height"),
                name="gap_lengths_in_a_mouth",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.first} to {self.second}"


class AbsentReading(Reading):
    """A tooth that never formed, was lost, or is only presumed absent."""

    examination = models.ForeignKey(Examination, on_delete=models.CASCADE, related_name="absent")
    tooth = models.CharField(max_length=60)
    cause = models.CharField(max_length=20)
    lost_on = models.DateField(null=True)
    palpation_note = models.TextField(blank=True)
    felt = models.BooleanField(null=True)
    localised = models.BooleanField(null=True)

    class Meta:
        ordering = ("examination", "position")
        constraints = [
            models.UniqueConstraint(fields=("examination", "tooth"), name="absent_once"),
            models.UniqueConstraint(fields=("examination", "position"), name="absent_position_once"),
        ]

    def __str__(self) -> str:
        return self.tooth


PLACE_LENGTHS = ("crown_distance", "root_distance", "ridge_thickness", "height_to_bite")


class PlaceReading(Reading):
    """A place where no tooth stands now, or where one is to be made empty."""

    examination = models.ForeignKey(Examination, on_delete=models.CASCADE, related_name="empty_places")
    place = models.CharField(max_length=60)
    crown_distance = _length()
    root_distance = _length()
    ridge_thickness = _length()
    height_to_bite = _length()
    measured_with = models.CharField(max_length=10, blank=True)
    film_factor_percent = models.PositiveSmallIntegerField(null=True)

    class Meta:
        ordering = ("examination", "position")
        constraints = [
            models.UniqueConstraint(fields=("examination", "place"), name="place_once"),
            models.UniqueConstraint(fields=("examination", "position"), name="place_position_once"),
            models.CheckConstraint(condition=_within(*PLACE_LENGTHS), name="place_lengths_in_a_mouth"),
            models.CheckConstraint(condition=Q(measured_with__in=("", *Instrument.values)), name="place_tool_known"),
        ]

    def __str__(self) -> str:
        return self.place


class PictureFile(Public):
    """A photograph or X-ray as a dated record. Its bytes lie beside; what somebody sees in it is a reading.

    The name the file came under is not kept: it may hold a person's name.
    """

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="picture_files")
    kind = models.CharField(max_length=20)
    on = models.DateField()
    taken_by = models.CharField(max_length=200, blank=True)
    shows = models.CharField(max_length=120, blank=True)
    with_scale = models.BooleanField(null=True)
    """Whether a scale lies in the picture; None: not said."""
    mirrored = models.BooleanField(null=True)
    """Whether it was taken in a mirror, so that right and left are exchanged; None: not said."""
    format = models.CharField(max_length=8)
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    """Upright, in dots."""
    size = models.PositiveIntegerField()
    """Bytes of the original."""
    sha256 = models.CharField(max_length=64)
    """Of the original."""
    shown_sha256 = models.CharField(max_length=64)
    shown_type = models.CharField(max_length=20)
    entered_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ("patient", "-on", "-id")
        indexes = [
            models.Index(fields=("patient", "-on", "-id"), name="picture_file_newest"),
            models.Index(fields=("office", "sha256"), name="picture_file_by_hash"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} of {self.on}"


class PictureContent(models.Model):
    """The bytes of a picture: as they came, as they are shown, and small."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    file = models.OneToOneField(PictureFile, on_delete=models.PROTECT, related_name="content")
    original = models.BinaryField()
    shown = models.BinaryField()
    small = models.BinaryField()

    def __str__(self) -> str:
        return f"content of {self.file_id}"


class PictureSetAside(Noted):
    """A picture that counts no more, such as one in the wrong person's file. It is shown to nobody from then on."""

    file = models.OneToOneField(PictureFile, on_delete=models.PROTECT, related_name="set_aside")
    reason = models.CharField(max_length=300)

    class Meta:
        constraints = [models.CheckConstraint(condition=~Q(reason=""), name="set_aside_with_a_reason")]

    def __str__(self) -> str:
        return self.reason


class PictureReading(Public):
    """What a named reader saw in a film, scan or photograph. A correction is a new reading that points at the old
    one.
    """

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    patient = models.ForeignKey(Patient, on_delete=models.PROTECT, related_name="pictures")
    file = models.ForeignKey(PictureFile, null=True, on_delete=models.PROTECT, related_name="readings")
    """The picture itself, where it is kept here; None for one that lies elsewhere."""
    corrects = models.ForeignKey("self", null=True, on_delete=models.PROTECT, related_name="corrections")
    kind = models.CharField(max_length=20)
    on = models.DateField()
    reader = models.CharField(max_length=200, blank=True)
    absent = models.JSONField(default=list)
    roots_of = models.JSONField(default=list)
    reading = models.TextField(blank=True)
    entered_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ("patient", "on", "id")
        indexes = [models.Index(fields=("patient", "on", "id"), name="picture_by_patient")]

    def __str__(self) -> str:
        return f"{self.kind} of {self.on}"


class PeopleFile(Public):
    """A file of people that was sent to be looked at. It is gone as soon as it is taken, or another is sent."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    data = models.BinaryField()
    sha256 = models.CharField(max_length=64)
    sent_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    def __str__(self) -> str:
        return self.sha256[:12]


# The tables of third parties that may pay. They point at the ones above, so they are read last.
import planner.patients.join_models  # noqa: E402
import planner.patients.payer_models  # noqa: E402, F401
