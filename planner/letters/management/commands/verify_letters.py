"""``manage.py verify_letters``: read every stored paper and say whether any of them was changed."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from planner.letters.models import Document
from planner.letters.services import check_documents


class Command(BaseCommand):
    help = "Check every stored paper against its own hash, the plan it was made from, and the data it carries."

    def handle(self, *args: Any, **options: Any) -> None:
        """Print the count; fail with every fault otherwise."""
        papers = Document.objects.select_related("frozen").order_by("id")
        faults = check_documents(papers.iterator(chunk_size=50))
        if faults:
            raise CommandError("Stored papers do not hold:\n" + "\n".join(faults))
        self.stdout.write(f"{papers.count()} stored papers hold.")
