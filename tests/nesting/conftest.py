"""Property tests of the library: how long one example takes is never a fault, on a busy machine it may be long."""

from hypothesis import HealthCheck, settings

settings.register_profile("shop", deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("shop")
