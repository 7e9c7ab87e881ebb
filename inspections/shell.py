"""The capture page's shell and its worker: one set of files, the same for every person, that a tablet keeps."""

from __future__ import annotations

import hashlib
import json
import re
from functools import lru_cache
from pathlib import Path

from django.conf import settings
from django.template.loader import render_to_string
from django.templatetags.static import static
from django.utils.html import format_html

from people.say import say_page, yard_words

SOURCES = Path(settings.BASE_DIR) / "static"
# What is served as the worker is not in the set it keeps.
WORKER = "capture/worker.js"


def shell_html() -> str:
    """The page, without a name, a token or anything of a session in it."""
    context = {"modules": [static(name) for name in _modules()], "words": _words()}
    return say_page(render_to_string("inspections/capture.html", context))


def _words() -> str:
    """The table by which the page says its own sentences (static/capture/say.js); nothing where they stand as written."""
    pairs = yard_words().pairs
    return format_html(' data-words="{}"', json.dumps(pairs)) if pairs else ""


def _modules() -> list[str]:
    paths = [*sorted((SOURCES / "capture").rglob("*.js")), SOURCES / "vendor" / "idb" / "idb.js"]
    return [name for path in paths if (name := path.relative_to(SOURCES).as_posix()) != WORKER]


@lru_cache(maxsize=1)
def shell_files() -> tuple[str, ...]:
    """Every file the page is made of, by its address: what the shell names, and the modules those import."""
    named = re.findall(r'(?:src|href)="([^"#]+)"', shell_html())
    modules = [static(name) for name in _modules()]
    ours = [address for address in named if address.startswith(settings.STATIC_URL)]
    return tuple(dict.fromkeys([*ours, *modules]))


@lru_cache(maxsize=1)
def shell_set() -> str:
    """The name of this set of files: the same files, and the same bytes in them, have the same name."""
    parts = [
        shell_html(),
        *shell_files(),
        *((SOURCES / name).read_text(encoding="utf-8") for name in _modules()),
    ]
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()[:16]


def worker_script(*, shell: str) -> str:
    """The worker with the set it keeps written in front; shell is the page's address."""
    head = {"SET": shell_set(), "SHELL": shell, "FILES": list(shell_files())}
    constants = "".join(f"const {name} = {json.dumps(value)};\n" for name, value in head.items())
    return constants + (SOURCES / WORKER).read_text(encoding="utf-8")
