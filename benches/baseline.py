#!/usr/bin/env python3
"""Time and peak memory of reading a log, ours beside general data libraries'.

    pip install polars==2.1.0 duckdb==2.0.1
    baseline.py FILE [--beside polars duckdb] [--ours BINARY] [--times 5] [--what inspect|reconcile]

A library streams the same file: the time by an explicit format, power as volts x amperes, energy
by the trapezoid rule over neighbouring rows, summed by day. Each run is a process of its own; one
run beforehand warms the cache. Prints the median time, the highest peak memory and the ratios.
"""

import argparse
import os
import statistics
import sys
import tempfile
import time


# What ours is asked to do: to read the log, or all of a verdict with its report.
OURS = {
    "inspect": ["inspect", "--json"],
    "reconcile": [
        "reconcile",
        "--design",
        os.path.join(os.path.dirname(os.path.abspath(__file__)), "year.toml"),
        "--out",
        os.path.join(tempfile.gettempdir(), "ampledger-bench"),
    ],
}


def by_polars(path):
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


def by_duckdb(path):
    import duckdb

    days = duckdb.sql(f"""
        with readings as (
            select "Time (UTC)" as stamp, "Battery voltage (V)" * "Battery current (A)" as watts
            from read_csv('{path}', header = true, timestampformat = '%Y-%m-%d %H:%M:%S', columns = {{
                'Time (UTC)': 'TIMESTAMP', 'Battery voltage (V)': 'DOUBLE',
                'Battery current (A)': 'DOUBLE', 'SoC (%)': 'DOUBLE',
                'Battery temperature (C)': 'DOUBLE'}})
        ), steps as (
            select cast(stamp as date) as day,
                (watts + lag(watts) over in_time) / 2
                    * (epoch_ms(stamp) - epoch_ms(lag(stamp) over in_time)) / 3600000 as wh
            from readings window in_time as (order by stamp)
        )
        select day, sum(greatest(wh, 0)) as wh_in, -sum(least(wh, 0)) as wh_out
        from steps group by day order by day
    """).fetchall()
    print(sum(day[1] or 0 for day in days), sum(day[2] or 0 for day in days), file=sys.stderr)


# What a library is asked to do.
THEIRS = {"polars": by_polars, "duckdb": by_duckdb}


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


def measure(commands, times):
    """Wall time and peak memory of each command: they take turns, so that what else the machine does
    falls on all of them, and one run of each beforehand is not counted."""
    runs = {name: [] for name in commands}
    for turn in range(times + 1):
        for name, command in commands.items():
            used = run(command)
            if turn > 0:
                runs[name].append(used)
    found = {}
    for name, used in runs.items():
        wall, busy = (statistics.median(r[k] for r in used) for k in (0, 1))
        peak = max(r[2] for r in used)
        print(f"{name:8} {wall:7.2f} s  processor {busy:7.2f} s  peak {peak:7.0f} MB")
        found[name] = (wall, peak)
    return found


def main():
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("file")
    ask.add_argument("--ours", default="target/release/ampledger")
    ask.add_argument("--times", type=int, default=5)
    ask.add_argument("--beside", nargs="*", choices=THEIRS, default=["polars"])
    ask.add_argument("--what", choices=OURS, default="inspect")
    ask.add_argument("--child", choices=THEIRS, help=argparse.SUPPRESS)
    told = ask.parse_args()
    if told.child:
        THEIRS[told.child](told.file)
        return
    child = [sys.executable, __file__, told.file, "--child"]
    commands = {name: [*child, name] for name in told.beside}
    commands["ours"] = [told.ours, *OURS[told.what], told.file]
    found = measure(commands, told.times)
    ours = found["ours"]
    for name in told.beside:
        time_of, peak = (mine / other for mine, other in zip(ours, found[name]))
        print(f"ours over {name:8} time {time_of:.2f}  peak memory {peak:.3f}")


if __name__ == "__main__":
    main()
