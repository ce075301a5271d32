# SPDX-License-Identifier: GPL-3.0-or-later
"""A client of the web service for tests: one person with a cookie and a token, over the standard library alone."""
import http.client
import json
import socket
import subprocess

TIMEOUT_S = 30


class Person:
    """Somebody logged in; each call is one request, kept-alive connections are reused."""

    def __init__(self, port, code, secret):
        self.port, self.cookie, self.token, self.connection = port, None, None, None
        status, who = self.post("/api/login", {"code": code, "secret": secret})
        assert status == 200, (status, who)
        self.token = who["token"]

    def ask(self, method, path, body=None):
        headers = {}
        if body is not None:
            headers["Content-Type"] = "application/json"
            body = json.dumps(body)
        if self.cookie:
            headers["Cookie"] = self.cookie
        if self.token and method == "POST":
            headers["X-Benchtally-Token"] = self.token
        if not self.connection:
            self.connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=TIMEOUT_S)
        try:
            self.connection.request(method, path, body, headers)
            answer = self.connection.getresponse()
            data = answer.read()
        except (OSError, http.client.HTTPException):
            self.connection.close()
            self.connection = None
            raise
        cookie = answer.headers.get("Set-Cookie")
        if cookie:
            self.cookie = cookie.split(";")[0]
        is_json = answer.headers.get("Content-Type", "").startswith("application/json")
        return answer.status, json.loads(data) if is_json else data

    def get(self, path):
        return self.ask("GET", path)

    def post(self, path, body):
        return self.ask("POST", path, body)


class Server:
    """`benchtally serve` on a port of its own, until it is ended or killed."""

    def __init__(self, program, port=0):
        self.process = subprocess.Popen([program, "serve", "--port", str(port)], stdout=subprocess.PIPE, text=True)
        line = self.process.stdout.readline()
        assert line.startswith("Open http://127.0.0.1:"), line
        self.port = int(line.split(":")[2].split("/")[0])

    def end(self):
        self.process.terminate()
        return self.process.wait(TIMEOUT_S)

    def kill(self):
        self.process.kill()
        self.process.wait(TIMEOUT_S)


def raw(port, request, quiet_s=0.5, first_s=TIMEOUT_S):
    """What the server says to these bytes, until it is quiet or has hung up."""
    said = b""
    with socket.create_connection(("127.0.0.1", port), timeout=first_s) as connection:
        connection.sendall(request)
        try:
            while part := connection.recv(65536):
                said += part
                connection.settimeout(quiet_s)
        except (socket.timeout, ConnectionError):
            pass
    return said


def status_of(said):
    return int(said.split(b" ")[1]) if said.startswith(b"HTTP/1.1 ") else 0
