"""Do an order's parts go together, and is the supply strong enough (ADR 0032)? Pure: no machine, no clock."""

from shipworthy.orders.fit.runner import check_fit, fit_of

__all__ = ["check_fit", "fit_of"]
