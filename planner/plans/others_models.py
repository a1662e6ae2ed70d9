"""What others say to a treatment whose agreement counts beside the patient's or the signer's."""

from django.db import models
from django.db.models import Q

from planner.plans.models import Case
from planner.practice.models import Noted
from planner.rules.others_agree import Say


class OtherSay(Noted):
    """That somebody else must agree, agrees or disagrees, or how a disagreement was settled. The newest row of a
    person holds.
    """

    case = models.ForeignKey(Case, on_delete=models.PROTECT, related_name="others_say")
    person = models.CharField(max_length=200)
    said = models.CharField(max_length=12)
    words = models.CharField(max_length=500)
    """By what right they must agree, what they said, or who settled it and how."""

    class Meta:
        ordering = ("case", "id")
        constraints = [
            models.CheckConstraint(condition=~Q(person="") & ~Q(words=""), name="other_say_in_words"),
            models.CheckConstraint(condition=Q(said__in=[str(one) for one in Say]), name="other_say_known"),
        ]

    def __str__(self) -> str:
        return f"{self.person} {self.said}"
