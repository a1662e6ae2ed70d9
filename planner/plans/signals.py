"""What the floors above say to what is done with plans, without this floor knowing them."""

from django.dispatch import Signal

before_showing = Signal()
"""An estimate is about to be shown; receivers answer with a sentence for each thing that stands against it."""
