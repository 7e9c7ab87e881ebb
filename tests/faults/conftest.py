"""The stand-in yard and the empty page of it, as the capture page's own tests have them."""

from tests.capture.conftest import browser, context, modules, page, served, yard

__all__ = ["browser", "context", "modules", "page", "served", "yard"]
