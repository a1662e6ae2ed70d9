"""Whether the program is up, for a monitor or a balancer in front: three words and nothing about anybody."""

from django.contrib.auth.decorators import login_not_required
from django.db import DatabaseError, connection
from django.db.migrations.executor import MigrationExecutor
from django.http import HttpRequest, JsonResponse
from django.views.decorators.http import require_safe

from planner.letters.pdf import workers


@login_not_required
@require_safe
def health(request: HttpRequest) -> JsonResponse:
    """200 when people can work, 503 when not: the database answers and has every table the code expects.

    ``papers`` tells of the processes that make papers: ``resting`` until the first one is asked for, then ``ready``;
    ``failing`` after one died or ran out of time, until the next paper comes out. Pages work without them, so that
    alone is no 503: whoever watches may want to know all the same.
    """
    database = _database()
    said = {"up": database == "ready", "database": database, "papers": workers()}
    return JsonResponse(said, status=200 if said["up"] else 503)


def _database() -> str:
    """``ready``, ``migrations wanting`` or ``no answer``."""
    try:
        executor = MigrationExecutor(connection)
        behind = executor.migration_plan(executor.loader.graph.leaf_nodes())
    except DatabaseError:
        return "no answer"
    return "migrations wanting" if behind else "ready"
