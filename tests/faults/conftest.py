"""The stand-in yard and the empty page of it, as the capture page's own tests have them."""

from tests.capture.conftest import browser, context, modules, page, served, yard
from tests.journeys.conftest import address

__all__ = ["address", "browser", "context", "modules", "page", "served", "yard"]
