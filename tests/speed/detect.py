"""What the scripts of a lab find in the simulated runs that `hooptrace prove` is proven on: python3 tests/speed/detect.py --venv VENV [--studies 8].

The same studies go to hooptrace as files and to both peers as columns. The peers are told more than a lab would know: units, the end of
the fill and the beginning of the deflation, from the truth. Their answer is one break a run at most, hooptrace may name several. Prints one
table; run by hand.
"""

import argparse
import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

sys.dont_write_bytecode = True  # nothing is left among the sources
HERE = Path(__file__).resolve().parent
SCENARIOS = ["everyday", "noisy", "slow-clock", "pressure-only", "faulty-logger", "nothing-breaks"]
ATM_KPA = 101.325
# As in src/prove/compare.rs: a found break belongs to a true one within so many seconds or steps, or where its interval holds it.
NEAR_S, NEAR_STEPS = 0.3, 2.5


def columns(path):
    """Times (s), pressures (atm) and rate (Hz) of a simulated recording, rows without pressure left out."""
    import numpy as np

    lines = path.read_text(encoding="latin-1").splitlines()
    mark = ";" if any(line.count(";") > 1 for line in lines[:60]) else ","
    rows, bar, stamps = [], False, False
    for line in lines:
        cells = [cell.strip().strip('"') for cell in line.split(mark)]
        if len(cells) < 2:
            continue
        number = [cell.replace(",", ".") if mark == ";" else cell for cell in cells]
        try:
            pressure = float(number[1]) if number[1] not in ("", "NaN") else float("nan")
            if any(letter.isalpha() for letter in number[1]) and number[1] != "NaN":
                raise ValueError
            stamps = stamps or ":" in cells[0]
            if stamps:
                clock = cells[0].split()[-1].replace(",", ".").split(":")
                time = 3600 * float(clock[0]) + 60 * float(clock[1]) + float(clock[2])
            else:
                time = float(number[0])
        except ValueError:
            words = [cell.lower() for cell in cells]
            bar = bar or any("bar" in word for word in words)
            continue
        rows.append((time, pressure))
    data = np.array(sorted(set(rows)))
    data[:, 0] -= data[0, 0]
    data = data[np.isfinite(data[:, 1])]
    factor = 100.0 if bar else 1.0
    return data[:, 0], data[:, 1] * factor / ATM_KPA, 1.0 / float(np.median(np.diff(data[:, 0])))


def peer(module, times, pressures, rate_hz):
    """Onset that a peer finds, s, or nothing: its own filter and its own detector."""
    import numpy as np

    try:
        if hasattr(module, "lowpass"):
            smooth = module.lowpass(pressures, rate_hz, "butter")
        else:
            smooth = module.filtfilt4(pressures, 1.0, 0.0, *module.butter4(min(200.0, rate_hz / 5), rate_hz))
        event = module.detect_derivative(times, np.ascontiguousarray(smooth), rate_hz)
    except Exception:  # a peer that fails on a recording finds nothing in it
        return []
    return [] if event is None else [(event["t_onset_s"], event["t_onset_s"], event["t_onset_s"])]


class Count:
    def __init__(self):
        self.true = self.found = self.said = self.false = self.empty = self.false_runs = 0
        self.errors = []

    def add(self, truths, said, rate_hz):
        said, near = list(said), max(NEAR_S, NEAR_STEPS / rate_hz)
        had = bool(said)
        self.true += len(truths)
        self.said += len(said)
        for truth in truths:
            hits = [s for s in said if abs(s[0] - truth) <= near or s[1] <= truth <= s[2]]
            if hits:
                best = min(hits, key=lambda s: abs(s[0] - truth))
                said.remove(best)
                self.found += 1
                self.errors.append(abs(best[0] - truth) * rate_hz)
        self.false += len(said)
        if not truths:
            self.empty += 1
            self.false_runs += had

    def row(self, name):
        errors = sorted(self.errors) or [float("nan")]
        at = lambda share: errors[min(len(errors) - 1, int(share * len(errors)))]
        part = lambda some, of: f"{100.0 * some / of:6.1f} %" if of else "     - "
        precision = part(self.said - self.false, self.said)
        return (f"{name:<28} recall {part(self.found, self.true)} of {self.true:<5} precision {precision}  "
                f"false runs {part(self.false_runs, self.empty)} of {self.empty:<4} onset off by {at(0.5):6.2f} samples (95 %: {at(0.95):.1f})")


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--venv", help="environment with the packages of peers/README.md")
    parser.add_argument("--studies", type=int, default=8, help="studies of each scenario")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--hooptrace", default=str(HERE.parents[1] / "target/release/hooptrace"))
    options = parser.parse_args()
    if options.venv and not sys.prefix.startswith(str(Path(options.venv).resolve())):
        python = str(Path(options.venv) / "bin/python3")
        rest = [arg for arg in sys.argv[1:] if arg not in ("--venv", options.venv)]
        sys.exit(subprocess.run([python, __file__, *rest]).returncode)
    sys.path.insert(0, str(HERE / "peers"))
    os.environ.setdefault("NUMBA_CACHE_DIR", tempfile.mkdtemp())
    import peer_a
    import peer_b

    names = ["hooptrace", "straightforward script (A)", "optimised script (B)"]
    counts = {(name, scenario): Count() for name in names for scenario in [*SCENARIOS, "all"]}
    with tempfile.TemporaryDirectory() as folder:
        for scenario in SCENARIOS:
            subprocess.run([options.hooptrace, "simulate", scenario, "--seed", str(options.seed), "--studies", str(options.studies),
                            "--out", folder], check=True, stdout=subprocess.DEVNULL)
        for truth_file in sorted(Path(folder).glob("*.truth.json")):
            study = truth_file.name.removesuffix(".truth.json")
            scenario = study.rsplit("-", 1)[0]
            out = Path(folder) / "out" / study
            subprocess.run([options.hooptrace, "analyse", str(Path(folder) / study), "--out", str(out), "--no-plots"],
                           stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
            said = {run["run_id"]: run for run in json.loads((out / "results.json").read_text())["runs"]}
            for run in json.loads(truth_file.read_text())["runs"]:
                if run["kind"] != "frame":
                    continue
                result = said[run["run_id"]]
                path = next((Path(folder) / study / "traces").glob(run["run_id"] + ".*"))
                times, pressures, rate_hz = columns(path)
                phase = lambda kind, end: [p[end] for p in run["phases"] if p["kind"] == kind]
                start = max(phase("switch", "t_end_s") or phase("fill", "t_end_s") or [0.0])
                end = min([t for t in phase("deflate", "t_start_s") if t > start] or [times[-1]])
                # What happens while the stopcock is shut, or after the recording ended, is in no recording.
                truths = [e["t_s"] for e in run["events"]
                          if e["kind"] == "fracture" and e["phase"] != "refill" and e["t_s"] < times[-1]]
                # Breaks that follow each other at once are one fall.
                truths = [t for at, t in enumerate(truths) if at == 0 or t - truths[at - 1] > max(0.2, 4.0 / rate_hz)]
                inside = (times >= start) & (times <= end)
                ours = [(e["t_s"], e["t_lo_s"], e["t_hi_s"]) for e in result["events"]
                        if e["kind"] == "fracture" and e["t_s"] is not None]
                cut = (times[inside], pressures[inside], rate_hz)
                answers = [ours, peer(peer_a, *cut), peer(peer_b, *cut)]
                for name, answer in zip(names, answers):
                    for key in (scenario, "all"):
                        counts[name, key].add(truths, answer, rate_hz)
    for scenario in [*SCENARIOS, "all"]:
        print(scenario)
        for name in names:
            print("  " + counts[name, scenario].row(name))


if __name__ == "__main__":
    main()
