# SPDX-License-Identifier: GPL-3.0-or-later
"""Speed and memory against stated floors, in one run.

bench.py BUILD SOURCE WORK EVENTS. Each pair of commands runs in turn, A B A B ..., and the medians are compared, so a busy
machine slows both. Exit status 1 when a limit is exceeded.
"""

import glob
import json
import os
import re
import statistics
import subprocess
import sys
import time
import zipfile

build, source, work, events_wanted = sys.argv[1], sys.argv[2], sys.argv[3], int(sys.argv[4])
benchtally = os.path.join(build, "benchtally")
rubrics = sorted(glob.glob(os.path.join(source, "rubrics", "*.yaml")))
rows = []


def tool(name):
    return os.path.join(build, "tests", name)


def run(*command, stdin=None):
    """Seconds of wall time and peak memory in MB of one command."""
    begin = time.perf_counter()
    process = subprocess.Popen(command, stdin=stdin, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    output, trouble = process.communicate()
    seconds = time.perf_counter() - begin
    if process.returncode != 0:
        sys.exit(f"{' '.join(command)}: {trouble.decode(errors='replace')}")
    return seconds, output.decode()


def peak_mb(*command):
    """Peak resident memory of one command, measured in a child of its own."""
    script = ("import resource, subprocess, sys; subprocess.run(sys.argv[1:], check=True, stdout=subprocess.DEVNULL);"
              "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024)")
    return float(subprocess.run([sys.executable, "-c", script, *command], check=True, capture_output=True).stdout)


def pair(a, b, times=5):
    """Medians of two things done in turn."""
    results = [(a(), b()) for _ in range(times)]
    return statistics.median(r[0] for r in results), statistics.median(r[1] for r in results)


def report(what, ours, floor, limit, unit="x", shown=None):
    value = ours / floor if floor else ours
    rows.append((what, shown or f"{value:.2f} {unit}", f"{limit} {unit}", value <= limit))
    print(f"{what}: {rows[-1][1]} (at most {rows[-1][2]}){'' if value <= limit else '   OVER'}", flush=True)


def simulate(folder, trainees):
    os.makedirs(folder)
    run(tool("simulate_tool"), folder, "--trainees", str(trainees), "--attempts-most", "8", *rubrics)
    return [os.path.join(folder, os.path.basename(r)[:-5] + ".csv") for r in rubrics]


def new_book(path, folder):
    for name in (path, path + "-wal", path + "-shm"):
        if os.path.exists(name):
            os.remove(name)
    run(benchtally, "--book", path, "rubric", "add", *rubrics)
    run(benchtally, "--book", path, "person", "add", "--from", os.path.join(folder, "people.csv"))


def count_rows(files):
    return sum(sum(1 for _ in open(f, encoding="utf-8")) - 1 for f in files)


def import_ours(path, folder, files):
    new_book(path, folder)
    return run(benchtally, "--book", path, "import", *files)[0]


def import_bare(path, files):
    """The same rows into an indexed table by the sqlite3 shell, in one transaction, with the book's durability."""
    if os.path.exists(path):
        os.remove(path)
    script = ["PRAGMA journal_mode=WAL;", "PRAGMA synchronous=FULL;"]
    for number, file in enumerate(files):
        columns = open(file, encoding="utf-8").readline().strip().split(",")
        script.append(f"CREATE TABLE t{number}({','.join(chr(34) + c + chr(34) for c in columns)});")
        script.append(f"CREATE INDEX i{number} ON t{number}(session, assessor, time);")
    script.append("BEGIN;")
    script += [f".import --csv --skip 1 {file} t{number}" for number, file in enumerate(files)]
    script.append("COMMIT;")
    begin = time.perf_counter()
    subprocess.run(["sqlite3", path], input="\n".join(script), text=True, check=True, stdout=subprocess.DEVNULL)
    return time.perf_counter() - begin


def start(path, *arguments):
    """Milliseconds from asking for a process to its end."""
    begin = time.perf_counter()
    quiet = [(os.POSIX_SPAWN_OPEN, 1, os.devnull, os.O_WRONLY, 0)]
    os.waitpid(os.posix_spawn(path, [path, *arguments], os.environ, file_actions=quiet), 0)
    return (time.perf_counter() - begin) * 1000


def bench_start():
    ours, bare = pair(lambda: start(benchtally, "--version"), lambda: start("/bin/true"), 41)
    report("start-up of benchtally --version", ours, 0, 10, "ms", f"{ours:.1f} ms (/bin/true: {bare:.1f} ms)")


def bench_import(book, folder, files, n):
    ours, bare = pair(lambda: import_ours(book, folder, files),
                      lambda: import_bare(os.path.join(work, "bare.db"), files), 3)
    report(f"import of {n:,} events / sqlite3 .import of the same rows", ours, bare, 2.0)
    return ours


def bench_score(book, n):
    ours, bare = pair(lambda: run(benchtally, "--book", book, "score")[0],
                      lambda: run(tool("bare_select_tool"), book)[0])
    report(f"score of a book of {n:,} events / bare SELECT of its rows", ours, bare, 3.0)
    report("peak memory of that score", peak_mb(benchtally, "--book", book, "score"), 0, 64, "MB")
    return ours


def workbook_size(path):
    """Sheets, number cells, text cells, different texts, their mean length, charts and series of a workbook."""
    with zipfile.ZipFile(path) as package:
        names = package.namelist()
        sheets = [package.read(n) for n in names if n.startswith("xl/worksheets/sheet")]
        texts = sum(sheet.count(b't="s"') for sheet in sheets)
        numbers = sum(sheet.count(b"<v>") for sheet in sheets) - texts
        kinds = re.findall(rb"<t[^>]*>([^<]*)</t>", package.read("xl/sharedStrings.xml"))
        charts = [n for n in names if n.startswith("xl/charts/chart")]
        series = sum(package.read(n).count(b"<c:ser>") for n in charts)
    return len(sheets), numbers, texts, len(kinds), sum(map(len, kinds)) // len(kinds), len(charts), series


def bench_workbook(book):
    """One workbook of a small residency, as in the demo."""
    out = os.path.join(work, "workbooks")
    os.makedirs(out, exist_ok=True)
    run(benchtally, "--book", book, "workbook", "R-001", "--out", out)
    size = [str(x) for x in workbook_size(os.path.join(out, "R-001.xlsx"))]
    floor = os.path.join(work, "floor.xlsx")
    ours, bare = pair(lambda: run(benchtally, "--book", book, "workbook", "R-001", "--out", out)[0],
                      lambda: run(tool("bare_workbook_tool"), floor, *size)[0], 15)
    report(f"one workbook ({int(size[1]) + int(size[2])} cells, {size[5]} charts) / bare libxlsxwriter", ours, bare, 2.0)


def bench_commit():
    folder = os.path.join(work, "commit")
    os.makedirs(folder)
    figures = json.loads(run(tool("commit_tool"), folder, rubrics[0], "4000")[1])
    report("a logged event durable, p99 / bare WAL commit, p99", figures["logged"]["p99_us"], figures["bare"]["p99_us"],
           1.5)


def bench_growth(small_folder, small_files, small_n, big):
    """A tenth of the sessions: how much longer ten times as many take."""
    book = os.path.join(work, "tenth.db")
    small_import = statistics.median(import_ours(book, small_folder, small_files) for _ in range(3))
    small_score = statistics.median(run(benchtally, "--book", book, "score")[0] for _ in range(5))
    report(f"import: ten times the events ({small_n:,} to {big['n']:,})", big["import"] / small_import,
           big["n"] / small_n / 10, 11)
    report("score: ten times the events", big["score"] / small_score, big["n"] / small_n / 10, 11)
    small_verify = statistics.median(run(benchtally, "--book", book, "verify")[0] for _ in range(3))
    big_verify = run(benchtally, "--book", big["book"], "verify")[0]
    report("verify: ten times the events", big_verify / small_verify, big["n"] / small_n / 10, 11)


def sessions_of(book):
    return len(json.loads(run(benchtally, "--book", book, "sessions", "--of-record", "--json")[1]))


def bench_cohort(small_book, big_book):
    """The director's workbook of a small residency and of a large one."""
    out = os.path.join(work, "cohort.xlsx")

    def write(book, times):
        return statistics.median(run(benchtally, "--book", book, "cohort", "--out", out)[0] for _ in range(times))
    small_n, n = sessions_of(small_book), sessions_of(big_book)
    small, big = write(small_book, 5), write(big_book, 1)
    report(f"cohort of {small_n:,} sessions, for 500", small / small_n * 500, 0, 1, "s")
    report(f"cohort of {n:,} sessions, for 20,000", big / n * 20000, 0, 20, "s")
    report(f"cohort: time a session, {n:,} / {small_n:,} sessions", big / n, small / small_n, 1.2)
    report("peak memory of that cohort", peak_mb(benchtally, "--book", big_book, "cohort", "--out", out), 0, 256, "MB")


def main():
    per_trainee = 1230  # events, about, with up to eight attempts at each exercise
    demo = os.path.join(work, "demo")
    demo_files = simulate(demo, 24)
    bench_start()
    bench_commit()
    demo_book = os.path.join(work, "demo.db")
    import_ours(demo_book, demo, demo_files)
    bench_workbook(demo_book)
    folder, tenth = os.path.join(work, "big"), os.path.join(work, "tenth")
    trainees = max(events_wanted // per_trainee, 20)
    files, tenth_files = simulate(folder, trainees), simulate(tenth, trainees // 10)
    n = count_rows(files)
    book = os.path.join(work, "big.db")
    big = {"n": n, "book": book, "import": bench_import(book, folder, files, n)}
    big["score"] = bench_score(book, n)
    bench_cohort(demo_book, book)
    bench_growth(tenth, tenth_files, count_rows(tenth_files), big)
    print("\n| what | measured | at most |\n|---|---|---|")
    for what, measured, limit, _ in rows:
        print(f"| {what} | {measured} | {limit} |")
    return 0 if all(row[3] for row in rows) else 1


sys.exit(main())
