"""The door for WSGI servers: ``planner.config.wsgi:application``."""

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "planner.config.settings")

application = get_wsgi_application()
