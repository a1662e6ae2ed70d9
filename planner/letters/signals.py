"""What the floors above add to what is done with papers, without this floor knowing them."""

from django.dispatch import Signal

typed_papers = Signal()
"""Papers of an estimate are compared; receivers answer with those that are kept as typed text, given ``estimate``."""

what_comes_next = Signal()
"""A paper says what comes next; receivers answer with days by what they are for, given ``estimate`` and ``now``."""
