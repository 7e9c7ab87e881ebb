"""Django finds an app's tables through this module, so it names the files that hold them."""

from servicing.models import jobs, plans, tyres, wheels

__all__ = ["jobs", "plans", "tyres", "wheels"]
