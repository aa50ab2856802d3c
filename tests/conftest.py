"""Settings of all tests.

Property tests draw the same examples every time, so that a run can be repeated. To look further, run with
``--hypothesis-profile=explore``.
"""

from hypothesis import HealthCheck, settings

settings.register_profile(
    "same", derandomize=True, deadline=None, database=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.register_profile("explore", deadline=None)
settings.load_profile("same")
