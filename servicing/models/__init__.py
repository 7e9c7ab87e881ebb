"""Django finds an app's tables through this module, so it names the files that hold them."""
