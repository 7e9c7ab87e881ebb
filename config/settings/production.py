"""Production: HTTPS in front, no defaults for what must be decided."""

from config.env import environment as env
from config.settings.base import *  # noqa: F403
from config.settings.base import database

DEBUG = False
DATABASES = {"default": database(owner=env.text("SLAKE_DATABASE_ROLE", "app") == "owner")}
ALLOWED_HOSTS = env.items("SLAKE_ALLOWED_HOSTS")
PUBLIC_ADDRESS = env.text("SLAKE_PUBLIC_ADDRESS").rstrip("/")
FILES_DIR = env.path("SLAKE_FILES_DIR")
YARD_NAME = env.text("YARD_NAME")

SECURE_SSL_REDIRECT = True
# The proxy in front ends TLS and sets this header itself; compose publishes the web port on loopback only.
SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
# It adds its visitor's address to X-Forwarded-For: without it all of the yard would share one throttle.
BEHIND_PROXY = True
SECURE_REDIRECT_EXEMPT = [r"^healthz$", r"^readyz$"]
SECURE_HSTS_SECONDS = 31_536_000
SECURE_HSTS_INCLUDE_SUBDOMAINS = True
SECURE_HSTS_PRELOAD = True
SESSION_COOKIE_SECURE = True
SESSION_COOKIE_NAME = "__Host-slake"
SITE_COOKIE_PREFIX = "__Host-slake-hire-"
TABLET_COOKIE_NAME = "__Host-slake-tablet"
CSRF_COOKIE_SECURE = True
CSRF_COOKIE_NAME = "__Host-slake-csrf"
