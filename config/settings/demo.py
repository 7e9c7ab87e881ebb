"""The demo yard on loopback: the real parts, plain HTTP."""

from config.env import environment as env
from config.settings.base import *  # noqa: F403
from config.settings.base import database

DEBUG = False
DATABASES = {"default": database(owner=env.text("SLAKE_DATABASE_ROLE", "app") == "owner")}
