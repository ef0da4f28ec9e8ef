#!/usr/bin/env python3
"""Time and peak memory of reading a log, ours beside a general data-frame library's.

    pip install polars==2.1.0
    baseline.py FILE [--ours BINARY] [--times 5] [--only ours|polars]

The library streams the same file: the time by an explicit format, power as volts x amperes, energy
by the trapezoid rule over neighbouring rows, summed by day. Each run is a process of its own; one
run beforehand warms the cache. Prints the median time, the highest peak memory and the ratios.
"""

import argparse
import os
import statistics
import sys
import time


def daily_energy(path):
    """What the library is asked to do."""
    import polars as pl

    columns = {
        "Time (UTC)": pl.String,
        "Battery voltage (V)": pl.Float64,
        "Battery current (A)": pl.Float64,
        "SoC (%)": pl.Float64,
        "Battery temperature (C)": pl.Float64,
    }
    at = pl.col("Time (UTC)").str.to_datetime("%Y-%m-%d %H:%M:%S", time_unit="ms", strict=True)
    watts = pl.col("Battery voltage (V)") * pl.col("Battery current (A)")
    hours = pl.col("at").diff().dt.total_milliseconds() / 3_600_000
    mean = (pl.col("watts") + pl.col("watts").shift(1)) / 2
    days = (
        pl.scan_csv(path, schema=columns)
        .select(at=at, watts=watts)
        .with_columns(wh=mean * hours)
        .group_by(pl.col("at").dt.date().alias("date"))
        .agg(
            wh_in=pl.col("wh").clip(lower_bound=0).sum(),
            wh_out=-pl.col("wh").clip(upper_bound=0).sum(),
        )
        .sort("date")
        .collect(engine="streaming")
    )
    print(days.sum().select("wh_in", "wh_out").row(0), file=sys.stderr)


def run(command):
    """Seconds, seconds of processor and peak memory (MB) of a command."""
    started = time.perf_counter()
    child = os.fork()
    if child == 0:
        silence = os.open(os.devnull, os.O_WRONLY)
        os.dup2(silence, 1)
        os.dup2(silence, 2)
        os.execvp(command[0], command)
    _, status, used = os.wait4(child, 0)
    if status != 0:
        sys.exit(f"{command} ended with {status}")
    return time.perf_counter() - started, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024


def measure(name, command, times):
    run(command)
    runs = [run(command) for _ in range(times)]
    wall, busy = (statistics.median(r[k] for r in runs) for k in (0, 1))
    peak = max(r[2] for r in runs)
    print(f"{name:8} {wall:7.2f} s  processor {busy:7.2f} s  peak {peak:7.0f} MB")
    return wall, peak


def main():
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("file")
    ask.add_argument("--ours", default="target/release/ampledger")
    ask.add_argument("--times", type=int, default=5)
    ask.add_argument("--only", choices=["ours", "polars"])
    ask.add_argument("--child", action="store_true", help=argparse.SUPPRESS)
    told = ask.parse_args()
    if told.child:
        daily_energy(told.file)
        return
    ours = theirs = None
    if told.only != "ours":
        command = [sys.executable, __file__, told.file, "--child"]
        theirs = measure("polars", command, told.times)
    if told.only != "polars":
        command = [told.ours, "inspect", told.file, "--json"]
        ours = measure("ours", command, told.times)
    if ours and theirs:
        print(f"ratio    time {ours[0] / theirs[0]:.2f}  peak memory {ours[1] / theirs[1]:.3f}")


if __name__ == "__main__":
    main()
