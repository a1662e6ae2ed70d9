"""What the floors above are told of people, without this floor knowing them."""

from django.dispatch import Signal

contact_stopped = Signal()
"""Nobody may contact this person any more; sent inside the transaction, with patient, reason, actor and now."""
