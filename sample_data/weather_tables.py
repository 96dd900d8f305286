"""The weather of Harbour Vale: a forecast every three hours for two weeks with a frost in it, and a seasonal table."""

import csv
import datetime as dt
from pathlib import Path

FIRST_DAY = dt.date(2026, 10, 1)
# lowest and highest temperature of each day: a frost in the morning of the 8th, too cold all day on the 9th
DAYS = (
    (9, 16), (8, 15), (7, 14), (8, 15), (9, 17), (7, 13), (4, 11),
    (-2, 9), (-3, 3), (1, 8), (3, 11), (5, 12), (6, 13), (7, 14),
)  # fmt: skip
# hours of the forecast, and how far each lies between the lowest and the highest of its day
COURSE = {2: 0.15, 5: 0.0, 8: 0.25, 11: 0.75, 14: 1.0, 17: 0.8, 20: 0.45, 23: 0.25}
MONTHS = (
    ("January", -10, -2), ("February", -10, -1), ("March", -5, 4), ("April", 1, 11), ("May", 7, 18), ("June", 12, 23),
    ("July", 15, 26), ("August", 14, 25), ("September", 10, 21), ("October", 5, 14), ("November", 0, 7),
    ("December", -6, 1),
)  # fmt: skip


def write_weather(folder: Path) -> None:
    """Write the forecast and the seasonal table."""
    with (folder / "forecast.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(("date", "hour", "temp_c"))
        for number, (low, high) in enumerate(DAYS):
            day = FIRST_DAY + dt.timedelta(days=number)
            writer.writerows(
                (day, f"{hour:02}:00", round(low + share * (high - low), 1)) for hour, share in COURSE.items()
            )
    with (folder / "seasons.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(("month", "low_c", "high_c"))
        writer.writerows(MONTHS)
