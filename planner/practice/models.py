"""The office: its people, their roles, and the versions of its office book."""

from functools import cached_property
from zoneinfo import ZoneInfo

from django.conf import settings
from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models
from django.db.models import Q

from planner.practice.roles import Role
from planner.trail.fields import Public, Versioned


class Office(Public):
    """One practice. Every other row carries the office it belongs to, and nobody sees another office's rows."""

    name = models.CharField(max_length=120)
    place = models.CharField(max_length=120)
    time_zone = models.CharField(max_length=60)
    """IANA name; days are counted in it. Every office book of this office names the same zone."""
    created_at = models.DateTimeField()

    class Meta:
        ordering = ("name", "id")

    def __str__(self) -> str:
        return self.name

    @property
    def zone(self) -> ZoneInfo:
        """The zone in which the office's days begin and end."""
        return ZoneInfo(self.time_zone)


class Noted(Public):
    """A row that is written once, by somebody, for an office: what is said later is a further row."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    """Who was signed in."""
    at = models.DateTimeField()

    class Meta:
        abstract = True


def plain_username(username: str) -> str:
    """The form in which sign-in names are kept and compared."""
    return AbstractBaseUser.normalize_username(username).strip().lower()


class StaffManager(BaseUserManager["Staff"]):
    """Finds people by name at sign-in, whatever the case it is typed in."""

    def get_by_natural_key(self, username: str | None) -> "Staff":
        """The person with this sign-in name. Raises Staff.DoesNotExist."""
        return self.get(username=plain_username(username or ""))


class Staff(Versioned, AbstractBaseUser):
    """Somebody who signs in."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="staff")
    username = models.CharField(max_length=60, unique=True)
    full_name = models.CharField(max_length=200)
    language = models.CharField(max_length=2, default="en")
    is_active = models.BooleanField(default=True)
    access_until = models.DateField(null=True, blank=True)
    """Last day on which this person may sign in; an outside checker always has one."""
    password_once = models.BooleanField(default=False)
    """The password was given by somebody else and is good for one sign-in: the person then chooses their own."""
    password_until = models.DateTimeField(null=True, blank=True)
    """When a password for one sign-in ends unused."""

    opened: models.Model | None = None
    """What the request of this person loaded last from a patient's file and nobody recorded yet; never stored."""

    USERNAME_FIELD = "username"
    REQUIRED_FIELDS = ["full_name"]
    objects = StaffManager()

    class Meta:
        ordering = ("full_name", "id")
        verbose_name_plural = "staff"
        constraints = [
            models.CheckConstraint(condition=Q(language__in=("en", "es")), name="staff_language_known"),
            models.CheckConstraint(condition=~Q(full_name=""), name="staff_named"),
        ]
        indexes = [models.Index(fields=("office", "full_name", "id"), name="staff_by_office")]

    def __str__(self) -> str:
        return self.full_name

    @cached_property
    def roles(self) -> frozenset[Role]:
        """The roles this person has now."""
        return frozenset(Role(row.role) for row in self.role_rows.all())

    @property
    def role_words(self) -> str:
        """The roles as the trail writes them, in the order of the list of roles."""
        return ", ".join(role.value for role in Role if role in self.roles)


class StaffRole(models.Model):
    """One role of one person."""

    staff = models.ForeignKey(Staff, on_delete=models.CASCADE, related_name="role_rows")
    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    role = models.CharField(max_length=20, choices=Role.choices)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=("staff", "role"), name="staff_role_once"),
            models.CheckConstraint(condition=Q(role__in=Role.values), name="staff_role_known"),
        ]

    def __str__(self) -> str:
        return self.role


class BookVersion(Public):
    """One version of the office book, whole. A change is a new version; none is ever edited."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="book_versions")
    number = models.PositiveIntegerField()
    effective = models.DateField()
    data = models.TextField()
    """The OfficeBook as canonical JSON, the very text that was digested."""
    sha256 = models.CharField(max_length=64)
    set_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    reason = models.TextField()
    at = models.DateTimeField()

    class Meta:
        ordering = ("office", "number")
        constraints = [
            models.UniqueConstraint(fields=("office", "number"), name="book_number_once"),
            models.CheckConstraint(condition=Q(number__gte=1), name="book_number_from_one"),
        ]
        indexes = [models.Index(fields=("office", "-effective", "-number"), name="book_in_force")]

    def __str__(self) -> str:
        return f"office book {self.number}"


class BookFile(Public):
    """A file that somebody sent to be taken into the office book, byte for byte as it came."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="+")
    part = models.CharField(max_length=10)
    """``prices``, ``materials`` or ``minutes``."""
    name = models.CharField(max_length=200)
    decimal_sign = models.CharField(max_length=1)
    """The sign before decimals, as the person who sent it said."""
    data = models.BinaryField()
    sha256 = models.CharField(max_length=64)
    sent_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(part__in=("prices", "materials", "minutes")), name="book_file_part_known"
            ),
            models.CheckConstraint(condition=Q(decimal_sign__in=(".", ",")), name="book_file_sign_known"),
        ]

    def __str__(self) -> str:
        return self.name


class LegalProposal(Versioned):
    """A setting with legal weight that somebody asks the owner dentist to set; the answer is given once."""

    office = models.ForeignKey(Office, on_delete=models.PROTECT, related_name="legal_proposals")
    key = models.CharField(max_length=40)
    value = models.TextField()
    effective = models.DateField()
    reason = models.CharField(max_length=500)
    asked_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    outcome = models.CharField(max_length=10, blank=True, default="")
    """Empty while open, then ``set`` or ``declined``."""
    answered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+", null=True, blank=True
    )
    answered_at = models.DateTimeField(null=True, blank=True)
    answer = models.CharField(max_length=500, blank=True, default="")

    class Meta:
        ordering = ("at", "id")
        constraints = [
            models.CheckConstraint(
                condition=Q(outcome__in=("", "set", "declined")), name="legal_proposal_outcome_known"
            ),
        ]
        indexes = [models.Index(fields=("office", "outcome"), name="legal_proposals_open")]

    def __str__(self) -> str:
        return f"{self.key}: {self.value}"


# The tables of sign-in, stock and timings point at the ones above by name: they are read last.
import planner.practice.press_models  # noqa: E402
import planner.practice.sign_in_models  # noqa: E402
import planner.practice.stock_models  # noqa: E402, F401
