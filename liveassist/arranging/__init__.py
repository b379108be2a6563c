"""Offline and pure: from a route to an arrangement, the left hand as data."""
