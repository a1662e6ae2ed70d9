"""The door for ASGI servers: ``planner.config.asgi:application``."""

import os

from django.core.asgi import get_asgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "planner.config.settings")

application = get_asgi_application()
