"""Settings of the workshop; what differs by machine comes from the environment."""

from importlib.util import find_spec
from pathlib import Path
from typing import Any

from django.core.exceptions import ImproperlyConfigured
from django.utils.translation import gettext_lazy as _

from workshop.books import book_path, copies_path
from workshop.env_file import read_env_file, refuse_slips
from workshop.environment import (
    ASKED,
    keep_private,
    read_choice,
    read_databases,
    read_flag,
    read_list,
    read_number,
    read_secret_key,
    read_word,
)
from workshop.languages import NAMES

BASE_DIR = Path(__file__).resolve().parent.parent
VAR_DIR = BASE_DIR / "var"
ENV_FILE = read_env_file(BASE_DIR)

# Here, because every command, every worker and every test passes through.
keep_private(VAR_DIR)

# DESK: one computer in the workshop, plain HTTP, reached from this machine only.
# Anything else is a server behind TLS and must say so in its environment.
DESK = read_flag("STRANDWORK_DESK", True)
DEBUG = read_flag("DEBUG", False)
SECRET_KEY = read_secret_key(VAR_DIR, desk=DESK)
ALLOWED_HOSTS = read_list("ALLOWED_HOSTS") or (["localhost", "127.0.0.1", "[::1]"] if DESK else [])
CSRF_TRUSTED_ORIGINS = read_list("CSRF_TRUSTED_ORIGINS")

INSTALLED_APPS = [
    "orders",
    "stock",
    "workshop",
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "workshop.static_files.StaticFiles",
    "django.contrib.humanize",
    "django_tables2",
    "django_filters",
    "django_htmx",
    "axes",
    "django_otp",
    "django_otp.plugins.otp_totp",
    "django_otp.plugins.otp_static",
]

MIDDLEWARE = [
    "workshop.request_times.RequestTimesMiddleware",
    "workshop.middleware.ProbesMiddleware",
    "django.middleware.security.SecurityMiddleware",
    "workshop.middleware.CompressPagesMiddleware",
    "workshop.middleware.ContentSecurityPolicyMiddleware",
    "workshop.look_only.LookOnlyMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "workshop.phone_door.middleware.PhoneDoorMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "workshop.middleware.LanguageMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django_otp.middleware.OTPMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "workshop.middleware.WorkshopTimeMiddleware",
    "workshop.middleware.SessionLimitsMiddleware",
    "workshop.middleware.AccessMiddleware",
    "workshop.middleware.PlainTextMiddleware",
    "stock.take_back_offer.TakeBackOfferMiddleware",
    "axes.middleware.AxesMiddleware",
    "workshop.replica.ReplicaMiddleware",
]

ROOT_URLCONF = "workshop.urls"
WSGI_APPLICATION = "workshop.wsgi.application"

TEMPLATES: list[dict[str, Any]] = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "OPTIONS": {
            "loaders": [
                (
                    "django.template.loaders.cached.Loader",
                    [
                        "workshop.template_loading.Loader",
                        "django.template.loaders.app_directories.Loader",
                    ],
                )
            ],
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "workshop.context_processors.rooms",
            ],
            "builtins": [
                "django.templatetags.i18n",
                "django.templatetags.static",
                "workshop.templatetags.strandwork",
                "workshop.templatetags.form_keys",
                "stock.templatetags.quantities",
                "orders.templatetags.first_steps",
            ],
        },
    }
]

# At a desk that has the demo and a book of its own, the word says which of the two.
BOOK = read_choice("STRANDWORK_BOOK", ("own", "practice"))
DATABASES = read_databases(book_path(VAR_DIR, BOOK))
DATABASE_ROUTERS = ["workshop.replica.ReplicaRouter"] if "read" in DATABASES else []
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "workshop.Person"
AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 12},
    },
    {"NAME": "workshop.passwords.NotSoonGuessed"},
]
LOGIN_URL = "workshop:sign_in"
LOGIN_REDIRECT_URL = "orders:home"
LOGOUT_REDIRECT_URL = "workshop:sign_in"

# How many proxies of our own stand before the server; see workshop/sign_in_limits.py.
PROXY_COUNT = read_number("PROXY_COUNT", 0)
AXES_HANDLER = "workshop.sign_in_limits.SignInLimits"
AXES_FAILURE_LIMIT = read_number("SIGN_IN_TRIES", 5, least=1)
AXES_COOLOFF_TIME = 0.25  # hours
AXES_LOCKOUT_PARAMETERS = "workshop.sign_in_limits.count_by"
AXES_CLIENT_IP_CALLABLE = "workshop.sign_in_limits.client_address"
AXES_RESET_ON_SUCCESS = True
# Trying on while shut out does not lengthen the wait, or a stranger could keep anybody out.
AXES_RESET_COOL_OFF_ON_FAILURE_DURING_LOCKOUT = False
AXES_LOCKOUT_TEMPLATE = "workshop/locked_out.html"
AXES_VERBOSE = False
OTP_TOTP_ISSUER = "Strandwork"

LANGUAGE_CODE = "en"
LANGUAGES = list(NAMES)
# Made of the apps' message files; see workshop/languages.py.
LOCALE_DIR = VAR_DIR / "made" / "locale"
LOCALE_PATHS = [LOCALE_DIR]
LANGUAGE_COOKIE_NAME = "language" if DESK else "__Host-language"
LANGUAGE_COOKIE_AGE = 365 * 24 * 60 * 60
LANGUAGE_COOKIE_SAMESITE = "Lax"
LANGUAGE_COOKIE_HTTPONLY = True
LANGUAGE_COOKIE_SECURE = not DESK
FORMAT_MODULE_PATH = ["workshop.locale_formats"]
USE_I18N = True
USE_TZ = True
TIME_ZONE = "UTC"  # stored; WorkshopTimeMiddleware shows the workshop's own

# Source Sans comes as a registry package that holds nothing but the font files.
_font_spec = find_spec("font_source_sans_pro")
FONT_DIR = Path(_font_spec.origin).parent / "files" if _font_spec and _font_spec.origin else VAR_DIR
STATIC_URL = "static/"
STATIC_ROOT = Path(read_word("STATIC_DIR") or VAR_DIR / "static")
STATICFILES_DIRS: list[Any] = [("fonts", FONT_DIR)]
STATICFILES_FINDERS = [
    "django.contrib.staticfiles.finders.FileSystemFinder",
    "django.contrib.staticfiles.finders.AppDirectoriesFinder",
    "workshop.bundles.MadeFinder",
]
# The stylesheet, the script and the small fonts, made when they are first asked for.
MADE_DIR = VAR_DIR / "made"
WHITENOISE_USE_FINDERS = DESK
WHITENOISE_IMMUTABLE_FILE_TEST = r"[-.][0-9a-f]{12}\."
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": (
            "django.contrib.staticfiles.storage.StaticFilesStorage"
            if DESK
            else "whitenoise.storage.CompressedManifestStaticFilesStorage"
        )
    },
}
MEDIA_ROOT = Path(VAR_DIR / "papers")

# The tables of an empty book, and the demo's half year; made by `manage.py pack_demo`.
READY_MADE = BASE_DIR / "fixtures" / "tidewrack" / "ready_made.json.xz"

# Set while a desk is open on a full disk; see workshop/look_only.py.
LOOK_ONLY = False
# Set while a desk lets phones in: a workshop.phone_door.folder.Desk.
PHONES: Any = None
# The authority, the certificate and the switch of that door.
PHONES_DIR = Path(read_word("PHONES_DIR") or VAR_DIR / "phones")

FILTERS_EMPTY_CHOICE_LABEL = _("any")
DJANGO_TABLES2_TEMPLATE = "django_tables2/strandwork.html"
FORM_RENDERER = "workshop.form_renderer.FormRenderer"
MESSAGE_STORAGE = "django.contrib.messages.storage.session.SessionStorage"

SESSION_ENGINE = "workshop.session_store"
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
# The server ends a session by itself: after a day's work, or when nobody was there.
SESSION_HOURS = read_number("SESSION_HOURS", 12, least=1)
SESSION_IDLE_MINUTES = read_number("SESSION_IDLE_MINUTES", 120, least=1)
SESSION_COOKIE_AGE = SESSION_HOURS * 60 * 60
SESSION_COOKIE_SECURE = not DESK
CSRF_COOKIE_SECURE = not DESK
# Cookies know no port: the demo opened beside a book must not sign anybody out of it.
_ours = "practice-" if BOOK == "practice" else ""
SESSION_COOKIE_NAME = f"{_ours}sid" if DESK else "__Host-sid"
CSRF_COOKIE_NAME = f"{_ours}csrf" if DESK else "__Host-csrf"
SECURE_SSL_REDIRECT = not DESK
# Asked from the machine itself, where there is no TLS; they tell nothing worth reading.
SECURE_REDIRECT_EXEMPT = [r"^workshop/health/$", r"^workshop/metrics/$"]
CSRF_FAILURE_VIEW = "workshop.views.errors.csrf_failure"
# Short at first, for it cannot be taken back: workshop/deploy.md says when to make it longer.
_hsts_s = read_number("HSTS_SECONDS", 3600)
SECURE_HSTS_SECONDS = 0 if DESK else _hsts_s
SECURE_HSTS_INCLUDE_SUBDOMAINS = read_flag("HSTS_SUBDOMAINS", False)
SECURE_HSTS_PRELOAD = read_flag("HSTS_PRELOAD", False)
# Both are the owner's choice, so that leaving them out is no mistake.
SILENCED_SYSTEM_CHECKS = ["security.W005", "security.W021"]
SECURE_REFERRER_POLICY = "same-origin"
SECURE_PROXY_SSL_HEADER = None if DESK or not PROXY_COUNT else ("HTTP_X_FORWARDED_PROTO", "https")
X_FRAME_OPTIONS = "DENY"
DATA_UPLOAD_MAX_NUMBER_FIELDS = 2000

# Who may read /workshop/metrics/ besides this machine itself: whoever sends this word.
METRICS_TOKEN = read_word("METRICS_TOKEN")
# Copies of the book, made by `manage.py backup` or by the owner's page.
# Set while a desk is open that opens again by itself when its book is another one.
OPENS_AGAIN = False
COPIES_DIR = Path(read_word("COPIES_DIR") or copies_path(VAR_DIR, BOOK))
COPIES_KEPT = read_number("COPIES_KEPT", 14, least=1)
# Each copy is locked with this phrase where there is one.
COPY_PASSPHRASE = read_word("COPY_PASSPHRASE")
# A folder of another disk, or rclone:REMOTE:PATH; what leaves the computer is always locked.
SECOND_PLACE = read_word("SECOND_PLACE")
if SECOND_PLACE and not COPY_PASSPHRASE:
    raise ImproperlyConfigured(
        "SECOND_PLACE is set and COPY_PASSPHRASE is not; copies are carried away locked only."
    )

LOG_FORMAT = read_choice("LOG_FORMAT", ("line", "json"))
LOGGING: dict[str, Any] = {
    "version": 1,
    "disable_existing_loggers": False,
    "formatters": {
        "line": {"()": "workshop.logging.LineFormatter"},
        "json": {"()": "workshop.logging.JsonFormatter"},
    },
    "filters": {
        "bounded": {"()": "workshop.logging.Bounded"},
        "away": {"()": "workshop.logging.NotWhileTheBookIsAway"},
    },
    "handlers": {
        "stderr": {
            "class": "logging.StreamHandler",
            "formatter": LOG_FORMAT,
            "filters": ["bounded"],
        }
    },
    "root": {"handlers": ["stderr"], "level": "WARNING"},
    "loggers": {
        # A form that comes back with its errors (422) is everyday work, not news.
        "django.request": {"level": "ERROR", "filters": ["away"]},
        # Told in our own words, with what to mend, by workshop/views/errors.py.
        "django.security.DisallowedHost": {"level": "CRITICAL"},
        # Somebody waits behind somebody else: what the lanes are for.
        "waitress": {"level": "ERROR"},
    },
}

refuse_slips(ENV_FILE, ASKED)
