"""What a derating policy leaves of a rating of a part."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import ArrayLike, NDArray

from railwright.devices.device import Device
from railwright.standards.iec60115 import power_ratio
from railwright.standards.policy import Policy


def usable(
    policy: Policy,
    device: Device,
    options: Mapping[str, str],
    rating: str,
    rated: float,
    ambient: ArrayLike,
) -> NDArray[np.float64] | None:
    """Share of a rating that may be used at ambients [K]; None where the policy has no row for it.

    rated: the rating itself, by which the share of a fuse goes. A power that falls in warm air is
    allowed no more than IEC 60115-1 does, whatever the policy says.
    """
    declared, family = device.ratings[rating], device.derating_family(rating, options)
    if not family or not declared.quantity:
        return None
    if family == "fuse":
        return policy.fuse_current(rated, ambient)
    found = policy.ratio_at(family, declared.quantity, ambient)
    if declared.nil_at is None:
        return found
    by_warmth = power_ratio(ambient, declared.nil_at)
    return by_warmth if found is None else np.minimum(found, by_warmth)


def hottest(
    policy: Policy, device: Device, options: Mapping[str, str], rating: str, limit: float
) -> float:
    """The lower of a junction's own limit and of what the policy allows its family [K]."""
    by_policy = policy.junction(device.derating_family(rating, options))
    return limit if by_policy is None else min(limit, by_policy)
