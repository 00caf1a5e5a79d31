"""The only settings file. What differs between machines comes from the environment.

A fresh clone runs with nothing set. DEVELOPERS.md has a row for every variable.
"""

from datetime import timedelta
from pathlib import Path

from csp.constants import NONE, SELF
from django.core.exceptions import ImproperlyConfigured

from config.environment import (
    broker,
    contact,
    database,
    flag,
    kept_secret,
    mail,
    number,
    path,
    secret,
    site_address,
    text,
)

BASE_DIR = Path(__file__).resolve().parent.parent

# Where we are --------------------------------------------------------------------

KEEP_NOTHING = flag("KEEP_NOTHING", default=False)
DATA_DIR = path("DATA_DIR", default=BASE_DIR / "var", make=not KEEP_NOTHING)
_site = site_address("SITE_URL", default="http://localhost:8000")
SITE_URL = _site.geturl().rstrip("/")
TRUSTED_PROXIES = number("TRUSTED_PROXIES", default=0, least=0, most=5)
_https = _site.scheme == "https"

DEBUG = flag("DEBUG", default=False)
SECRET_KEY = kept_secret(
    "SECRET_KEY", None if KEEP_NOTHING else DATA_DIR / "secret_key"
)

ALLOWED_HOSTS = sorted({str(_site.hostname), "localhost", "127.0.0.1"})
CSRF_TRUSTED_ORIGINS = [SITE_URL]

# What runs -----------------------------------------------------------------------

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django_htmx",
    "template_partials",
    "axes",
    "csp",
    "jobs",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",  # private unless marked
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "axes.middleware.AxesMiddleware",  # last: it answers for a locked-out sign-in
]

ROOT_URLCONF = "config.urls"
WSGI_APPLICATION = "config.wsgi.application"

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE_DIR / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
            ]
        },
    }
]

DATABASES = {"default": database("DATABASE_URL", default=DATA_DIR / "coat.sqlite3")}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

LANGUAGE_CODE = "en"
TIME_ZONE = "UTC"  # a job's own zone is on its site; the database never converts
USE_TZ = True

# Who may come in -----------------------------------------------------------------

AUTH_USER_MODEL = "jobs.User"
LOGIN_URL = "sign-in"
LOGIN_REDIRECT_URL = "jobs"
LOGOUT_REDIRECT_URL = "sign-in"

AUTHENTICATION_BACKENDS = [
    "axes.backends.AxesStandaloneBackend",
    "django.contrib.auth.backends.ModelBackend",
]
PASSWORD_HASHERS = [
    "django.contrib.auth.hashers.Argon2PasswordHasher",
    "django.contrib.auth.hashers.PBKDF2PasswordHasher",
    "django.contrib.auth.hashers.ScryptPasswordHasher",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": f"django.contrib.auth.password_validation.{validator}"}
    for validator in (
        "UserAttributeSimilarityValidator",
        "MinimumLengthValidator",
        "CommonPasswordValidator",
        "NumericPasswordValidator",
    )
]

PASSWORD_RESET_TIMEOUT = 24 * 3600  # seconds a link for a new password works

AXES_HANDLER = "jobs.sign_in_limits.SignInLimits"  # and wider limits on each alone
AXES_USERNAME_CALLABLE = "jobs.sign_in_limits.account_of"
# Name and address together: neither can a stranger lock a person out of their own
# phone, nor does one wrong typist lock out everybody behind the same router.
AXES_LOCKOUT_PARAMETERS = [["username", "ip_address"]]
AXES_FAILURE_LIMIT = 8  # Assumed: a person with gloves on needs a few tries
AXES_COOLOFF_TIME = timedelta(minutes=15)
AXES_RESET_ON_SUCCESS = True
AXES_RESET_COOL_OFF_ON_FAILURE_DURING_LOCKOUT = False  # else trying on shuts for good
AXES_HTTP_RESPONSE_CODE = 429
AXES_LOCKOUT_TEMPLATE = "429.html"
AXES_DISABLE_ACCESS_LOG = True  # who signed in when is nobody's business
AXES_ENABLE_ADMIN = False
AXES_VERBOSE = False
AXES_IPWARE_PROXY_COUNT = TRUSTED_PROXIES
AXES_IPWARE_META_PRECEDENCE_ORDER = (
    ["HTTP_X_FORWARDED_FOR"] if TRUSTED_PROXIES else ["REMOTE_ADDR"]
)

# What a browser may do -----------------------------------------------------------

CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF],
        "connect-src": [SELF],
        "font-src": [SELF],
        "form-action": [SELF],
        "manifest-src": [SELF],
        "base-uri": [NONE],
        "frame-ancestors": [NONE],
    }
}
# Private links must not leak to other sites; with "no-referrer" Chromium would post
# forms with the origin "null" and Django would refuse every one of them.
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CONTENT_TYPE_NOSNIFF = True
X_FRAME_OPTIONS = "DENY"
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = _https
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = "Lax"
SESSION_ENGINE = "jobs.sessions"  # sessions know whose they are
SESSION_COOKIE_AGE = 30 * 24 * 3600  # seconds; nobody types passwords on a scaffold

SECURE_HSTS_SECONDS = number(
    "HSTS_SECONDS", default=0, least=0, most=2 * 365 * 24 * 3600
)
# Without a proxy in front nobody here speaks TLS, and a redirect would never end.
SECURE_SSL_REDIRECT = _https and TRUSTED_PROXIES > 0
SECURE_REDIRECT_EXEMPT = [r"^healthz$", r"^readyz$"]  # asked from inside the machine
if TRUSTED_PROXIES:
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
# The other hosts of a company's domain are not ours to promise HTTPS for.
SILENCED_SYSTEM_CHECKS = ["security.W005", "security.W021"]

# Mail ----------------------------------------------------------------------------
# Without MAIL_URL nothing is sent: leads hand over one-time links themselves.

_mail = mail("MAIL_URL")
MAIL_ON = _mail is not None
EMAIL_BACKEND = (
    f"django.core.mail.backends.{'smtp' if MAIL_ON else 'dummy'}.EmailBackend"
)
if _mail is not None:
    EMAIL_HOST, EMAIL_PORT = _mail["host"], _mail["port"]
    EMAIL_HOST_USER, EMAIL_HOST_PASSWORD = _mail["user"], _mail["password"]
    EMAIL_USE_SSL, EMAIL_USE_TLS = _mail["tls"], _mail["starttls"]
EMAIL_TIMEOUT = 10  # seconds; a page must not hang on a mail server that is away
DEFAULT_FROM_EMAIL = text("MAIL_FROM", default=f"coat-by-coat@{_site.hostname}")

# Weather -------------------------------------------------------------------------
# Services want to know whom to write to: without a contact none of them is asked.

WEATHER_CONTACT = contact("WEATHER_CONTACT")
OPEN_METEO_USE = text(
    "OPEN_METEO_USE", default="off", choices=("off", "non-commercial", "paid")
)
OPEN_METEO_KEY = (secret("OPEN_METEO_KEY") or "") if OPEN_METEO_USE == "paid" else ""
if OPEN_METEO_USE == "paid" and not OPEN_METEO_KEY:
    raise ImproperlyConfigured(
        "OPEN_METEO_USE: 'paid': set OPEN_METEO_KEY too, or OPEN_METEO_KEY_FILE"
    )
WEATHER_ADDRESSES = {
    "met-norway": "https://api.met.no",
    "us-weather-service": "https://api.weather.gov",
    "open-meteo": "https://api.open-meteo.com",
    "open-meteo-paid": "https://customer-api.open-meteo.com",
}

# Files ---------------------------------------------------------------------------

STATIC_URL = "static/"
STATIC_ROOT = DATA_DIR / "static"  # collectstatic fills it: serve, demo, docker do
if not KEEP_NOTHING:
    STATIC_ROOT.mkdir(exist_ok=True)
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"
    },
}

# Queue ---------------------------------------------------------------------------
# The truth about a planning run is its row, never the queue: no results are kept.

CELERY_IMPORTS = ("jobs.watch_tasks",)
CELERY_BROKER_URL = broker("BROKER_URL", default="filesystem://")
CELERY_TASK_IGNORE_RESULT = True
CELERY_ACCEPT_CONTENT = ["json"]
CELERY_TASK_SERIALIZER = "json"
CELERY_WORKER_PREFETCH_MULTIPLIER = 1  # a plan takes seconds: spread them out
CELERY_WORKER_HIJACK_ROOT_LOGGER = False  # ours hides private links
CELERY_WORKER_SOFT_SHUTDOWN_TIMEOUT = 10.0  # seconds to end a plan when told to stop
CELERY_BROKER_CONNECTION_RETRY_ON_STARTUP = True
CELERY_ENABLE_UTC = True
CELERY_TIMEZONE = "UTC"
# Planning limit < soft < hard < redelivery, or one plan would run twice.
CELERY_TASK_SOFT_TIME_LIMIT = 600  # seconds
CELERY_TASK_TIME_LIMIT = 660
# A page must not hang when the queue is away: the run's row waits for the sweep.
CELERY_TASK_PUBLISH_RETRY_POLICY = {"max_retries": 1, "interval_start": 0.2}
CELERY_BEAT_SCHEDULE = {
    "take up planning runs whose worker was lost": {
        "task": "jobs.tasks.sweep",
        "schedule": 60.0,
        "options": {"expires": 55},  # a queue that was away holds one, not hundreds
    },
    "watch the air of running jobs": {
        "task": "jobs.watch_tasks.watch",
        "schedule": 300.0,
        "options": {"expires": 290},
    },
}

if CELERY_BROKER_URL == "filesystem://":
    _queue = DATA_DIR / "queue"
    _messages, _control = _queue / "messages", _queue / "control"
    for _folder in () if KEEP_NOTHING else (_messages, _control):
        _folder.mkdir(parents=True, exist_ok=True)
    CELERY_BROKER_TRANSPORT_OPTIONS: dict[str, object] = {
        "data_folder_in": str(_messages),
        "data_folder_out": str(_messages),  # the same: this machine talks to itself
        "control_folder": str(_control),
        "store_processed": False,
        "polling_interval": 0.2,  # seconds
    }
else:
    CELERY_BROKER_TRANSPORT_OPTIONS = {
        "visibility_timeout": 3600,  # seconds until a lost message comes again
        "socket_connect_timeout": 3,
        "socket_timeout": 10,
    }

# Logs ----------------------------------------------------------------------------

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "filters": {"hide_tokens": {"()": "config.logs.HideTokens"}},
    "formatters": {
        "line": {"format": "{asctime} {levelname} {name}: {message}", "style": "{"}
    },
    "handlers": {
        "console": {
            "class": "logging.StreamHandler",
            "filters": ["hide_tokens"],
            "formatter": "line",
        }
    },
    "root": {
        "handlers": ["console"],
        "level": text(
            "LOG_LEVEL",
            default="INFO",
            choices=("DEBUG", "INFO", "WARNING", "ERROR"),
        ),
    },
    # Django's own handlers write without the filter; let the root one do it.
    "loggers": {
        "django": {"handlers": [], "level": "INFO", "propagate": True},
        "django.server": {"handlers": [], "level": "INFO", "propagate": True},
        "axes": {"level": "WARNING"},
        "fontTools": {"level": "ERROR"},  # a line for each table of a font
        "urllib3": {"level": "ERROR"},  # it would log addresses with keys in them
        "kombu.connection": {"level": "ERROR"},  # it misses a host in filesystem://
    },
}
