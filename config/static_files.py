"""Static files under names that carry their content; the tablet page's modules also without what only people read."""

from collections.abc import Iterator
from typing import Any

import rjsmin
from django.core.files.base import ContentFile
from whitenoise.storage import CompressedManifestStaticFilesStorage

# A weak signal carries these; all else is fetched over the yard's own network.
CARRIED = ("capture/", "vendor/idb/")


class Fingerprinted(CompressedManifestStaticFilesStorage):  # type: ignore[misc] # whitenoise is not typed
    """A page and the modules it imports are one set: an old page never meets a new module."""

    support_js_module_import_aggregation = True

    def post_process(self, paths: dict[str, Any], *given: Any, **options: Any) -> Iterator[Any]:
        for name in [name for name in paths if name.startswith(CARRIED) and name.endswith(".js")]:
            with self.open(name) as file:
                small = rjsmin.jsmin(file.read().decode())
            self.delete(name)
            self.save(name, ContentFile(small.encode()))
            paths[name] = (self, name)
        yield from super().post_process(paths, *given, **options)
