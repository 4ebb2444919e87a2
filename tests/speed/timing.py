"""Commands timed on a quiet machine: wall, CPU and memory of the process tree, and what others took meanwhile."""

import os
import resource
import statistics
import subprocess
import sys
import time

TICKS = os.sysconf("SC_CLK_TCK")
QUIET = 0.1  # cores that others may use before a repetition begins
LOOK = 0.4  # s over which that is judged


def busy():
    """CPU time spent on the whole machine, s; what the host took from it included."""
    with open("/proc/stat") as file:
        user, nice, system, _, _, irq, soft, steal = map(int, file.readline().split()[1:9])
    return (user + nice + system + irq + soft + steal) / TICKS


def wait_for_quiet(most):
    """Waits until others leave the machine alone, at most so many seconds."""
    begin = time.monotonic()
    while most > 0:
        before, wall = busy(), time.monotonic()
        time.sleep(LOOK)
        if (busy() - before) / (time.monotonic() - wall) < QUIET or time.monotonic() - begin > most:
            return
        time.sleep(1)


def run(command, env, cwd, most_wait, allowed=(0,)):
    """One repetition. `foreign` is how many cores others used meanwhile."""
    wait_for_quiet(most_wait)
    before, used = busy(), resource.getrusage(resource.RUSAGE_CHILDREN)
    begin = time.perf_counter()
    done = subprocess.run(command, env=env, cwd=cwd, capture_output=True, check=False)
    wall = time.perf_counter() - begin
    now = resource.getrusage(resource.RUSAGE_CHILDREN)
    cpu = now.ru_utime + now.ru_stime - used.ru_utime - used.ru_stime
    if done.returncode not in allowed:
        sys.exit(f"{' '.join(map(str, command))}\nended with {done.returncode}:\n{done.stderr.decode(errors='replace')[-3000:]}")
    foreign = max(0.0, (busy() - before - cpu) / wall) if wall > 0.05 else None
    return {"wall_s": wall, "cpu_s": cpu, "foreign": foreign, "out": done.stdout}


class Figure:
    """Repetitions of one command or reader."""

    def __init__(self, name):
        self.name, self.rows, self.more = name, [], {}

    def add(self, row):
        self.rows.append({key: value for key, value in row.items() if key != "out"})

    def values(self, key):
        return [row[key] for row in self.rows]

    def best(self, key="wall_s"):
        return min(self.values(key))

    def median(self, key="wall_s"):
        return statistics.median(self.values(key))

    def foreign(self):
        """Most cores that others used during a repetition."""
        return max((row["foreign"] for row in self.rows if row.get("foreign") is not None), default=0.0)

    def as_json(self):
        return {"name": self.name, **self.more, "repetitions": self.rows}
