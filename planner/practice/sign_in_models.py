"""What signing in leaves behind: who is signed in on which screen, and the secrets of one-time codes."""

from django.db import models
from django.db.models import Q

from planner.practice.models import Staff
from planner.trail.fields import Public


class Place(models.TextChoices):
    """Where a screen stands: how soon it goes blank follows from it."""

    DESK = "desk", "at the desk"
    CHAIR = "chair", "at the chair"


class SignedIn(Public):
    """One person signed in on one screen. The row goes when that ends, and with it whatever the screen may show."""

    staff = models.ForeignKey(Staff, on_delete=models.CASCADE, related_name="signed_in")
    begun_at = models.DateTimeField()
    seen_at = models.DateTimeField()
    """When the screen last told of somebody at it, to within a few seconds."""
    blank = models.BooleanField(default=False)
    """It was left: nothing is shown until the password is said again."""
    place = models.CharField(max_length=5, choices=Place.choices, default=Place.DESK)
    browser = models.CharField(max_length=200, blank=True)
    address = models.CharField(max_length=45, blank=True)

    class Meta:
        ordering = ("-begun_at", "-id")
        constraints = [models.CheckConstraint(condition=Q(place__in=Place.values), name="signed_in_place_known")]
        indexes = [models.Index(fields=("staff", "-begun_at"), name="signed_in_by_staff")]

    def __str__(self) -> str:
        return f"{self.staff} since {self.begun_at:%Y-%m-%d %H:%M}"


class CodeSecret(models.Model):
    """The secret that one person's app shares with this program."""

    staff = models.OneToOneField(Staff, primary_key=True, on_delete=models.CASCADE, related_name="code_secret")
    sealed = models.TextField()
    """Sealed (:mod:`planner.practice.sealing`), never in the clear."""
    since = models.DateTimeField()
    last_step = models.BigIntegerField()
    """The thirty seconds of the last code that was taken: that one and those before it are not taken again."""

    def __str__(self) -> str:
        return f"codes of {self.staff}"


class RecoveryCode(models.Model):
    """One code of the sheet for a lost telephone, as a hash; good once."""

    staff = models.ForeignKey(Staff, on_delete=models.CASCADE, related_name="recovery_codes")
    number = models.PositiveSmallIntegerField()
    hash = models.CharField(max_length=200)
    used_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ("staff", "number")
        constraints = [models.UniqueConstraint(fields=("staff", "number"), name="recovery_code_number_once")]

    def __str__(self) -> str:
        return f"recovery code {self.number} of {self.staff}"
