#!/usr/bin/env python
"""Leastways' command line: ``manage.py help`` lists what there is."""

import os
import sys


def main() -> None:
    """Run one management command with the project's settings.

    A wrong setting, or a database that is away or lacks tables, stops it with a sentence alone unless ``--traceback``
    is given.
    """
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "planner.config.settings")
    from django.core.exceptions import ImproperlyConfigured
    from django.core.management import execute_from_command_line
    from django.db import OperationalError, ProgrammingError

    try:
        execute_from_command_line(sys.argv)
    except ImproperlyConfigured as wrong:
        if "--traceback" in sys.argv:
            raise
        sys.exit(f"Nothing was done. {wrong}")
    except (OperationalError, ProgrammingError) as fault:
        if "--traceback" in sys.argv:
            raise
        # The first line alone: those after it repeat the statement.
        sys.exit(
            f"The database did not do what was asked: {str(fault).splitlines()[0]}. Look whether DATABASE_URL and "
            "LEASTWAYS_VAR lead to it and whether it runs; `migrate` makes tables that are missing."
        )


if __name__ == "__main__":
    main()
