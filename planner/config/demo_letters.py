"""Letters of the demonstration, begun in worker processes as soon as they can be, and fetched when handed over."""

from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import replace
from datetime import date

from django.conf import settings

from planner.letters.consent import KEY
from planner.letters.issue import Issue
from planner.letters.papers import job
from planner.letters.pdf import Job, Rendered, render
from planner.letters.services import issue_of
from planner.plans.models import Estimate
from planner.rules.frozen import thaw


class Ahead:
    """Papers that are being made while the loader goes on; the threads only wait for the worker processes."""

    def __init__(self) -> None:
        self._threads = ThreadPoolExecutor(max_workers=2)
        self._begun: dict[str, Future[Rendered]] = {}

    def issue(self, estimate: Estimate, option: str, day: date) -> Issue:
        """What the letter about ``option`` is issued with."""
        return issue_of(estimate, handed_on=day, dentist_role="dentist", chosen=option)

    def begin(self, estimate: Estimate, option: str, day: date) -> None:
        """Begin to make the letter about ``option`` of a checked estimate."""
        assert estimate.frozen is not None
        content = bytes(estimate.frozen.content)
        said = replace(self.issue(estimate, option, day), verify_at=settings.OFFICE_ADDRESS)
        plan = thaw(content)
        wanted = job(content, KEY, said, points=plan.print_points, language=plan.language)
        self._begun[wanted.html] = self._threads.submit(render, wanted)

    def make(self, wanted: Job) -> Rendered:
        """The paper, as soon as it is ready; one that was not begun is made now."""
        begun = self._begun.pop(wanted.html, None)
        return render(wanted) if begun is None else begun.result()

    def close(self) -> None:
        """Let the threads go."""
        self._threads.shutdown(wait=False, cancel_futures=True)
