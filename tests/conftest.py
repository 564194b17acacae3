"""The same examples every time: a test that fails by luck tells nobody anything."""

from hypothesis import settings

settings.register_profile("same", derandomize=True, deadline=None)
settings.load_profile("same")
