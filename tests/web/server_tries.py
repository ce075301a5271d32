# SPDX-License-Identifier: GPL-3.0-or-later
"""server_tries.py PROGRAM SOURCE: what the web service must hold. The book is $BENCHTALLY_BOOK."""
import csv
import http.client
import json
import os
import random
import socket
import subprocess
import sys
import threading
import time
import uuid

from lab_client import Person, Server, raw, status_of

PROGRAM, SOURCE = sys.argv[1:3]
COLUMNS = ["time", "action", "site", "item", "value", "redo", "note"]
HEADER = ["session", "trainee", "assessor", "rubric", "edition", "started", "mode"]
STARTED_MS = 1770195900000  # 2026-02-04T09:05:00Z


def at_ms(text):
    ms = 0
    for part in text.split(":"):
        ms = ms * 60 + round(float(part) * 1000)
    return ms


def rows_of(name):
    with open(f"{SOURCE}/sample_sessions/{name}", newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def entry_of(row):
    entry = {"id": str(uuid.uuid4()), "at_ms": at_ms(row["time"])}
    entry |= {name: row[name] or None for name in COLUMNS[1:]}
    entry["details"] = {name: text for name, text in row.items() if text and name not in COLUMNS + HEADER}
    return entry


def begin(person, trainee="T-1", rubric="forearm-two-bones", mode="live", session=None, started_ms=STARTED_MS):
    return person.post("/api/observations", {
        "session": session, "trainee": trainee, "rubric": rubric, "edition": 1, "mode": mode,
        "started_ms": started_ms, "station": "4", "cautions_read": True})


def cli(*arguments):
    return subprocess.run([PROGRAM, *arguments], capture_output=True, text=True, check=True).stdout


def score_of(session):
    """The result as the command shows it, without what names the observation."""
    result = json.loads(cli("score", session, "--json"))
    result = result[0] if isinstance(result, list) else result
    for name in ("session", "trainee", "assessor", "started", "mode", "observation"):
        result.pop(name, None)
    return result


# A session --------------------------------------------------------------------

def a_session_through_the_service_scores_as_it_does_imported(server):
    rows = rows_of("first-forearm.csv")
    session = rows[0]["session"]
    rows = [row for row in rows if (row["session"], row["assessor"]) == (session, rows[0]["assessor"])]
    assessor = Person(server.port, "A-1", "123456")
    status, begun = begin(assessor)
    assert status == 201, begun
    assert begin(assessor) == (200, begun)
    path = f"/api/observations/{begun['id']}"
    entries = [entry_of(row) for row in rows]
    for first in range(0, len(entries), 7):
        part = entries[first:first + 7]
        status, answer = assessor.post(path + "/entries", {"entries": part})
        assert status == 200 and all("seq" in ack for ack in answer["acks"]), answer
        again = assessor.post(path + "/entries", {"entries": part})
        assert again == (200, answer), again
    status, whole = assessor.get(path)
    assert [entry["id"] for entry in whole["entries"]] == [entry["id"] for entry in entries]
    assert [entry["details"] for entry in whole["entries"]] == [entry["details"] for entry in entries]
    assert whole["station"] == "4"
    assert assessor.post(path + "/close", {"entries": len(entries) - 1})[0] == 409
    status, closed = assessor.post(path + "/close", {"entries": len(entries)})
    assert status == 200 and len(closed["receipt"]) == 23, closed
    assert assessor.post(path + "/close", {"entries": len(entries)}) == (200, closed)
    late = dict(entries[0], id=str(uuid.uuid4()))
    assert "refused" in assessor.post(path + "/entries", {"entries": [late]})[1]["acks"][0]
    with open("events.csv", "w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, rows[0].keys())
        writer.writeheader()
        writer.writerows(dict(row, session="imported", trainee="T-2", assessor="A-2") for row in rows)
    cli("import", "events.csv")
    here, there = score_of(begun["session"]), score_of("imported")
    assert here == there, "scored another way than imported"
    status, result = assessor.get(path + "/result")
    assert status == 200 and result["outcome"] == here["outcome"], result["outcome"]


def entries_contradict_in_words(server):
    assessor = Person(server.port, "A-1", "123456")
    _, begun = begin(assessor, started_ms=STARTED_MS + 1)
    path = f"/api/observations/{begun['id']}/entries"
    start = {"id": str(uuid.uuid4()), "at_ms": 0, "action": "start"}
    wrong = [dict(start, id=str(uuid.uuid4()), action="polish"), dict(start, at_ms=5), dict(start, id="1"),
             dict(start, id=str(uuid.uuid4()), colour="red"), dict(start, id=str(uuid.uuid4()), at_ms=-1),
             dict(start, id=str(uuid.uuid4()), at_ms=10**12), {"id": str(uuid.uuid4()), "strike": 9, "reason": "slip"},
             {"id": str(uuid.uuid4()), "strike": start["id"]}, 7]
    status, answer = assessor.post(path, {"entries": [start] + wrong})
    assert status == 200 and answer["acks"][0]["seq"] == 1, answer
    assert all(ack["refused"] for ack in answer["acks"][1:]), answer
    assert assessor.post(path, {"entries": "all"})[0] == 422
    assert assessor.post(path, {"entries": [start] * 201})[0] == 422
    assert assessor.post("/api/observations", {"session": None})[0] == 422


def documents_are_made_and_noted(server):
    director = Person(server.port, "D-1", "a quiet corner")
    status, workbook = director.get("/exports/workbook/T-1.xlsx")
    assert status == 200 and workbook.startswith(b"PK"), status
    status, cohort = director.get("/exports/cohort.xlsx")
    assert status == 200 and cohort.startswith(b"PK"), status
    assert director.get("/exports/workbook/T-9.xlsx")[0] == 404


# Nothing lost -----------------------------------------------------------------

def what_was_acknowledged_outlives_a_kill(server, rounds=6):
    """Sends entries until the server is killed at a random moment, starts it again, sends the rest again."""
    assessor = Person(server.port, "A-1", "123456")
    _, begun = begin(assessor, started_ms=STARTED_MS + 2)
    path = f"/api/observations/{begun['id']}"
    entries, acked = [], {}
    for _ in range(rounds):
        killer = threading.Timer(random.uniform(0.02, 0.5), server.kill)
        killer.start()
        try:
            while len(entries) < 20000:
                if len(acked) == len(entries):
                    entries += [{"id": str(uuid.uuid4()), "at_ms": len(entries) + n, "action": "note",
                                 "note": f"n {len(entries) + n}"} for n in range(random.randint(1, 4))]
                missing = [entry for entry in entries if entry["id"] not in acked]
                for ack in assessor.post(path + "/entries", {"entries": missing})[1]["acks"]:
                    acked[ack["id"]] = ack["seq"]
        except (OSError, http.client.HTTPException):
            pass
        killer.join()
        server = Server(PROGRAM)
        assessor.port = server.port
        assessor.connection = None
        status, whole = assessor.get(path)
        assert status == 200, whole
        kept = {entry["id"]: entry["seq"] for entry in whole["entries"]}
        lost = [one for one in acked if kept.get(one) != acked[one]]
        assert not lost, f"{len(lost)} acknowledged entries are lost or another"
        assert len(kept) == len(whole["entries"]), "an entry is there twice"
    missing = [entry for entry in entries if entry["id"] not in acked]
    assessor.post(path + "/entries", {"entries": missing})
    order = [entry["id"] for entry in assessor.get(path)[1]["entries"]]
    assert order == [entry["id"] for entry in entries], "the order was not kept"
    assert assessor.post(path + "/close", {"entries": len(entries)})[0] == 200
    assert len(entries) >= 2 * rounds, len(entries)
    return server


# Hostile ----------------------------------------------------------------------

HOST = b"Host: localhost\r\n"
POST = b"POST /api/login HTTP/1.1\r\n" + HOST + b"Content-Type: application/json\r\n"
HOSTILE = [
    (400, POST + b"Content-Length: 2\r\nContent-Length: 2\r\n\r\n{}"),
    (400, POST + b"Content-Length: 2\r\nContent-Length: 20\r\n\r\n{}"),
    (400, POST + b"Content-Length: 2\r\nTransfer-Encoding: chunked\r\n\r\n2\r\n{}\r\n0\r\n\r\n"),
    (400, POST + b"Transfer-Encoding: gzip\r\n\r\n"),
    (400, POST + b"Transfer-Encoding: chunked\r\n\r\nzz\r\n{}\r\n"),
    (400, POST + b"Content-Length: -1\r\n\r\n"),
    (413, POST + b"Content-Length: 99999999999999999999\r\n\r\n"),
    (413, POST + b"Content-Length: 65537\r\n\r\n"),
    (413, POST + b"Transfer-Encoding: chunked\r\n\r\n" + (b"ffff\r\n" + b" " * 65535 + b"\r\n") * 3 + b"0\r\n\r\n"),
    (400, POST + b"Content-Length: 12\r\n\r\n{\"code\":\"\xff\"}"),
    (400, POST + b"Content-Length: 19\r\n\r\n{\"code\":\"a\\u0000b\"}"),
    (400, POST + b"Content-Length: 19\r\n\r\n{\"code\":1,\"code\":2}"),
    (400, POST + b"Content-Length: 2\r\n\r\n[]"),
    (415, b"POST /api/login HTTP/1.1\r\n" + HOST + b"Content-Type: text/plain\r\nContent-Length: 2\r\n\r\n{}"),
    (403, POST + b"Origin: http://rebound.example\r\nContent-Length: 2\r\n\r\n{}"),
    (400, b"GET / HTTP/1.1\r\n\r\n"),
    (400, b"GET / HTTP/1.0\r\n\r\n"),
    (400, b"GET / HTTP/1.1\r\n" + HOST + HOST + b"\r\n"),
    (400, b"GET / HTTP/1.1\r\nHost: rebound.example\r\n\r\n"),
    (400, b"GET /pages/../login.js HTTP/1.1\r\n" + HOST + b"\r\n"),
    (400, b"GET /pages/%2e%2e/login.js HTTP/1.1\r\n" + HOST + b"\r\n"),
    (400, b"GET //pages/login.js HTTP/1.1\r\n" + HOST + b"\r\n"),
    (400, b"GET /pages%2flogin.js HTTP/1.1\r\n" + HOST + b"\r\n"),
    (400, b"GET /pages\\login.js HTTP/1.1\r\n" + HOST + b"\r\n"),
    (400, b"GET /pages/login.js%00 HTTP/1.1\r\n" + HOST + b"\r\n"),
    (400, b"GET /pages/\xff HTTP/1.1\r\n" + HOST + b"\r\n"),
    (400, b"GET http://localhost/ HTTP/1.1\r\n" + HOST + b"\r\n"),
    (400, b"GET / HTTP/1.1\r\n" + HOST + b"Content-Length : 0\r\n\r\n"),
    (400, b"GET / HTTP/1.1\r\n" + HOST + b"Content-Length: 2\r\n\r\nab"),
    (431, b"GET / HTTP/1.1\r\n" + HOST + b"X: " + b"a" * 65536 + b"\r\n\r\n"),
    (431, b"GET / HTTP/1.1\r\n" + HOST + b"X: " + b"a" * 17000 + b"\r\n\r\n"),
    (431, b"GET / HTTP/1.1\r\n" + HOST + b"".join(b"X%d: a\r\n" % n for n in range(1000)) + b"\r\n"),
    (405, b"BREW / HTTP/1.1\r\n" + HOST + b"\r\n"),
    (405, b"DELETE /api/me HTTP/1.1\r\n" + HOST + b"\r\n"),
    (404, b"GET /etc/passwd HTTP/1.1\r\n" + HOST + b"\r\n"),
    (0, b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03"),
]


def hostile_requests_are_refused(server):
    for status, request in HOSTILE:
        said = raw(server.port, request, quiet_s=0.2, first_s=5 if status else 1)
        assert status_of(said) == status, (request[:120], status, said[:160])
    said = raw(server.port, (b"GET /pages/login.js HTTP/1.1\r\n" + HOST + b"\r\n") * 3)
    assert said.count(b"HTTP/1.1 200 OK") == 3, "pipelined requests"


def stalled_connections_hold_nobody_up(server):
    stalled = []
    for _ in range(200):
        one = socket.create_connection(("127.0.0.1", server.port))
        one.sendall(b"POST /api/login HTTP/1.1\r\nHost: loc")
        stalled.append(one)
    waits_ms = []
    for _ in range(5):
        begun = time.monotonic()
        said = raw(server.port, b"GET /pages/login.js HTTP/1.1\r\n" + HOST + b"Connection: close\r\n\r\n")
        waits_ms.append((time.monotonic() - begun) * 1000)
        assert status_of(said) == 200, said[:80]
    for one in stalled:
        one.close()
    assert sorted(waits_ms)[2] < 50, waits_ms


def headers_of_safety_stand_on_every_answer(server):
    wanted = [b"Content-Security-Policy: default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
              b"media-src blob:; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
              b"X-Content-Type-Options: nosniff", b"Referrer-Policy: no-referrer",
              b"Cross-Origin-Opener-Policy: same-origin"]
    for path in (b"/", b"/pages/login.js", b"/api/me", b"/nowhere"):
        said = raw(server.port, b"GET " + path + b" HTTP/1.1\r\n" + HOST + b"Connection: close\r\n\r\n")
        for line in wanted + [b"no-cache" if path.startswith(b"/pages") else b"Cache-Control: no-store"]:
            assert line in said, (path, line)
    said = raw(server.port, b"GET /pages/login.js HTTP/1.1\r\n" + HOST + b"Connection: close\r\n\r\n")
    etag = [line for line in said.split(b"\r\n") if line.startswith(b"ETag: ")][0][6:]
    said = raw(server.port, b"GET /pages/login.js HTTP/1.1\r\n" + HOST + b"If-None-Match: " + etag +
               b"\r\nConnection: close\r\n\r\n")
    assert status_of(said) == 304, said[:60]


# Who --------------------------------------------------------------------------

def wrong_tries_wait_and_lock_nobody_else_out(server):
    def log_in(code, secret):
        body = json.dumps({"code": code, "secret": secret}).encode()
        return raw(server.port, POST + b"Content-Length: %d\r\nConnection: close\r\n\r\n" % len(body) + body, quiet_s=2)
    unknown, wrong = log_in("T-77", "654321"), log_in("T-1", "111111")
    assert status_of(unknown) == status_of(wrong) == 401
    assert unknown.split(b"\r\n\r\n")[1] == wrong.split(b"\r\n\r\n")[1], "an unknown code is told apart"
    for _ in range(4):
        log_in("T-1", "111111")
    blocked = log_in("T-1", "654321")
    assert status_of(blocked) == 429 and b"Retry-After: " in blocked, blocked[:200]
    Person(server.port, "A-1", "123456")


def a_login_outlives_the_server_and_ends_when_it_is_ended(server):
    person = Person(server.port, "A-1", "123456")
    server.end()
    server = Server(PROGRAM)
    person.port, person.connection = server.port, None
    assert person.get("/api/me")[0] == 200
    key = person.cookie
    assert person.post("/api/logout", {})[0] == 200
    person.cookie = key
    assert person.get("/api/me")[0] == 401
    with open(os.environ["BENCHTALLY_BOOK"], "rb") as book:
        assert key.split("=")[1].encode() not in book.read(), "the book holds the key of a login"
    return server


def the_board_tells_what_changes(server):
    assessor, director = Person(server.port, "A-1", "123456"), Person(server.port, "D-1", "a quiet corner")
    _, begun = begin(assessor, started_ms=STARTED_MS + 3)
    said = []
    with socket.create_connection(("127.0.0.1", server.port), timeout=10) as stream:
        stream.sendall(b"GET /api/live HTTP/1.1\r\n" + HOST + b"Cookie: " + director.cookie.encode() + b"\r\n\r\n")
        while b"retry:" not in b"".join(said):
            said.append(stream.recv(65536))
        path = f"/api/observations/{begun['id']}"
        assessor.post(path + "/entries", {"entries": [{"id": str(uuid.uuid4()), "at_ms": 0, "action": "start"}]})
        while b"event: bench" not in b"".join(said):
            said.append(stream.recv(65536))
        assessor.post(path + "/close", {"entries": 1})
        while b"event: closed" not in b"".join(said):
            said.append(stream.recv(65536))
    bench = json.loads(b"".join(said).split(b"event: bench")[1].split(b"data: ")[1].split(b"\n")[0])
    assert bench["id"] == begun["id"] and bench["entries"] == 1 and bench["station"] == "4", bench


def main():
    server = Server(PROGRAM)
    for a_try in (a_session_through_the_service_scores_as_it_does_imported, entries_contradict_in_words,
                  documents_are_made_and_noted, what_was_acknowledged_outlives_a_kill, hostile_requests_are_refused,
                  stalled_connections_hold_nobody_up, headers_of_safety_stand_on_every_answer,
                  the_board_tells_what_changes, wrong_tries_wait_and_lock_nobody_else_out,
                  a_login_outlives_the_server_and_ends_when_it_is_ended):
        begun = time.monotonic()
        server = a_try(server) or server
        print(f"{a_try.__name__}: {time.monotonic() - begun:.1f} s", flush=True)
    assert server.end() == 0


main()
