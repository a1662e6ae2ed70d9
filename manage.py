#!/usr/bin/env python
"""Leastways' command line: ``manage.py help`` lists what there is."""

import os
import sys


def main() -> None:
    """Run one management command with the project's settings; a wrong setting stops it with its sentence alone."""
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "planner.config.settings")
    from django.core.exceptions import ImproperlyConfigured
    from django.core.management import execute_from_command_line

    try:
        execute_from_command_line(sys.argv)
    except ImproperlyConfigured as wrong:
        if "--traceback" in sys.argv:
            raise
        sys.exit(f"Nothing was done. {wrong}")


if __name__ == "__main__":
    main()
