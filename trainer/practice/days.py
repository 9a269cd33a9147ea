"""Days of practice. On its own, because the first screen asks which day it is, and nothing else of this room."""

from datetime import date, datetime, timedelta

DAY_BEGINS_HOUR = 4
"""House rule: what is played after midnight and before four belongs to the evening before."""


def practice_day(at: datetime) -> date:
    """The day of practice that the local time `at` belongs to."""
    return (at - timedelta(hours=DAY_BEGINS_HOUR)).date()
