"""Times hooptrace beside what a lab would use instead: python3 tests/speed/run.py [--quick].

It makes what it needs below target/speed (Python packages and 2 GB of recordings the first time), builds hooptrace, and runs every
command in turn with its peers', on the same two cores, waiting for a quiet machine before each repetition. It prints one table and writes
target/speed/result.json. Run by hand on a machine that does nothing else; --quick takes smaller recordings and says less.
"""

import argparse
import json
import os
import platform
import shutil
import subprocess
import sys
import time

sys.dont_write_bytecode = True  # nothing is left among the sources
import prepare
from timing import Figure, run

READERS = ["polars", "pandas_c", "pyarrow_csv", "duckdb"]
# What is held to: ours at most, or at least, so many times theirs; --help in ms.
BARS = {
    "read": 0.6,
    "bare": 1.3,
    "memory": 1.3,
    "whole": 0.5,
    "start": 1 / 40,
    "help_ms": 10.0,
    "batch_b": 2.5,
    "batch_a": 5.0,
    "growth": 1.3,
}


class Session:
    def __init__(self, options):
        self.options = options
        self.large, self.sizes, self.batch = ("L", ["M", "L"], 20) if options.quick else ("XL", ["S", "M", "L", "XL"], 500)
        self.python = prepare.peers_python(options.venv)
        self.data = prepare.recordings(self.python, sorted({"S", *self.sizes}), self.batch)
        runs = sorted((self.data / "batch").glob("run_*"))[: self.batch]
        self.studies = {size: prepare.study(size, [self.data / size / "run_0000"]) for size in self.sizes}
        self.studies["batch"] = prepare.study(f"batch-{self.batch}", runs)
        self.hooptrace, self.speed = prepare.programs()
        self.env = prepare.environment()
        self.figures, self.rows = [], []

    def take(self, allowed, *command):
        return run([str(word) for word in command], self.env, prepare.WORK, self.options.wait, allowed)

    def figure(self, name):
        self.figures.append(Figure(name))
        return self.figures[-1]

    def trace(self, size):
        return self.data / size / "run_0000/trace.csv"

    def ours(self, study, *options):
        """An analysis by hooptrace; 1 says that some run carries an error finding."""
        out = prepare.WORK / "out/hooptrace"
        shutil.rmtree(out, ignore_errors=True)
        row = self.take((0, 1), self.hooptrace, "analyse", self.studies[study], "--out", out, "--quiet", *options)
        found = json.loads((out / "results.json").read_text())
        broken = [item["run_id"] for item in found["runs"] if item["outcome"] == "invalid"]
        if broken:
            sys.exit(f"hooptrace could not use {broken[:5]} of {study}")
        return row

    def peer(self, which, *words):
        out = prepare.WORK / f"out/{which}"
        shutil.rmtree(out, ignore_errors=True)
        script = prepare.PEERS / f"peer_{which}.py"
        options = [word for word in words if str(word).startswith("--") and word != "--batch"]
        places = [word for word in words if not str(word).startswith("--")]
        batch = ["--batch", "--limit", self.batch] if "--batch" in words else []
        return self.take((0,), self.python, script, *batch, *places, out, *options)

    def row(self, figure, ours, theirs, unit, bar=None, at_least=False, ratio=None):
        """A line of the table: ours, theirs, their ratio, and whether it keeps to the bar."""
        ratio = ours / theirs if ratio is None and theirs else ratio
        held = None if bar is None else (ratio >= bar if at_least else ratio <= bar)
        self.rows.append({"figure": figure, "ours": ours, "theirs": theirs, "unit": unit, "ratio": ratio, "bar": bar, "at_least": at_least, "pass": held})

    def reading(self):
        """From file to calibrated channels, in warm processes taking turns."""
        size, count = self.large, 3
        ours, bare = self.figure(f"read {size}: hooptrace"), self.figure(f"read {size}: bare parse")
        peers = {reader: self.figure(f"read {size}: {reader}") for reader in READERS}
        for _ in range(2 if self.options.quick else 3):
            self.inside(ours, self.speed, "read", self.studies[size], count)
            self.inside(bare, self.speed, "bare", self.trace(size), count)
            for reader, figure in peers.items():
                self.inside(figure, self.python, prepare.PEERS / "bench_read.py", reader, self.trace(size), count)
        fastest = min(peers.values(), key=Figure.median)
        for figure in sorted(peers.values(), key=Figure.median):
            bar = BARS["read"] if figure is fastest else None
            name = figure.name.split(": ")[1]
            self.row(f"{size} read, median, against {name}", ours.median(), figure.median(), "s", bar)
        self.row(f"{size} read, best, against {fastest.name.split(': ')[1]}", ours.best(), min(peer.best() for peer in peers.values()), "s")
        self.row(f"{size} read, median, against a bare parse", ours.median(), bare.median(), "s", BARS["bare"])
        self.row(f"{size} read, best, against a bare parse", ours.best(), bare.best(), "s")
        peak = ours.median("peak_bytes") / 1e6
        self.row(f"{size} read, peak memory against its columns", peak, ours.more["table_bytes"] / 1e6, "MB", BARS["memory"])

    def inside(self, figure, *command):
        """Repetitions that a process times inside itself."""
        row = self.take((0,), *command)
        told = json.loads(row["out"])
        if "table_rows" in told:
            figure.more["table_bytes"] = told["table_bytes"]
        for inner in told["rows"]:
            figure.add(inner | {"foreign": row["foreign"]})

    def whole(self):
        """A whole analysis without plots, each in a new process, and CPU time against size."""
        ours = {size: self.figure(f"whole {size}: hooptrace") for size in self.sizes}
        theirs = {(which, size): self.figure(f"whole {size}: peer {which}") for which in "ba" for size in {"M", self.large}}
        rounds = {"S": 15, "M": 15, "L": 5, "XL": 3}
        for size in self.sizes:
            for _ in range(rounds[size]):
                ours[size].add(self.ours(size, "--no-plots"))
                if size in {"M", self.large}:
                    theirs["b", size].add(self.peer("b", self.data / size / "run_0000", "--no-plot"))
            for _ in range(2 if size in {"M", self.large} else 0):
                theirs["a", size].add(self.peer("a", self.data / size / "run_0000", "--no-plot"))
        large = self.large
        self.row(f"{large} whole, no plots, against B", ours[large].median(), theirs["b", large].median(), "s", BARS["whole"])
        self.row(f"{large} whole, no plots, against A", ours[large].median(), theirs["a", large].median(), "s")
        self.row("M start to results against B", ours["M"].median(), theirs["b", "M"].median(), "s", BARS["start"])
        self.row("M start to results against A", ours["M"].median(), theirs["a", "M"].median(), "s")
        cost = {size: ours[size].median("cpu_s") / (self.trace(size).stat().st_size / 1e6) for size in self.sizes}
        for size, each in cost.items():
            self.row(f"{size} CPU for each MB", 1e3 * each, None, "ms")
        smaller = min(each for size, each in cost.items() if size != large)
        self.row(f"CPU for each MB, {large} against the least of the smaller", 1e3 * cost[large], 1e3 * smaller, "ms", BARS["growth"])

    def help(self):
        figure = self.figure("--help")
        for _ in range(30):
            figure.add(self.take((0,), self.hooptrace, "--help"))
        took = 1e3 * figure.median()
        self.row("--help", took, None, "ms", BARS["help_ms"], ratio=took)

    def many(self):
        """Many runs of size M, with and without plots; peers on two worker processes."""
        for plots in [False, True]:
            ours = self.figure(f"batch, plots {plots}: hooptrace")
            theirs = {which: self.figure(f"batch, plots {plots}: peer {which}") for which in "ba"}
            for _ in range(1 if plots and not self.options.quick else 3):
                ours.add(self.ours("batch", *([] if plots else ["--no-plots"])))
                for which, figure in theirs.items():
                    figure.add(self.peer(which, "--batch", self.data / "batch", *([] if plots else ["--no-plot"])))
            for which, figure in theirs.items():
                bar = None if plots else BARS[f"batch_{which}"]
                name = f"{self.batch} runs {'with' if plots else 'without'} plots against {which.upper()}"
                self.row(name, self.batch / ours.median(), self.batch / figure.median(), "runs/s", bar, at_least=True)


def table(rows):
    def number(value):
        return "-" if value is None else f"{value:.3g}" if value < 1000 else f"{value:.0f}"

    lines = [["figure", "ours", "theirs", "unit", "ratio", "bar", ""]]
    for row in rows:
        bar = "-" if row["bar"] is None else f"{'>=' if row['at_least'] else '<='} {number(row['bar'])}"
        held = {None: "", True: "pass", False: "FAIL"}[row["pass"]]
        lines.append([row["figure"], number(row["ours"]), number(row["theirs"]), row["unit"], number(row["ratio"]), bar, held])
    widths = [max(len(line[at]) for line in lines) for at in range(len(lines[0]))]
    return "\n".join("  ".join(cell.ljust(width) for cell, width in zip(line, widths)).rstrip() for line in lines)


def machine():
    model = [line.split(":")[1].strip() for line in open("/proc/cpuinfo") if line.startswith("model name")]
    memory = open("/proc/meminfo").readline().split()[1]
    return {"cpu": model[0] if model else "", "cores": os.cpu_count(), "memory_kib": int(memory), "system": platform.platform()}


def versions(session):
    def told(*command):
        return subprocess.run([str(word) for word in command], capture_output=True, text=True, check=True, cwd=prepare.ROOT).stdout.strip()

    packages = told(session.python, "-m", "pip", "list", "--format=freeze", "--disable-pip-version-check").splitlines()
    commit = subprocess.run(["git", "rev-parse", "HEAD"], capture_output=True, text=True, check=False, cwd=prepare.ROOT).stdout.strip()
    return {"hooptrace": told(session.hooptrace, "--version"), "commit": commit, "rustc": told("rustc", "--version"), "python": told(session.python, "--version"), "packages": packages}


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--quick", action="store_true", help="recordings M and L and 20 runs")
    parser.add_argument("--wait", type=float, default=60, help="longest wait for a quiet machine before a repetition, s")
    parser.add_argument("--venv", help="a Python environment that has the packages already")
    options = parser.parse_args()
    # The same two cores for everything.
    os.sched_setaffinity(0, sorted(os.sched_getaffinity(0))[:2])
    session = Session(options)
    # numba compiles once; neither side's first look at the disk counts.
    for which in "ba":
        session.peer(which, session.data / "S/run_0000", "--no-plot")
        session.peer(which, session.data / "M/run_0000")
    load = os.getloadavg()
    begun = time.strftime("%Y-%m-%dT%H:%M:%S%z")
    for part in [session.reading, session.whole, session.help, session.many]:
        part()
    foreign = max(figure.foreign() for figure in session.figures)
    print(table(session.rows))
    print(f"\nmost cores used by others during a repetition: {foreign:.2f}; load average before {load[0]:.2f}, after {os.getloadavg()[0]:.2f}")
    result = {
        "begun": begun,
        "quick": options.quick,
        "machine": machine(),
        "versions": versions(session),
        "load_average": [load, os.getloadavg()],
        "foreign_cores": foreign,
        "rows": session.rows,
        "figures": [figure.as_json() for figure in session.figures],
    }
    (prepare.WORK / "result.json").write_text(json.dumps(result, indent=1) + "\n")
    failed = [row["figure"] for row in session.rows if row["pass"] is False]
    sys.exit(1 if failed else 0)


if __name__ == "__main__":
    main()
