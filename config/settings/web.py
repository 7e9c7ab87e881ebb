"""What a browser meets: middleware, templates, cookies, the content policy, logs."""

from pathlib import Path

from csp.constants import NONE, SELF

from config.env import environment as env

BASE = Path(__file__).resolve().parent.parent.parent

SECRET_KEY = env.text("SLAKE_SECRET_KEY")
ALLOWED_HOSTS = env.items("SLAKE_ALLOWED_HOSTS", "127.0.0.1,localhost")

MIDDLEWARE = [
    "config.requests.RequestLogMiddleware",
    "people.clock.YardClockMiddleware",
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "csp.middleware.CSPMiddleware",
    "people.sessions.OwnSessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "config.screen_words.WordsMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "people.tablets.middleware.TabletSessionMiddleware",
    "django.contrib.auth.middleware.LoginRequiredMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "config.requests.PrivatePagesMiddleware",
    "config.requests.WrongMethodMiddleware",
]

TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [BASE / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.messages.context_processors.messages",
                "config.screen.screen",
            ],
        },
    }
]
MESSAGE_STORAGE = "people.notices.SaidStorage"
FORM_RENDERER = "django.forms.renderers.TemplatesSetting"

# Ours alone: what packages bring along is not used.
STATICFILES_FINDERS = ["django.contrib.staticfiles.finders.FileSystemFinder"]
STATIC_URL = "/static/"
STATICFILES_DIRS = [BASE / "static"]
STATIC_ROOT = env.path("SLAKE_STATIC_DIR", str(BASE / ".slake" / "static"))

# True only where a proxy of ours is the one way in: it tells who asks (people.throttle.address_of).
BEHIND_PROXY = False

LOGIN_URL = "people:sign_in"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "people:sign_in"

# Twelve hours is one long shift: signing in again in the middle of a walk-round is the worse risk.
SESSION_ENGINE = "django.contrib.sessions.backends.db"
SESSION_COOKIE_AGE = 12 * 60 * 60
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = "Lax"
# A customer's person on one hire; the hire's id follows, so that one phone holds several.
SITE_COOKIE_PREFIX = "slake-hire-"
# By which a shared tablet is known, whoever is signed in on it (people.tablets.here).
TABLET_COOKIE_NAME = "slake-tablet"
CSRF_COOKIE_HTTPONLY = True
CSRF_COOKIE_SAMESITE = "Lax"
CSRF_FAILURE_VIEW = "config.error_pages.csrf_failure"

SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
SECURE_CROSS_ORIGIN_OPENER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"

# No inline code and no unsafe-*: every script and sheet is a file of ours.
CONTENT_SECURITY_POLICY = {
    "DIRECTIVES": {
        "default-src": [NONE],
        "script-src": [SELF],
        "style-src": [SELF],
        "img-src": [SELF, "blob:"],
        "connect-src": [SELF],
        "font-src": [SELF],
        "form-action": [SELF],
        "manifest-src": [SELF],
        "worker-src": [SELF],
        "base-uri": [NONE],
        "object-src": [NONE],
        "frame-ancestors": [NONE],
    }
}

LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "filters": {"scrub": {"()": "config.logs.ScrubFilter"}},
    "formatters": {"json": {"()": "config.logs.JsonFormatter"}},
    "handlers": {"out": {"class": "logging.StreamHandler", "formatter": "json", "filters": ["scrub"]}},
    "root": {"handlers": ["out"], "level": "INFO"},
    "loggers": {
        "django.server": {"handlers": ["out"], "level": "INFO", "propagate": False},
        "django.security.DisallowedHost": {"handlers": ["out"], "level": "ERROR", "propagate": False},
        "fontTools": {"level": "ERROR"},
        "weasyprint": {"level": "ERROR"},
        "pyhanko": {"level": "ERROR"},
    },
}
