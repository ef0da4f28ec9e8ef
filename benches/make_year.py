#!/usr/bin/env python3
"""Writes the log of a battery monitor at one row a second, the same bytes every time.

    make_year.py OUT [--rows N] [--order sorted|day|shuffled|reversed] [--split DIR]

OUT ending in .gz is compressed. `--order day` shuffles the rows of each day among themselves,
`shuffled` all rows. With --split one file a day goes into DIR as well.
"""

import argparse
import gzip
import math
import os
import random
from datetime import date, timedelta

HEADER = "Time (UTC),Battery voltage (V),Battery current (A),SoC (%),Battery temperature (C)\n"
FIRST = date(2025, 6, 1)
DAY = 86_400
CLOCK = [f"{s // 3600:02}:{s // 60 % 60:02}:{s % 60:02}" for s in range(DAY)]


def day_rows(day, soc, dice):
    """The rows of a day, and the state of charge at its end (percent)."""
    stamp = (FIRST + timedelta(days=day)).isoformat()
    season = 0.55 - 0.45 * math.cos(2 * math.pi * (day + 162) / 365)
    cloud = dice.uniform(0.3, 1.0)
    rows, fridge = [], 0.0
    for second in range(DAY):
        if second % 600 == 0:
            fridge = 3.8 if dice.random() < 0.4 else 0.0
        sun = max(0.0, math.sin(math.pi * (second / DAY - 0.25) / 0.5)) if second < 64_800 else 0.0
        noise = dice.random() - 0.5
        amps = 22.0 * season * cloud * sun * (1 + 0.1 * noise) - 1.2 - fridge
        if soc >= 99.9 and amps > 0:
            amps = 0.4 + 0.2 * noise
        soc = min(100.0, max(12.0, soc + amps / 3600 / 2.0))
        volts = 12.9 + soc / 250 + 0.022 * amps + 0.004 * noise
        warmth = 12 + 9 * season + 3 * sun
        rows.append(f"{stamp} {CLOCK[second]},{volts:.3f},{amps:.2f},{soc:.1f},{warmth:.1f}\n")
    return rows, soc


def main():
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("out")
    ask.add_argument("--rows", type=int, default=365 * DAY)
    ask.add_argument("--order", choices=["sorted", "day", "shuffled", "reversed"], default="sorted")
    ask.add_argument("--split", metavar="DIR")
    told = ask.parse_args()
    dice, mixer = random.Random(1), random.Random(2)
    if told.split:
        os.makedirs(told.split, exist_ok=True)
    whole = told.order in ("shuffled", "reversed")
    opened = gzip.open(told.out, "wt", compresslevel=6) if told.out.endswith(".gz") else open(told.out, "w")
    with opened as out:
        out.write(HEADER)
        left, day, soc, kept = told.rows, 0, 80.0, []
        while left > 0:
            rows, soc = day_rows(day, soc, dice)
            rows = rows[:left]
            if told.split:
                with open(os.path.join(told.split, f"day-{day:04}.csv"), "w") as file:
                    file.write(HEADER + "".join(rows))
            if told.order == "day":
                mixer.shuffle(rows)
            if whole:
                kept.extend(row.encode() for row in rows)
            else:
                out.write("".join(rows))
            left -= len(rows)
            day += 1
        if told.order == "shuffled":
            mixer.shuffle(kept)
        if told.order == "reversed":
            kept.reverse()
        for row in kept:
            out.write(row.decode())


if __name__ == "__main__":
    main()
