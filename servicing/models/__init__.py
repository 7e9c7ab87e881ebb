"""Django finds an app's tables through this module, so it names the files that hold them."""

from servicing.models import tyres, wheels

__all__ = ["tyres", "wheels"]
