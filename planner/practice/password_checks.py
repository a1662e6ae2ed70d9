"""What a new password must not be: one that is guessed soon, or one without end.

How soon one is guessed is estimated against lists of passwords that leaked, names and common words, with what people
put around them: years, doubled words, signs for letters, runs of keys. Which signs it is made of is asked of nobody.
"""

from django.conf import settings
from django.core.checks import CheckMessage, Error
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _
from zxcvbn import zxcvbn

from planner.practice import leaked
from planner.practice.models import Staff

LEAST_GUESSES = 10**8
"""Guesses that somebody with the stored hash would need at least; the estimator's own third step of four."""
LONGEST = 200
"""Signs. OWASP ASVS 5.0, V6.2.9 asks for at least 64; without an end, hashing is a way to keep the server busy."""
_ESTIMATED_SIGNS = 72
_OWN_WORDS = ("leastways", "dental", "dentist", "practice")


class SoonGuessed:
    """Refuses what is guessed soon, also by whoever knows the person and the office (ASVS 5.0, V6.2.4, V6.2.11)."""

    def validate(self, password: str, user: Staff | None = None) -> None:
        """Raise ValidationError for a password that is guessed soon."""
        known = list(_OWN_WORDS)
        if user is not None:
            office = (user.office.name, user.office.place) if user.office_id else ()
            known += [word for text in (user.username, user.full_name, *office) for word in (text, *text.split())]
        # What comes after so many signs can only make it harder to guess.
        found = zxcvbn(password[:_ESTIMATED_SIGNS], user_inputs=known)
        if found["guesses"] < LEAST_GUESSES:
            raise ValidationError(
                _(
                    "This password is guessed soon: it is, or is close to, one that many people use, or it is made of "
                    "your name or the office's. Three or four words that have nothing to do with each other are good."
                ),
                code="password_soon_guessed",
            )

    def get_help_text(self) -> str:
        """What the rule asks for."""
        return _("Not a password that many people use, and not made of your name or the office's.")


class NotLeaked:
    """Refuses what is on the list of leaked passwords that an office keeps beside the program (ASVS 5.0, V6.2.12)."""

    def validate(self, password: str, user: Staff | None = None) -> None:
        """Raise ValidationError for a password on the list, and while a list that is to be asked cannot be."""
        if settings.LEAKED_PASSWORDS is None:
            return
        try:
            known = leaked.holds(settings.LEAKED_PASSWORDS, password)
        except (OSError, leaked.NotAList) as error:
            raise ValidationError(
                _(
                    "The list of leaked passwords cannot be asked now, so no new password is taken. Whoever looks "
                    "after the program finds its place in LEASTWAYS_LEAKED_PASSWORDS."
                ),
                code="password_list_away",
            ) from error
        if known:
            raise ValidationError(
                _(
                    "This password was stolen somewhere and is on a list that everybody can have: take another, and "
                    "change it wherever else it is used."
                ),
                code="password_leaked",
            )

    def get_help_text(self) -> str:
        """What the rule asks for."""
        return _("Not a password that was stolen elsewhere.")


class NotTooLong:
    """Refuses what is longer than anybody types."""

    def validate(self, password: str, user: Staff | None = None) -> None:
        """Raise ValidationError above the limit."""
        if len(password) > LONGEST:
            raise ValidationError(
                _("This password has %(n)d signs: at most %(most)d are taken.") % {"n": len(password), "most": LONGEST},
                code="password_too_long",
            )

    def get_help_text(self) -> str:
        """What the rule asks for."""
        return _("At most %(most)d signs.") % {"most": LONGEST}


def check_leaked_list(**_kwargs: object) -> list[CheckMessage]:
    """System check: the list of leaked passwords that is set, if one is, can be read and is one."""
    path = settings.LEAKED_PASSWORDS
    fault = "" if path is None else leaked.look(path)
    if not fault:
        return []
    hint = "A list has one SHA-1 a line, ascending; leave the variable out to go without one."
    return [Error(f'LEASTWAYS_LEAKED_PASSWORDS is "{path}": {fault}.', hint=hint, id="practice.E001")]
