"""How alerts leave the house: a mail server, and a gateway for text or voice. A yard without either starts all the same."""

from config.env import environment as env

# A demo has no mail server: each mail becomes a file in this folder.
EMAIL_FILE_PATH = env.text("SLAKE_MAIL_DIR", "")
EMAIL_HOST = env.text("SLAKE_SMTP_HOST", "")
EMAIL_PORT = env.whole("SLAKE_SMTP_PORT", 587)
EMAIL_HOST_USER = env.text("SLAKE_SMTP_USER", "")
EMAIL_HOST_PASSWORD = env.text("SLAKE_SMTP_PASSWORD", "")
_SECURITY = env.choice("SLAKE_SMTP_SECURITY", ("starttls", "tls", "none"), "starttls")
EMAIL_USE_TLS, EMAIL_USE_SSL = _SECURITY == "starttls", _SECURITY == "tls"
EMAIL_TIMEOUT = 10
# How long whoever claimed a notice is let alone. Longer than any sending takes: every step of it has the time limit above.
NOTICE_LEASE_SECONDS = 180
DEFAULT_FROM_EMAIL = env.text("SLAKE_MAIL_FROM", "Slake <slake@localhost>")
EMAIL_BACKEND = "django.core.mail.backends." + (
    "smtp.EmailBackend"
    if EMAIL_HOST
    else "filebased.EmailBackend"
    if EMAIL_FILE_PATH
    else "dummy.EmailBackend"
)
MAIL_IS_SET = bool(EMAIL_HOST or EMAIL_FILE_PATH)

# Takes {"to", "text"} by POST and rings or texts; for stops only.
CALLOUT_URL = env.text("SLAKE_CALLOUT_URL", "")
CALLOUT_TOKEN = env.text("SLAKE_CALLOUT_TOKEN", "")
