"""Settings shared by every mode. What differs by mode is in demo.py, test.py and production.py."""

from pathlib import Path

from config.env import environment as env
from config.settings.background import *  # noqa: F403 - settings by concern are one namespace
from config.settings.notices import *  # noqa: F403
from config.settings.records import *  # noqa: F403
from config.settings.web import *  # noqa: F403
from config.settings.yard import *  # noqa: F403

BASE_DIR = Path(__file__).resolve().parent.parent.parent

INSTALLED_APPS = [
    "config.apps.ConfigConfig",
    "hire.apps.HireConfig",
    "servicing.apps.ServicingConfig",
    "inspections.apps.InspectionsConfig",
    "inspections.certificates.apps.CertificatesConfig",
    "fleet.apps.FleetConfig",
    "fleet.alerts.apps.AlertsConfig",
    "people.apps.PeopleConfig",
    "people.journal.apps.JournalConfig",
    "people.tablets.apps.TabletsConfig",
    "people.outbox.apps.OutboxConfig",
    "django.contrib.contenttypes",
    "django.contrib.auth",
    "django.contrib.sessions",
    "django.contrib.messages",
    "django.contrib.staticfiles",
    "django.contrib.postgres",
    "django.forms",
    "django_htmx",
    "csp",
    "template_partials",
]

AUTH_USER_MODEL = "people.Staff"
AUTHENTICATION_BACKENDS = ["django.contrib.auth.backends.ModelBackend"]
AUTH_PASSWORD_VALIDATORS = [
    # Length and a block-list, no composition rules: ASVS 5.0 6.2.1 and NIST SP 800-63B-4 (15 when it is the only factor).
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 15},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
]

ROOT_URLCONF = "config.urls"
WSGI_APPLICATION = "config.wsgi.application"
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

# The application's role runs; the owner's role migrates. One alias, so no query can pick the wrong one by hand.
APP_ROLE = env.text("SLAKE_APP_ROLE", "slake_app")


def database(*, owner: bool) -> dict[str, object]:
    entry = env.database("SLAKE_OWNER_DATABASE_URL" if owner else "SLAKE_DATABASE_URL")
    return entry | {
        "CONN_MAX_AGE": 60,
        "CONN_HEALTH_CHECKS": True,
        "OPTIONS": {
            "options": "-c lock_timeout=5s -c statement_timeout=30s -c idle_in_transaction_session_timeout=60s"
            + ("" if not owner else " -c statement_timeout=10min")
        },
    }


LANGUAGE_CODE = "en-gb"
USE_I18N = False
USE_TZ = True
TIME_ZONE = "UTC"
