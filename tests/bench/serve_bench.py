# SPDX-License-Identifier: GPL-3.0-or-later
"""serve_bench.py BUILD SOURCE WORK: how many events a second the web service puts on the disk for 16 tablets, and how long
each waits, against the least that there can be: libmicrohttpd with one writer that groups its commits. In turn, in one run."""

import os
import statistics
import subprocess
import sys
import time

BUILD, SOURCE, WORK = sys.argv[1:4]
sys.path.insert(0, os.path.join(SOURCE, "tests", "web"))
from lab_client import Person, Server  # noqa: E402

CLIENTS, SECONDS, TURNS = 16, 3, 3
BENCHTALLY = os.path.join(BUILD, "benchtally")
os.environ["BENCHTALLY_BOOK"] = os.path.join(WORK, "serve.db")
over = False


def cli(*arguments, given=None):
    subprocess.run([BENCHTALLY, *arguments], input=given, text=True, check=True, stdout=subprocess.DEVNULL)


def load(port, cookie, token, paths):
    tool = os.path.join(BUILD, "tests", "serve_load_tool")
    said = subprocess.run([tool, str(port), str(SECONDS), cookie, token, *paths], check=True, capture_output=True, text=True)
    return [int(word) for word in said.stdout.split()]


def begin_all(person):
    """An observation for each client, of a session of its own. New ones each turn, so that ids are new."""
    now_ms, paths = int(time.time() * 1000), []
    for number in range(CLIENTS):
        status, begun = person.post("/api/observations", {
            "session": None, "trainee": "T-1", "rubric": "arch-bars", "edition": 1, "mode": "live",
            "started_ms": now_ms + number, "cautions_read": True})
        assert status == 201, begun
        paths.append(f"/api/observations/{begun['id']}/entries")
    return paths


def ours():
    path = os.environ["BENCHTALLY_BOOK"]
    for name in (path, path + "-wal", path + "-shm"):
        if os.path.exists(name):
            os.remove(name)
    cli("rubric", "add", os.path.join(SOURCE, "rubrics", "arch-bars.yaml"))
    for code, role in (("T-1", "trainee"), ("D-1", "director")):
        cli("person", "add", code, "--role", role)
    cli("person", "account", "D-1", given="a quiet corner\n")
    server = Server(BENCHTALLY)
    person = Person(server.port, "D-1", "a quiet corner")
    result = load(server.port, person.cookie, person.token, begin_all(person))
    server.end()
    return result


def bare():
    path = os.path.join(WORK, f"bare-{time.monotonic_ns()}.db")
    process = subprocess.Popen([os.path.join(BUILD, "tests", "bare_serve_tool"), path], stdout=subprocess.PIPE, text=True)
    result = load(int(process.stdout.readline()), "none", "none", ["/"] * CLIENTS)
    process.kill()
    process.wait()
    return result


def report(what, value, limit, fits):
    global over
    over |= not fits
    print(f"{what}: {value} ({limit}){'' if fits else '   OVER'}", flush=True)


results = [(ours(), bare()) for _ in range(TURNS)]
mine, least = ([statistics.median(turn[side][i] for turn in results) for i in range(3)] for side in (0, 1))
share, slower = mine[0] / least[0], mine[2] / least[2]
report(f"{CLIENTS} tablets, durable: {mine[0]:,.0f} events/s; bare server {least[0]:,.0f}", f"{share:.2f} of it",
       "at least 0.70", share >= 0.7)
report(f"{CLIENTS} tablets, the slowest of 100 waits {mine[2] / 1000:.1f} ms; bare server {least[2] / 1000:.1f} ms",
       f"{slower:.2f} x", "at most 2.00 x", slower <= 2)
sys.exit(over)
