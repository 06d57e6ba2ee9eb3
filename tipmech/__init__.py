"""tipmech: mechanics of a guidewire tip at a dissected coronary wall.

Research and teaching only; not a medical device; not for planning or guiding treatment.
"""

__version__ = "0.1.0"

CAUTION = (
    "Research and teaching only; not a medical device; not for planning or guiding treatment; "
    "follow instructions for use, local protocols and licensed operators."
)
