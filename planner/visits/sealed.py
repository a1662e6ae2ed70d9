"""Step sheets as they were drawn up, read again with everything else that papers rest on."""

from collections.abc import Generator

from planner.letters.sealed import what_the_record_says
from planner.rules.results import sha256
from planner.visits.step_models import StepSheetCopy


def step_sheets() -> Generator[str, None, int]:
    """Every step sheet whose words are no longer those that were drawn up, or whose hash the record does not name."""
    count, record = 0, what_the_record_says()
    for one in StepSheetCopy.objects.order_by("id").iterator(chunk_size=50):
        count += 1
        if sha256(one.content.encode()) != one.sha256:
            yield f"step sheet {one.public_id}: what was drawn up was changed, its hash differs."
        elif one.sha256 not in record.hashes and one.public_id not in record.erased:
            yield f"step sheet {one.public_id}: the record names no such hash; it was changed together with its hash."
    return count
