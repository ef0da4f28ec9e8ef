#!/usr/bin/env python3
"""What hostile input comes to: status, time, peak memory and the first line said, for each.

    hostile.py [--ours target/release/ampledger] [--only NAME]

Every input is made anew in a temporary folder. Nothing may panic, take more than a minute or hold more
than 300 MB.
"""

import argparse
import gzip
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

DESIGN = """[place]
latitude = 48.1
longitude = 2.5
timezone = "UTC"
[array.panel]
power = "200 W"
[battery]
chemistry = "lfp"
capacity = "100 Ah"
"""
HEADER = "time,battery voltage (V),battery current (A)\n"
SCRIPT = "<script>alert(1)</script>"


def rows(days, stamp="2026-06-{day:02} {hour:02}:{minute:02}:00"):
    text = []
    for k in range(days * 288):
        day, minute = k // 288 + 1, k % 288 * 5
        amps = 4.5 if 420 <= minute < 1080 else -2.0
        at = stamp.format(day=day, hour=minute // 60, minute=minute % 60)
        text.append(f"{at},{13.1 + 0.02 * amps:.2f},{amps:.1f}\n")
    return "".join(text)


def log(folder, text, name="log.csv"):
    (folder / name).write_text(text)
    return ["inspect", name]


def design(folder, text, command="plan"):
    (folder / "design.toml").write_text(text)
    return [command, "--design", "design.toml"]


def judged(folder, text, design_text=DESIGN):
    (folder / "log.csv").write_text(text)
    (folder / "design.toml").write_text(design_text)
    return ["reconcile", "log.csv", "--design", "design.toml", "--out", "out"]


def bomb(folder):
    with gzip.open(folder / "log.csv.gz", "wb") as packed:
        for _ in range(1024):
            packed.write(bytes(1 << 20))
    return ["inspect", "log.csv.gz"]


def bomb_of_rows(folder):
    with gzip.open(folder / "log.csv.gz", "wb") as packed:
        packed.write(HEADER.encode())
        line = b"2026-06-01 00:00:00,13.10,-2.0\n" * 30_000
        for _ in range(600):
            packed.write(line)
    return ["inspect", "log.csv.gz"]


def endless_line(folder):
    with open(folder / "log.csv", "wb") as file:
        for _ in range(500):
            file.write(b"7" * (1 << 20))
    return ["inspect", "log.csv"]


def million_columns(folder):
    text = "time,battery voltage (V)" + ",x" * 1_000_000 + "\n"
    return log(folder, text + "".join(f"2026-06-01 10:0{k}:00,12.{k}\n" for k in range(3)))


def many_files(folder):
    logs = folder / "logs"
    logs.mkdir()
    for k in range(100_000):
        stamp = time.strftime("%Y-%m-%d %H:%M:%S", time.gmtime(1_780_000_000 + 60 * k))
        (logs / f"{k:06}.csv").write_text(f"{HEADER}{stamp},13.1,-2.0\n")
    return ["inspect", "logs"]


def with_script(folder):
    text = DESIGN + f'[[load]]\nname = "{SCRIPT}"\npower = "5 W"\nhours = 24\n'
    text += f'[system]\nname = "={SCRIPT}"\n'
    command = judged(folder, HEADER.replace("\n", f",{SCRIPT}\n") + rows(4).replace("\n", f",{SCRIPT}\n"), text)
    (folder / "log.csv").rename(folder / "a<b>&.csv")
    command[1] = "a<b>&.csv"
    return command


def pipe(folder):
    os.mkfifo(folder / "log.csv")
    text = HEADER + rows(3)
    subprocess.Popen([sys.executable, "-c", f"open({str(folder / 'log.csv')!r}, 'w').write({text!r})"])
    return ["inspect", "log.csv"]


def links(folder):
    logs = folder / "logs"
    logs.mkdir()
    (logs / "again").symlink_to(logs)
    (logs / "log.csv").write_text(HEADER + rows(3))
    return ["inspect", "logs"]


def report(folder, text):
    (folder / "report.json").write_text(text)
    return ["render", "report.json", "--out", "out"]


def nested(depth):
    return '{"a":' * depth + "1" + "}" * depth


INPUTS = {
    "zeros, 1 GB in a gz": bomb,
    "18 million rows of one stamp in a gz": bomb_of_rows,
    "a line of 500 MB": endless_line,
    "a million columns": million_columns,
    "100,000 files": many_files,
    "dates in the year 9999": lambda f: judged(f, HEADER + rows(3, "9999-06-{day:02} {hour:02}:{minute:02}:00")),
    "infinite and huge figures": lambda f: judged(f, HEADER + rows(3).replace("13.19", "1e308").replace("-2.0", "inf")),
    "script in names, notes, headers, file": with_script,
    "a pipe for a file": pipe,
    "a folder that holds itself": links,
    "an endless device": lambda f: ["inspect", "/dev/zero"],
    "a trillion panels": lambda f: design(f, DESIGN + "[array]\npanels_in_series = 1000000000000\n"),
    "latitude NaN": lambda f: design(f, DESIGN.replace("48.1", "nan")),
    "power inf W": lambda f: design(f, DESIGN.replace("200 W", "inf W")),
    "100,000 loads": lambda f: design(f, DESIGN + '[[load]]\nname = "x"\npower = "5 W"\nhours = 1\n' * 100_000),
    "10,000 nested lists": lambda f: design(f, "a = " + "[" * 10_000 + "]" * 10_000),
    "a design of 50 MB": lambda f: design(f, DESIGN + "# " + "x" * 50_000_000 + "\n"),
    "files outside the folder": lambda f: design(f, DESIGN + '[[log]]\nfiles = "../../etc/passwd"\n', "reconcile"),
    "report.json nested 100,000 deep": lambda f: report(f, nested(100_000)),
    "report.json of another program": lambda f: report(f, json.dumps({"schema": "other", "days": []})),
}


def run(name, make, ours):
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        command = [ours, *make(folder)]
        started = time.perf_counter()
        child = subprocess.Popen(command, cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        try:
            out, err = child.communicate(timeout=120)
            said = (err or out).decode(errors="replace").strip().splitlines()
            status = child.returncode
        except subprocess.TimeoutExpired:
            child.kill()
            child.communicate()
            said, status = ["(killed)"], "late"
        took = time.perf_counter() - started
    return status, took, said[0][:100] if said else ""


def main():
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--ours", default="target/release/ampledger")
    ask.add_argument("--only")
    told = ask.parse_args()
    ours = os.path.abspath(told.ours)
    if told.only:
        import resource

        status, took, said = run(told.only, INPUTS[told.only], ours)
        peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
        print(f"{told.only:40} {status!s:>4} {took:6.1f} s {peak:6.0f} MB  {said}")
        return
    for name in INPUTS:
        # Peak memory is that of all children so far: each input has a process of its own.
        subprocess.run([sys.executable, __file__, "--ours", ours, "--only", name], check=True)


if __name__ == "__main__":
    main()
