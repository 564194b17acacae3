"""The same examples every time, and nothing kept from one test to the next."""

import os

from hypothesis import settings

os.environ["TEXBAKE_CACHE"] = "off"  # also for the commands that tests start

settings.register_profile("same", derandomize=True, deadline=None)
settings.load_profile("same")
