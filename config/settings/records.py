"""Where photos and sealed papers are kept, and the seal's key, which only the worker may read."""

from config.env import environment as env

PUBLIC_ADDRESS = env.text("SLAKE_PUBLIC_ADDRESS", "http://127.0.0.1:8400").rstrip("/")
FILES_DIR = env.path("SLAKE_FILES_DIR", ".slake/files")
SEAL_KEY_FILE = env.path("SLAKE_SEAL_KEY_FILE", ".slake/seal/seal.key")
SEAL_CERT_FILE = env.path("SLAKE_SEAL_CERT_FILE", ".slake/seal/seal.crt")
PHOTO_MAX_BYTES = 15 * 1024 * 1024
# One photo is the largest body anything here accepts; Django refuses a larger one before a view sees it.
DATA_UPLOAD_MAX_MEMORY_SIZE = PHOTO_MAX_BYTES
FILE_UPLOAD_MAX_MEMORY_SIZE = 1024 * 1024

STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage", "OPTIONS": {"location": FILES_DIR}},
    "private": {
        "BACKEND": "django.core.files.storage.FileSystemStorage",
        "OPTIONS": {"location": FILES_DIR, "base_url": None, "file_permissions_mode": 0o600},
    },
    "staticfiles": {"BACKEND": "config.static_files.Fingerprinted"},
}
