"""Settings of Leastways, read from the environment by the typed readers of :mod:`planner.config.env`.

| variable | meaning | default |
|---|---|---|
| LEASTWAYS_DEBUG | error pages with code; never with patients | 0 |
| LEASTWAYS_PLAIN_HTTP | no TLS: allowed for loopback hosts only, as in the demo | 0 |
| LEASTWAYS_BEHIND_PROXY | a proxy in front ends TLS and sets X-Forwarded-Proto and X-Forwarded-For | 0 |
| LEASTWAYS_HOSTS | host names the office reaches it by, with commas | loopback |
| LEASTWAYS_ADDRESS | where others reach this program; papers lead there to be checked | none: papers say how by hand |
| LEASTWAYS_VAR | folder for the database file, papers and the secret | var below the project |
| LEASTWAYS_SECRET_KEY | the secret; left out, it is kept in the file secret_key of LEASTWAYS_VAR | made once |
| LEASTWAYS_SESSION_HOURS | how long one sign-in lasts at most | 12 |
| LEASTWAYS_DESK_MINUTES | how long a screen at the desk may be left before it goes blank | 3 |
| LEASTWAYS_CHAIR_MINUTES | the same at the chair | 20 |
| LEASTWAYS_RESET_MINUTES | how long a password for one sign-in waits to be used | 60 |
| LEASTWAYS_LEAKED_PASSWORDS | a list of leaked passwords on this machine, as sorted SHA-1 | none |
| LEASTWAYS_LANGUAGE | language of pages before sign-in | en |
| LEASTWAYS_TREATMENTS | folder with the office's own treatments | none |
| LEASTWAYS_OPTIONS_SHOWN | options that stand open on a case's page, 3 to 30; the others are one click away | 7 |
| DATABASE_URL | where the data is | SQLite file in LEASTWAYS_VAR |
"""

from contextlib import suppress
from datetime import timedelta
from pathlib import Path
from urllib.parse import urlsplit

from csp.constants import NONE, SELF
from django.core.exceptions import ImproperlyConfigured
from django.http.request import split_domain_port, validate_host
from django.utils.translation import gettext_lazy as _

from planner.config import env

BASE_DIR = Path(__file__).resolve().parent.parent.parent
VAR_DIR = BASE_DIR / (env.text("LEASTWAYS_VAR") or "var")

DEBUG = env.flag("LEASTWAYS_DEBUG")
PLAIN_HTTP = env.flag("LEASTWAYS_PLAIN_HTTP")
BEHIND_PROXY = env.flag("LEASTWAYS_BEHIND_PROXY")
ALLOWED_HOSTS = env.words("LEASTWAYS_HOSTS", env.LOOPBACK)
SECRET_KEY = env.secret_key("LEASTWAYS_SECRET_KEY", VAR_DIR / "secret_key")

if PLAIN_HTTP and not set(ALLOWED_HOSTS) <= set(env.LOOPBACK):
    raise ImproperlyConfigured(
        f"LEASTWAYS_PLAIN_HTTP is on and LEASTWAYS_HOSTS is {','.join(ALLOWED_HOSTS)}: patients' data may leave this "
        f"machine through TLS only. Turn it off, or leave only {', '.join(env.LOOPBACK)}."
    )

# Floors of the house, top first; each is an app as soon as it has one.
FLOORS = ("records", "keeping", "story", "followup", "visits", "letters", "plans", "patients", "practice", "trail")
BUILT = tuple(floor for floor in FLOORS if (BASE_DIR / "planner" / floor / "apps.py").exists())

INSTALLED_APPS = [
    "planner.config",
    *(f"planner.{floor}" for floor in BUILT),
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django.forms",
    "django_htmx",
    "csp",
    "axes",
]

MIDDLEWARE = [
    "planner.config.middleware.own_house_only",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "planner.config.middleware.no_store",
    "planner.config.middleware.whole_page_sign_in",
    "planner.config.middleware.address_of_the_sender",
    "planner.config.middleware.what_can_be_meant",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.locale.LocaleMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "planner.practice.handed.HandedMiddleware",
    "planner.practice.middleware.StaffMiddleware",
    "planner.practice.screen_middleware.ScreenMiddleware",
    "planner.practice.middleware.FirstStepsMiddleware",
    "planner.practice.presses.PressMiddleware",
    "axes.middleware.AxesMiddleware",
]

ROOT_URLCONF = "planner.config.urls"
WSGI_APPLICATION = "planner.config.wsgi.application"
ASGI_APPLICATION = "planner.config.asgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.template.context_processors.i18n",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "planner.config.context.frame",
            ],
        },
    },
]

FORM_RENDERER = "planner.config.renderer.PageRenderer"

DATABASES = {
    "default": env.database(env.text("DATABASE_URL") or f"sqlite:///{VAR_DIR / 'leastways.sqlite3'}", BASE_DIR),
}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

# Who signs in

AUTH_USER_MODEL = "practice.Staff"
AUTHENTICATION_BACKENDS = ["axes.backends.AxesStandaloneBackend", "planner.practice.backends.StaffBackend"]
LOGIN_URL = "/sign-in/"
LOGIN_REDIRECT_URL = "/"
LOGOUT_REDIRECT_URL = LOGIN_URL
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 12}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {
        "NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator",
        "OPTIONS": {"user_attributes": ("username", "full_name")},
    },
    {"NAME": "planner.practice.password_checks.SoonGuessed"},
    {"NAME": "planner.practice.password_checks.NotLeaked"},
    {"NAME": "planner.practice.password_checks.NotTooLong"},
]
LEAKED_PASSWORDS = BASE_DIR / leaked if (leaked := env.text("LEASTWAYS_LEAKED_PASSWORDS")) else None
AXES_HANDLER = "planner.practice.tries.Handler"
AXES_FAILURE_LIMIT = 5
AXES_COOLOFF_TIME = timedelta(minutes=15)
# Name and address together: a whole office sits behind one address, and a stranger must not lock a colleague out.
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_USERNAME_CALLABLE = "planner.practice.tries.plain_name"
MOST_MISSES_EVERYWHERE = 50
AXES_RESET_ON_SUCCESS = True
AXES_DISABLE_ACCESS_LOG = True
AXES_VERBOSE = False
# Whoever is in a hurry types the password where the name belongs: the log gets neither.
AXES_SENSITIVE_PARAMETERS = ["username"]
AXES_LOCKOUT_TEMPLATE = "registration/throttled.html"

# How long a screen may be left, and a password for one sign-in may wait

DESK_MINUTES = env.number("LEASTWAYS_DESK_MINUTES", 3, at_least=1, at_most=15)
CHAIR_MINUTES = env.number("LEASTWAYS_CHAIR_MINUTES", 20, at_least=1, at_most=30)
RESET_MINUTES = env.number("LEASTWAYS_RESET_MINUTES", 60, at_least=5, at_most=1440)

# What the browser is told

SESSION_ENGINE = "django.contrib.sessions.backends.db"
SESSION_COOKIE_AGE = env.number("LEASTWAYS_SESSION_HOURS", 12, at_least=1, at_most=24) * 3600
SESSION_EXPIRE_AT_BROWSER_CLOSE = True
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
CSRF_COOKIE_HTTPONLY = True
CSRF_COOKIE_SAMESITE = "Lax"
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = not PLAIN_HTTP
SESSION_COOKIE_NAME = "leastways-session" if PLAIN_HTTP else "__Host-leastways-session"
CSRF_COOKIE_NAME = "leastways-csrf" if PLAIN_HTTP else "__Host-leastways-csrf"
PLACE_COOKIE_NAME = "leastways-place" if PLAIN_HTTP else "__Host-leastways-place"
MESSAGE_STORAGE = "django.contrib.messages.storage.session.SessionStorage"

SECURE_SSL_REDIRECT = not PLAIN_HTTP
SECURE_HSTS_SECONDS = 0 if PLAIN_HTTP else 63_072_000
SECURE_HSTS_INCLUDE_SUBDOMAINS = not PLAIN_HTTP
SECURE_HSTS_PRELOAD = not PLAIN_HTTP
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https") if BEHIND_PROXY else None
X_FRAME_OPTIONS = "DENY"
# What is not named is not loaded at all; nothing is loaded from elsewhere, and nothing that stands within a page runs.
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF],
        "font-src": [SELF],
        "connect-src": [SELF],
        "object-src": [NONE],
        "base-uri": [NONE],
        "form-action": [SELF],
        "frame-ancestors": [NONE],
    },
}
# The largest thing that is sent is a picture, with a form around it; what is longer is not even read.
MOST_BODY_BYTES = 32 * 1024 * 1024
# Signatures and whole examinations come in one form; a case file is read in a form too.
DATA_UPLOAD_MAX_MEMORY_SIZE = 5 * 1024 * 1024
DATA_UPLOAD_MAX_NUMBER_FIELDS = 3000
DATA_UPLOAD_MAX_NUMBER_FILES = 10

# Language, dates

LANGUAGE_CODE = env.text("LEASTWAYS_LANGUAGE", "en")
LANGUAGES = [("en", _("English")), ("es", _("Spanish"))]
if LANGUAGE_CODE not in dict(LANGUAGES):
    raise ImproperlyConfigured(f'LEASTWAYS_LANGUAGE is "{LANGUAGE_CODE}": en and es are there.')
LOCALE_PATHS = [BASE_DIR / "locale"]
USE_I18N = True
USE_TZ = True
TIME_ZONE = "UTC"  # instants are UTC; pages show them in the office's zone

# Where papers lead to be checked

OFFICE_ADDRESS = env.address("LEASTWAYS_ADDRESS", plain_http=PLAIN_HTTP)
if OFFICE_ADDRESS and not validate_host(split_domain_port(urlsplit(OFFICE_ADDRESS).netloc)[0], ALLOWED_HOSTS):
    raise ImproperlyConfigured(
        f"LEASTWAYS_ADDRESS is {OFFICE_ADDRESS}, a name that LEASTWAYS_HOSTS ({','.join(ALLOWED_HOSTS)}) does not "
        "answer to: nobody could open what papers lead to. Add the name there."
    )

# What plans are computed with, and how much of them stands open

TREATMENTS_DIR = BASE_DIR / own if (own := env.text("LEASTWAYS_TREATMENTS")) else None
OPTIONS_SHOWN = env.number("LEASTWAYS_OPTIONS_SHOWN", 7, at_least=3, at_most=30)

# Files

STATIC_URL = "/static/"
STATIC_ROOT = VAR_DIR / "static"
with suppress(OSError):  # whitenoise warns of a folder that is not there yet, as in the demo
    STATIC_ROOT.mkdir(parents=True, exist_ok=True)
STATICFILES_DIRS = [folder for folder in (BASE_DIR / "static",) if folder.is_dir()]
MEDIA_ROOT = VAR_DIR / "papers"
# Without TLS there is only the demo, which must run without a collecting step.
WHITENOISE_USE_FINDERS = WHITENOISE_AUTOREFRESH = PLAIN_HTTP or DEBUG
WHITENOISE_ALLOW_ALL_ORIGINS = False
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"
        if WHITENOISE_USE_FINDERS
        else "whitenoise.storage.CompressedManifestStaticFilesStorage",
    },
}

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {"line": {"()": "planner.config.logs.OneLine"}},
    "handlers": {"stderr": {"class": "logging.StreamHandler", "formatter": "line"}},
    "root": {"handlers": ["stderr"], "level": "INFO"},
    # These tell every step they take.
    "loggers": {name: {"level": "WARNING"} for name in ("axes", "pikepdf", "weasyprint", "weasyprint.progress")},
}
