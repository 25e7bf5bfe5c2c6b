"""The pin that switches a regulator on, tied so that it is always on."""

from __future__ import annotations

from railwright.architectures.architecture import Task, Unserved
from railwright.architectures.regulator import Feed
from railwright.architectures.sizing.choice import spread_of
from railwright.catalogue.entry import Entry
from railwright.quantity import show


def enabled(task: Task, entry: Entry, feed: Feed) -> dict[str, str]:
    """That pin with its net, where a regulator has one; Unserved where it does not survive that."""
    if entry.pins and "disable" not in entry.pins:
        return {}
    if entry.options.get("enable_active") == "low":
        return {"disable": feed.ground}
    limit = spread_of(entry, "enable_maximum").high
    if feed.high > task.bears(entry, "enable_maximum"):
        raise Unserved(
            f"its enable pin would see {show(feed.high, 'V')}; it survives {show(limit, 'V')}",
            reached=3,
        )
    return {"disable": feed.net}
