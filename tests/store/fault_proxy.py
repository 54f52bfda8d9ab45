#!/usr/bin/env python3
"""A bad line to an object store, and its bad moods: an HTTP proxy that fails on purpose and keeps a log.

It listens on a port of 127.0.0.1 and hands every request on with the Host it came with, so that its signature stays
good. For each request a plan, a callable that gets a `Request`, returns a `Fault` or None: `Rules` for what a test
means to happen, `Chance` for anything at any time from a seed. `log` holds what was asked and how much went through.

    with FaultProxy(endpoint, Rules(Rule(Fault("cut answer", at=0.5), method="GET", times=1))) as proxy: …
    fault_proxy.py ENDPOINT [--seed N --share 0.1] [--rate BYTES]    the same by hand: its address, then its log
"""
import argparse
import dataclasses
import http.client
import json
import random
import socket
import struct
import sys
import threading
import time
import urllib.parse
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

# Answers the proxy gives by itself (Amazon S3 API Reference, "Error responses"; 507 is RFC 4918 §11.5).
ANSWERS = {"SlowDown": 503, "TooManyRequests": 429, "InternalError": 500, "QuotaExceeded": 507, "AccessDenied": 403,
           "RequestTimeTooSkewed": 403, "ServiceUnavailable": 503, "RequestTimeout": 400}
PIECE = 64 << 10


@dataclasses.dataclass
class Request:
    method: str
    path: str  # as it was sent, percent-encoded, without the query
    query: dict  # name -> value
    range: str  # the Range header, or ""
    length: int  # bytes of the body
    bucket: str = ""
    key: str = ""  # decoded

    def of_object(self):
        """Whether the bodies are an object's bytes, rather than XML about something."""
        return bool(self.key) and not {"uploads", "acl", "tagging", "retention"} & set(self.query) and (
            self.method in ("GET", "PUT")) and (self.method == "PUT" or "uploadId" not in self.query)


@dataclasses.dataclass
class Fault:
    """kind: `cut request` and `cut answer` break the connection at a share `at` of the body; `lose answer` after the
    store has done what was asked; `shorten answer` ends the body there and says so in its length; `flip request` and
    `flip answer` turn one bit of an object's bytes; `delay` waits `seconds`; `answer` says `code` by itself."""
    kind: str
    at: float = 0.5  # 0 to 1
    seconds: float = 0.0
    code: str = ""


@dataclasses.dataclass
class Rule:
    """A fault for the requests that fit: all of what is given. `times` of them, after the first `skip`."""
    fault: Fault
    method: str = ""
    key: str = ""  # is in the key
    query: str = ""  # a name that is in the query
    body: bool = False  # only requests with one
    times: int = 1 << 62
    skip: int = 0

    def fits(self, request):
        return ((not self.method or request.method == self.method) and self.key in request.key and
                (not self.query or self.query in request.query) and (not self.body or request.length > 0))


class Rules:
    def __init__(self, *rules):
        self.rules = [dataclasses.replace(rule) for rule in rules]

    def __call__(self, request):
        for rule in self.rules:
            if rule.fits(request):
                if rule.skip > 0:
                    rule.skip -= 1
                elif rule.times > 0:
                    rule.times -= 1
                    return rule.fault
        return None


class Chance:
    """Any fault that a client has to live with, for a share of all requests."""
    KINDS = ["cut request", "cut answer", "lose answer", "shorten answer", "flip request", "flip answer", "delay",
             "answer"]
    PASSING = ["SlowDown", "TooManyRequests", "InternalError", "ServiceUnavailable"]

    def __init__(self, seed, share=0.1, kinds=None):
        self.random = random.Random(seed)
        self.share = share
        self.kinds = kinds or self.KINDS

    def __call__(self, request):
        hit, kind, at = self.random.random() < self.share, self.random.choice(self.kinds), self.random.random()
        code = self.random.choice(self.PASSING)
        if not hit or (kind in ("flip request", "flip answer", "shorten answer") and not request.of_object()):
            return None
        return Fault(kind, at, seconds=at * 0.2, code=code)


class Rate:
    """Holds up whoever moves bytes so that all of them together keep to a rate."""

    def __init__(self, bytes_a_second):
        self.rate = bytes_a_second
        self.lock = threading.Lock()
        self.free = time.monotonic()

    def wait(self, count):
        if self.rate:
            with self.lock:
                self.free = max(self.free, time.monotonic() - 0.05) + count / self.rate
                until = self.free
            time.sleep(max(0.0, until - time.monotonic()))


class Cut(Exception):
    """The connection to the client ends here."""


def flipped(piece, at):
    changed = bytearray(piece)
    changed[at] ^= 0x10
    return bytes(changed)


class Handler(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"
    disable_nagle_algorithm = True
    timeout = 120

    def log_message(self, *_):
        pass

    def handle(self):
        try:
            super().handle()
        except (Cut, OSError):
            self.close_connection = True
            if random.random() < 0.5:  # half of them as a reset instead of an orderly end
                self.connection.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))

    def described(self):
        path, _, query = self.path.partition("?")
        bucket, _, key = urllib.parse.unquote(path).lstrip("/").partition("/")
        return Request(self.command, path, dict(urllib.parse.parse_qsl(query, keep_blank_values=True)),
                       self.headers.get("Range", ""), int(self.headers.get("Content-Length", 0)), bucket, key)

    def serve(self):
        request = self.described()
        proxy = self.server.proxy
        fault = proxy.decide(request)
        self.entry = dataclasses.asdict(request) | {"fault": fault and fault.kind, "sent": 0, "received": 0,
                                                    "status": 0, "at": time.monotonic()}
        proxy.log.append(self.entry)
        if fault and fault.kind == "delay":
            time.sleep(fault.seconds)
        if fault and fault.kind == "answer":
            self.answer_alone(request, fault)
            return
        upstream = http.client.HTTPConnection(proxy.host, proxy.upstream_port, timeout=120)
        try:
            self.send_on(upstream, request, fault)
            answer = upstream.getresponse()
            self.entry["status"] = answer.status
            if fault and fault.kind == "lose answer":
                answer.read()
                raise Cut
            self.give_back(answer, request, fault)
        finally:
            upstream.close()

    do_GET = do_HEAD = do_PUT = do_POST = do_DELETE = serve

    def pieces_of_body(self, length):
        while length > 0:
            piece = self.rfile.read1(min(PIECE, length))
            if not piece:
                raise Cut
            length -= len(piece)
            self.server.proxy.rate.wait(len(piece))
            yield piece

    def send_on(self, upstream, request, fault):
        kind = fault.kind if fault else ""
        mark = min(int(fault.at * request.length), request.length - 1) if fault else 0
        if kind == "cut request" and request.length == 0:
            raise Cut
        upstream.putrequest(self.command, self.path, skip_host=True, skip_accept_encoding=True)
        for name, value in self.headers.items():
            if name.lower() not in ("connection", "expect", "keep-alive"):
                upstream.putheader(name, value)
        upstream.endheaders()
        for piece in self.pieces_of_body(request.length):
            done = self.entry["sent"]
            if kind == "cut request" and done + len(piece) > mark:
                upstream.send(piece[:mark - done])
                raise Cut
            if kind == "flip request" and done <= mark < done + len(piece):
                piece = flipped(piece, mark - done)
            self.entry["sent"] += len(piece)
            try:
                upstream.send(piece)
            except OSError:
                pass  # the store has answered already; what it said is read next

    def give_back(self, answer, request, fault):
        kind = fault.kind if fault else ""
        length = int(answer.getheader("Content-Length", 0))
        bare = self.command == "HEAD" or answer.status in (204, 304)
        whole = answer.status in (200, 206) and request.of_object()
        mark = min(int(fault.at * length), length - 1) if fault and length else 0
        shortened = kind == "shorten answer" and whole and not bare
        chunked = answer.getheader("Transfer-Encoding", "").lower() == "chunked"
        self.send_response_only(answer.status, answer.reason)
        for name, value in answer.getheaders():
            if name.lower() == "content-length" and shortened:
                value = str(mark)
            if name.lower() not in ("connection", "keep-alive"):
                self.send_header(name, value)
        self.end_headers()
        if bare:
            return
        while piece := answer.read1(PIECE):
            done = self.entry["received"]
            if kind in ("cut answer", "shorten answer") and (shortened or kind == "cut answer") and (
                    done + len(piece) > mark):
                piece = piece[:mark - done]
                self.to_client(piece, chunked)
                if kind == "cut answer":
                    raise Cut
                answer.read()
                return
            if kind == "flip answer" and whole and done <= mark < done + len(piece):
                piece = flipped(piece, mark - done)
            self.server.proxy.rate.wait(len(piece))
            self.to_client(piece, chunked)
        if chunked:
            self.wfile.write(b"0\r\n\r\n")

    def to_client(self, piece, chunked):
        if piece:
            self.wfile.write(b"%x\r\n%b\r\n" % (len(piece), piece) if chunked else piece)
            self.entry["received"] += len(piece)

    def answer_alone(self, request, fault):
        for piece in self.pieces_of_body(request.length):
            self.entry["sent"] += len(piece)
        self.entry["status"] = ANSWERS[fault.code]
        body = (f'<?xml version="1.0" encoding="UTF-8"?><Error><Code>{fault.code}</Code>'
                f"<Message>{fault.code}, says the test</Message><RequestId>test</RequestId></Error>").encode()
        self.send_response_only(ANSWERS[fault.code])
        self.send_header("Content-Type", "application/xml")
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        if self.command != "HEAD":
            self.wfile.write(body)


class Server(ThreadingHTTPServer):
    daemon_threads = True
    request_queue_size = 128

    def handle_error(self, *_):
        pass  # a client that was killed in mid-request is no news


class FaultProxy:
    def __init__(self, endpoint, plan=None, rate=0):
        parts = urllib.parse.urlsplit(endpoint)
        self.host, self.upstream_port = parts.hostname, parts.port
        self.plan = plan  # may be replaced at any time
        self.rate = Rate(rate)
        self.log = []
        self._lock = threading.Lock()
        self._server = Server(("127.0.0.1", 0), Handler)
        self._server.proxy = self
        self.endpoint = f"http://127.0.0.1:{self._server.server_port}"
        self._thread = threading.Thread(target=self._server.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True)

    def __enter__(self):
        self._thread.start()
        return self

    def __exit__(self, *_):
        self._server.shutdown()
        self._server.server_close()

    def decide(self, request):
        plan = self.plan
        if plan is None:
            return None
        with self._lock:
            return plan(request)

    def asked(self, method, key="", query=""):
        """The entries of the log that fit."""
        return [entry for entry in self.log if entry["method"] == method and key in entry["key"] and
                (not query or query in entry["query"])]


def main():
    parser = argparse.ArgumentParser(description="A bad line to an object store.")
    parser.add_argument("endpoint")
    parser.add_argument("--seed", type=int, default=None)
    parser.add_argument("--share", type=float, default=0.1, help="of the requests that go wrong, with --seed")
    parser.add_argument("--rate", type=int, default=0, help="bytes a second")
    asked = parser.parse_args()
    plan = None if asked.seed is None else Chance(asked.seed, asked.share)
    with FaultProxy(asked.endpoint, plan, asked.rate) as proxy:
        print(proxy.endpoint, flush=True)
        told = 0
        try:
            while True:
                time.sleep(0.2)
                for entry in proxy.log[told:]:
                    told += 1
                    print(json.dumps(entry), flush=True)
        except KeyboardInterrupt:
            pass


if __name__ == "__main__":
    sys.exit(main())
