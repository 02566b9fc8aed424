"""The moment and the day, as far as anything made here depends on them."""

from __future__ import annotations

import os
from datetime import UTC, date, datetime


def told_moment() -> datetime | None:
    """The moment of SOURCE_DATE_EPOCH (UTC), where what is made must be repeatable; else None."""
    epoch = os.environ.get("SOURCE_DATE_EPOCH", "")
    return datetime.fromtimestamp(int(epoch), UTC) if epoch.isascii() and epoch.isdigit() else None


def now() -> datetime:
    """The time on this machine in UTC, whole seconds, or that of SOURCE_DATE_EPOCH."""
    return told_moment() or datetime.now(UTC).replace(microsecond=0)


def today() -> date:
    """The day on this machine, or that of SOURCE_DATE_EPOCH."""
    return (told_moment() or datetime.now().astimezone()).date()
