"""Tests: the owner's role makes the database; privilege tests take the application's role on themselves."""

import os
import tempfile

os.environ.setdefault(
    "SLAKE_SECRET_KEY", "tests-only-key-of-a-length-that-the-deployment-check-accepts-01234"
)
os.environ.setdefault("SLAKE_REDIS_URL", "redis://127.0.0.1:6390/0")
os.environ.setdefault("SLAKE_OWNER_DATABASE_URL", "postgresql://slake_owner@127.0.0.1:5439/slake")
os.environ.setdefault("SLAKE_FILES_DIR", tempfile.mkdtemp(prefix="slake-test-"))
# The outside checks are written for one rule set and one zone, whatever the machine's own environment says.
os.environ["YARD_TIME_ZONE"] = "Australia/Adelaide"
os.environ["YARD_RULE_SET"] = "au"

from config.settings.base import *  # noqa: F403
from config.settings.base import STORAGES, database

DEBUG = False
ALLOWED_HOSTS = ["testserver", "127.0.0.1", "localhost"]
DATABASES = {
    "default": database(owner=True)
    | {
        "CONN_MAX_AGE": 0,
        "TEST": {"NAME": os.environ.get("SLAKE_TEST_DATABASE", "test_slake"), "TEMPLATE": "template0"},
    }
}
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
CELERY_TASK_ALWAYS_EAGER = False
# No test publishes: the nudge goes nowhere and the outbox row is what is asserted.
CELERY_BROKER_URL = "memory://"
STORAGES = STORAGES | {"staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}}
# The test runner keeps every mail in its outbox; no gateway is there to call anybody.
MAIL_IS_SET = True
CALLOUT_URL = ""
WHITENOISE_AUTOREFRESH = True
LOGGING_CONFIG = None
