"""What makes a place of a part dear, in steps of wire."""

from __future__ import annotations

BEND, BLOCKED = 3.0, 2.5
"""A corner of a wire, and a place of the grid on its way that is taken."""
CROSSED, SHARED = 1.5, 1.5
"""Crossing where another wire would run, and running there."""
INTO = 6.0
"""A wire that would leave a pin into its own part."""
OUTWARD = 0.3
"""Each step from a pin to the border at which its net leaves."""
TOGETHER = 6.0
"""Two pins that meet in one place, of a net with more of them."""
RAIL, AGAINST = 8.0, 25.0
"""A place that is taken where a rail would run, and a pin that bars it itself."""
NOT_DOWN = 5.0
"""A pin on 0 V that does not look down."""
ODD = 4.0
"""A symbol that stands as one does not expect."""
BACKWARD = 0.5
"""Each step by which a part stands before one that feeds it."""
ABOVE = 1.0
"""Each step by which something stands above the rail."""
WIDE, HIGH = 0.5, 0.9
"""Each step of the frame's size."""
