"""The closed list of roles. What each may do is the table in :mod:`planner.practice.access`."""

from django.db import models
from django.utils.translation import gettext_lazy as _


class Role(models.TextChoices):
    """What somebody is in the office; one person may be several."""

    FRONT_DESK = "front desk", _("front desk")
    DESK_LEAD = "desk lead", _("desk lead")
    ASSISTANT = "assistant", _("assistant")
    DENTIST = "dentist", _("dentist")
    MANAGER = "office manager", _("office manager")
    OWNER = "owner dentist", _("owner dentist")
    KEEPER = "system keeper", _("system keeper")
    CHECKER = "outside checker", _("outside checker")
