"""The rooms and their doors. Each floor lists its own routes in ``planner/<floor>/urls.py``."""

from django.conf import settings
from django.urls import URLPattern, URLResolver, include, path

from planner.config.health import health
from planner.letters.check_this import ROOM
from planner.practice.handed import ROOM as HANDED

PREFIXES = {
    "practice": "",
    "patients": "patients/",
    "plans": "plans/",
    "letters": "letters/",
    "visits": "visits/",
    "followup": "monday/",
    "records": "records/",
    "story": "story/",
    "keeping": "keeping/",
}

urlpatterns: list[URLPattern | URLResolver] = [
    path(prefix, include(f"planner.{floor}.urls"))
    for floor, prefix in PREFIXES.items()
    if (settings.BASE_DIR / "planner" / floor / "urls.py").exists()
]
urlpatterns.append(path("health", health, name="health"))
# Printed on papers as a code: short, at the top, and open to anybody.
urlpatterns.append(path(ROOM, include("planner.letters.verify_urls")))
# On a screen in a patient's hands: the session says what is shown there.
urlpatterns.append(path(HANDED, include("planner.letters.handed_urls")))

handler400 = "planner.config.refused.bad_request"
handler500 = "planner.config.refused.broken"
