"""What is measured with: environment of the peers, recordings, studies around them, and the two programs."""

import csv
import json
import os
import pathlib
import subprocess
import sys

HERE = pathlib.Path(__file__).resolve().parent
ROOT = HERE.parents[1]
WORK = ROOT / "target/speed"
PEERS = HERE / "peers"
PACKAGES = [
    "numpy==2.4.6",
    "pandas==3.1.1",
    "polars==2.1.0",
    "scipy==1.17.1",
    "pyarrow==26.0.1",
    "duckdb==2.0.1",
    "numba==0.68.1",
    "matplotlib==3.11.2",
]
CHANNELS = [  # quantity, column, unit, and what the channel is worth
    ("pressure", "pressure_atm", "atm", 'reference = "gauge"\nrange_atm = [-5, 40]\nu_atm = 0.02\n'),
    ("volume", "volume_mL", "mL", "u_ml = 0.005\n"),
    ("temperature", "temp_C", "degC", ""),
    ("force", "force_N", "N", ""),
]


def environment():
    """Environment variables of every command: no thread counts or caches of the caller's."""
    env = {key: value for key, value in os.environ.items() if not key.startswith(("OPENBLAS", "OMP_", "POLARS", "NUMBA", "RAYON"))}
    for key in ["PYTHONDONTWRITEBYTECODE", "PYTHONPATH", "CARGO_TARGET_DIR"]:
        env.pop(key, None)
    # Compiled code of the peers is kept, but not among the sources.
    return env | {"NUMBA_CACHE_DIR": str(WORK / "numba"), "PYTHONPYCACHEPREFIX": str(WORK / "bytecode"), "MPLCONFIGDIR": str(WORK / "matplotlib")}


def run(*command):
    subprocess.run([str(word) for word in command], cwd=ROOT, env=environment(), check=True)


def peers_python(ready=None):
    """The Python of the peers; made anew where the packages changed."""
    if ready:
        return pathlib.Path(ready) / "bin/python"
    folder = WORK / "venv"
    made_for = folder / "made-for.txt"
    if not made_for.exists() or made_for.read_text().split() != PACKAGES:
        run(sys.executable, "-m", "venv", "--clear", folder)
        run(folder / "bin/python", "-m", "pip", "install", "--quiet", "--disable-pip-version-check", *PACKAGES)
        made_for.write_text("\n".join(PACKAGES) + "\n")
    return folder / "bin/python"


def recordings(python, sizes, batch):
    """Recordings of the sizes, and so many of size M; what is there is kept. Recordings of the larger batch serve the smaller one."""
    data = WORK / "data"
    missing = [size for size in sizes if not (data / size / "run_0000/truth.json").exists()]
    if missing:
        run(python, PEERS / "generate.py", "--out", data, "--sizes", *missing)
    if not (data / f"batch/run_{batch - 1:04d}/truth.json").exists():
        run(python, PEERS / "generate.py", "--out", data, "--batch", batch)
    return data


def study(name, runs):
    """A study folder around recordings: one rig with their calibration, a run a recording, their outline after the run."""
    folder = WORK / "studies" / name
    for inside in ["traces", "rigs"]:
        (folder / inside).mkdir(parents=True, exist_ok=True)
    calibration = json.loads((runs[0] / "calibration.json").read_text())
    (folder / "study.toml").write_text(f'title = "Speed: {name}"\nrig = "rigs/speed.toml"\n')
    (folder / "rigs/speed.toml").write_text(rig(calibration))
    with open(folder / "runs.csv", "w", newline="") as sheet, open(folder / "contours.csv", "w", newline="") as outlines:
        table, points = csv.writer(sheet, lineterminator="\n"), csv.writer(outlines, lineterminator="\n")
        table.writerow(["run_id", "kind", "frame_id", "trace", "inspection"])
        points.writerow(["run_id", "stage", "x", "y", "unit"])
        for source in runs:
            if json.loads((source / "calibration.json").read_text()) != calibration:
                sys.exit(f"{source} has a calibration of its own")
            trace = f"traces/{source.name}.csv"
            # A link within the file system: the study holds the file itself, and nothing is copied.
            (folder / trace).unlink(missing_ok=True)
            os.link(source / "trace.csv", folder / trace)
            table.writerow([source.name, "frame", source.name, trace, ""])
            with open(source / "contour.csv", newline="") as contour:
                points.writerows([source.name, "after", x, y, "mm"] for x, y in list(csv.reader(contour))[1:])
    return folder


def rig(calibration):
    text = (
        'name = "speed"\n[ambient]\npressure_kpa = 101.3\n[transducer]\nside = "balloon"\n'
        '[dialect]\nmode = "given"\ndelimiter = ","\ndecimal = "."\nthousands = ""\nencoding = "utf-8"\nskip_lines = 0\nheader_rows = 1\n'
        'comment = ""\n[clock]\nkind = "relative"\ncolumn = "time_s"\nunit = "s"\n'
    )
    for quantity, column, unit, worth in CHANNELS:
        factors = calibration[column]
        text += f'[[channel]]\nquantity = "{quantity}"\ncolumn = "{column}"\nunit = "{unit}"\n{worth}[channel.calibration]\n'
        text += f'kind = "gain_offset"\ngain = {factors["gain"]}\noffset = {factors["offset"]}\n'
    return text


def programs():
    """hooptrace as it is shipped, and the test program that times its reading from inside."""
    run("cargo", "build", "--release", "--locked", "--quiet")
    told = subprocess.run(
        ["cargo", "bench", "--locked", "--quiet", "--no-run", "--bench", "speed", "--message-format=json"],
        cwd=ROOT,
        env=environment(),
        check=True,
        capture_output=True,
        text=True,
    ).stdout
    built = [json.loads(line) for line in told.splitlines() if line.startswith("{")]
    speed = [item["executable"] for item in built if item.get("target", {}).get("name") == "speed" and item.get("executable")]
    return ROOT / "target/release/hooptrace", pathlib.Path(speed[-1])
