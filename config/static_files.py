"""Static files under names that carry their content, in the imports of our modules too."""

from whitenoise.storage import CompressedManifestStaticFilesStorage


class Fingerprinted(CompressedManifestStaticFilesStorage):  # type: ignore[misc] # whitenoise is not typed
    """A page and the modules it imports are one set: an old page never meets a new module."""

    support_js_module_import_aggregation = True
