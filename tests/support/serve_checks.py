# SPDX-License-Identifier: GPL-3.0-or-later
"""serve_checks.py BRANCHKEEP WORK PHANTOM   What a browser, a foreign page and a bad client may and may not do.
Requests are written by hand on sockets where a library would put them right. Expected codes: RFC 9110, section 15."""
import json
import os
import pathlib
import re
import signal
import socket
import subprocess
import sys
import threading
import time

program, work, phantom = sys.argv[1], pathlib.Path(sys.argv[2]), pathlib.Path(sys.argv[3])
failures = []


def check(what, good, found=""):
    if not good:
        failures.append(what)
        print(f"FAIL: {what}: {found!r}"[:600])


class Server:
    def __init__(self, data, port=0):
        self.uploads = work / "uploads"
        self.uploads.mkdir(exist_ok=True)
        self.process = subprocess.Popen([program, "serve", "--port", str(port), "--data", str(data)], stdout=subprocess.PIPE,
                                        stderr=subprocess.PIPE, env={**os.environ, "TMPDIR": str(self.uploads)})
        line = self.process.stdout.readline().decode()
        match = re.fullmatch(r"http://127\.0\.0\.1:(\d+)/#token=([0-9a-f]{32})\n", line)
        assert match, (line, self.process.stderr.read())
        self.port, self.token = int(match[1]), match[2]
        self.host, self.cookie = f"127.0.0.1:{self.port}", ""

    def connect(self):
        s = socket.create_connection(("127.0.0.1", self.port), timeout=40)
        s.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        return s

    def head(self, method, path, headers, length=None):
        own = {"Host": self.host, "Connection": "close", "Cookie": self.cookie}
        if method != "GET":
            own["Origin"] = "http://" + self.host
            own["Content-Type"] = "application/json"
        if length is not None:
            own["Content-Length"] = str(length)
        own.update(headers)
        lines = [f"{k}: {v}" for k, v in own.items() if v is not None]
        return "\r\n".join([f"{method} {path} HTTP/1.1", *lines, "", ""]).encode()

    def ask(self, method, path, body=None, **headers):
        """(code, headers as text, body); code 0: closed without an answer"""
        headers = {k.replace("_", "-"): v for k, v in headers.items()}
        with self.connect() as s:
            try:
                s.sendall(self.head(method, path, headers, None if body is None else len(body)) + (body or b""))
            except OSError:
                pass  # refused while it was still being sent; the answer may be there
            return read(s)

    def json(self, method, path, value=None, **headers):
        code, _, body = self.ask(method, path, None if value is None else json.dumps(value).encode(), **headers)
        return code, json.loads(body)


def read(s):
    data = b""
    try:
        while piece := s.recv(65536):
            data += piece
    except OSError:
        pass
    head, _, body = data.partition(b"\r\n\r\n")
    match = re.match(rb"HTTP/1\.1 (\d+)", head)
    return (int(match[1]) if match else 0), head.decode("latin-1"), body


def who_is_let_in(server):
    code, head, body = server.ask("GET", "/")
    check("the page is given without a session", code == 200 and b"<html" in body, code)
    policy = re.search(r"Content-Security-Policy: (.*)", head)
    check("content policy without inline", policy and "unsafe" not in policy[1] and "default-src 'none'" in policy[1], head)
    for line in ["X-Content-Type-Options: nosniff", "Referrer-Policy: no-referrer", "Cache-Control: no-cache"]:
        check(line, line in head, head)
    check("no inline script or style in the page", not re.search(rb"<script(?![^>]*src=)|<style| style=| on[a-z]+=", body))
    code, head, _ = server.ask("GET", "/api/about")
    check("without a cookie", code == 401, code)
    check("patients' data are not kept", "Cache-Control: no-store" in head and "Access-Control" not in head, head)
    name = f"branchkeep_{server.port}"
    for cookie in [f"{name}=", f"{name}={'0' * 32}", f"x{name}={'0' * 32}", f"{name}={server.token}"]:
        check("cookie " + cookie, server.ask("GET", "/api/about", Cookie=cookie)[0] == 401)
    token = json.dumps({"token": server.token}).encode()
    for origin in [None, "null", "http://evil.example", f"http://127.0.0.1:{server.port}.evil.example", f"https://{server.host}",
                   "http://127.0.0.1:1", f"http://{server.host}/"]:
        check(f"write with Origin {origin}", server.ask("POST", "/session", token, Origin=origin)[0] == 403, origin)
    for host in ["evil.example", f"evil.example:{server.port}", f"127.0.0.1.evil.example:{server.port}", "127.0.0.1", "127.0.0.1:1",
                 f"127.0.0.1:{server.port}0", f"127.0.0.1:{server.port}.evil.example", f"0.0.0.0:{server.port}", ""]:
        check(f"Host {host}", server.ask("GET", "/", Host=host)[0] in (400, 403), host)
    check("no Host", server.ask("GET", "/", Host=None)[0] in (400, 403))
    for host in [f"localhost:{server.port}", f"[::1]:{server.port}"]:
        check(f"Host {host}", server.ask("GET", "/", Host=host)[0] == 200, host)
    check("another site's request", server.ask("POST", "/session", token, Sec_Fetch_Site="cross-site")[0] == 403)
    for wrong in ["0" * 32, server.token[:-1], server.token + "0", "", None, 7]:
        check(f"token {wrong}", server.json("POST", "/session", {"token": wrong})[0] == 401, wrong)
    code, head, _ = server.ask("POST", "/session", token)
    cookie = re.search(r"Set-Cookie: (\S+); Path=/; HttpOnly; SameSite=Strict", head)
    check("the token becomes a cookie", code == 200 and cookie, head)
    server.cookie = cookie[1]
    check("with the cookie", server.json("GET", "/api/about")[0] == 200)
    check("with the cookie among others", server.ask("GET", "/api/about", Cookie=f"a=b; {server.cookie}; c=d")[0] == 200)
    check("with the cookie, from a foreign page", server.ask("POST", "/api/measure", b"{}", Origin="http://evil.example")[0] == 403)
    check("read with a foreign Origin", server.ask("GET", "/api/about", Origin="http://evil.example")[0] == 403)
    etag = re.search(r'ETag: ("\S+")', server.ask("GET", "/app.css")[1])
    check("unchanged files are not sent again", server.ask("GET", "/app.css", If_None_Match=etag[1])[0] == 304)


def too_much(server):
    big = {"Content-Type": "application/json"}
    for what, headers, wanted in [
            ("JSON over the limit", {"Content-Length": str(4 * 1024 * 1024 + 1)}, {413}),
            ("upload over the limit", {"Content-Length": str(700 * 1024 * 1024), "Content-Type": "application/dicom"}, {413}),
            ("length that is no number", {"Content-Length": "12x"}, {400}),
            ("negative length", {"Content-Length": "-1"}, {400}),
            ("no length", {"Transfer-Encoding": "chunked"}, {411}),
            ("form instead of JSON", {"Content-Length": "2", "Content-Type": "text/plain"}, {415}),
            ("JSON type with a tail", {"Content-Length": "2", "Content-Type": "application/jsonx"}, {415}),
            ("headers over the limit", {"X-Long": "a" * 100000, "Content-Length": "2"}, {0, 413, 431})]:
        path = "/api/cines" if "dicom" in headers.get("Content-Type", "") else "/api/measure"
        with server.connect() as s:
            try:
                s.sendall(server.head("POST", path, {**big, **headers}))
            except OSError:
                pass
            check(what, read(s)[0] in wanted, what)
    code, _, body = server.ask("POST", "/api/measure", b"[" * 100000)
    check("deep JSON", code == 400 and b"error" in body, body)
    check("body that is no JSON", server.ask("POST", "/api/measure", b"{")[0] == 400)
    check("method", server.ask("DELETE", "/api/cases")[0] == 405)
    check("body on a read", server.ask("GET", "/api/about", b"x" * 10)[0] == 413)
    for path in ["/../../../../etc/passwd", "/js/../../../etc/passwd", "/%2e%2e/%2e%2e/etc/passwd", "/js/%2e%2e%2f%2e%2e%2fetc%2fpasswd",
                 "//etc/passwd", "/js/", "/js/main.js%00", "/index.html/..", "/api/cines/..%2f..%2fetc%2fpasswd",
                 "/api/cines/%2e%2e/frames/1", "/api/cases/..%2f..%2fetc%2fpasswd"]:
        code, _, body = server.ask("GET", path)
        check(f"path {path}", code in (400, 404, 422) and b"root:" not in body, (code, body))


def kept(server):
    """Uploads, frames, measuring: the same as on the command line."""
    code, answer = server.json("GET", "/api/cines/" + "0" * 64)
    check("unknown cine", code == 404 and "error" in answer, answer)
    code, _, body = server.ask("POST", "/api/cines", b"no film" * 1000, Content_Type="application/dicom")
    check("upload that is no DICOM", code == 422 and body.count(b"\n") == 3, body)
    check("empty upload", server.ask("POST", "/api/cines", b"", Content_Type="application/dicom")[0] == 422)
    film = (phantom / "view1.dcm").read_bytes()
    code, _, body = server.ask("POST", "/api/cines", film, Content_Type="application/dicom")
    check("upload", code == 200, body)
    check("no upload is left lying about", not list(server.uploads.iterdir()), list(server.uploads.iterdir()))
    cine = json.loads(body)["sha256"]
    info = server.json("GET", f"/api/cines/{cine}")[1]
    code, _, px = server.ask("GET", f"/api/cines/{cine}/frames/1")
    check("frame", code == 200 and len(px) == info["rows"] * info["columns"] * info["bytes_per_px"], len(px))
    for frame in ["0", "-1", "x", "1.5", "99999", "99999999999999999999"]:
        check(f"frame {frame}", server.ask("GET", f"/api/cines/{cine}/frames/{frame}")[0] in (400, 422), frame)
    truth = json.loads((phantom / "truth.json").read_text())["views"][0]
    clicks = {k: truth["clicks"][k] for k in ("proximal", "distal", "side")}
    request = {"cine": cine, "frame": truth["frame"], **clicks}
    code, measured = server.json("POST", "/api/measure", request)
    words = [f"--{k}={x},{y}" for k, (x, y) in clicks.items()]
    told = json.loads(subprocess.run([program, "measure", phantom / "view1.dcm", f"--frame={truth['frame']}", *words],
                                     check=True, capture_output=True).stdout)
    check("measured as on the command line", code == 200 and measured == told, (code, measured))
    for wrong, text in [({"frame": 0}, "frame"), ({"side": [1]}, "side"), ({"sides": 1}, "nearest"), ({"cine": "../../x"}, ""),
                        ({"cine": None}, ""), ({"stage": "<b>"}, "stage"), ({"mm_per_px": -1}, "mm_per_px"), ({"via": ["x"]}, "via"),
                        ({"proximal": [1e9, 1]}, "proximal"), ({"filled": "maybe"}, "filled")]:
        code, answer = server.json("POST", "/api/measure", {**request, **wrong})
        check(f"measure {wrong}", code in (400, 404, 422) and text in answer["error"] and "\n" not in answer["error"], (code, answer))
    return request


def beside_one_another(server):
    """Two threads decode: compressed frames asked for all at once are the ones that come one by one."""
    film = pathlib.Path(os.environ["BK_SOURCE"]) / "fuzz/corpus/dicom"
    subprocess.run([program, "phantom", "--seed", "3", "--frames", "12", "--jpeg", "8", "--out", work / "run"], check=True, capture_output=True)
    cines = []
    for path in [work / "run/view1.dcm", film / "j2k", film / "jls"]:
        code, _, body = server.ask("POST", "/api/cines", path.read_bytes(), Content_Type="application/dicom")
        check(f"upload of {path.name}", code == 200, body)
        cines.append(json.loads(body)["sha256"])
    places = [(c, k) for c in cines for k in range(1, server.json("GET", f"/api/cines/{c}")[1]["frames"] + 1)] * 3
    one_by_one = {p: server.ask("GET", "/api/cines/%s/frames/%d" % p)[2] for p in places}
    check("frames differ", len(set(one_by_one.values())) >= 12, len(one_by_one))
    wrong = []

    def ask(share):
        for p in share:
            if server.ask("GET", "/api/cines/%s/frames/%d" % p)[2] != one_by_one[p]:
                wrong.append(p)

    threads = [threading.Thread(target=ask, args=(places[i::6],)) for i in range(6)]
    for t in threads:
        t.start()
    for t in threads:
        t.join()
    check("frames asked for at once are those asked for one by one", not wrong, wrong)


def saved(server, request):
    measured = server.json("POST", "/api/measure", request)[1]
    document = {"schema": "branchkeep.case/1", "measurements": [measured], "anatomy": {"site": "lcx_marginal"}}
    code, first = server.json("POST", "/api/cases", {"document": document, "based_on": 0})
    check("save", code == 200 and first["revision"] == 1, first)
    document["case_id"] = first["case_id"]
    code, second = server.json("POST", "/api/cases", {"document": document, "based_on": 1})
    check("save again", code == 200 and second["revision"] == 2, second)
    code, late = server.json("POST", "/api/cases", {"document": document, "based_on": 1})
    check("two writers", code == 409 and late["revision"] == 2 and late["theirs"]["case_id"] == first["case_id"], late)
    code, back = server.json("GET", f"/api/cases/{first['case_id']}")
    check("load", code == 200 and back["measurements"] == [measured], back)
    code, by_id = server.json("GET", f"/api/ask/devices?case={first['case_id']}")
    code2, by_body = server.json("POST", "/api/ask/devices", back)
    check("asked of a kept case, and of a document", (code, code2) == (200, 200) and by_id == by_body, (by_id, by_body))
    check("asked of an unknown case", server.json("GET", "/api/ask/devices?case=nothing")[0] == 404)
    what_if = {"document": {"anatomy": {"site": "lcx_marginal"}}, "what_if": ["anatomy.site=left_main"]}
    code, answer = server.json("POST", "/api/ask/risk", what_if)
    check("a what-if of a document", code == 200 and {"what": "models.left_main.applies", "from": "no", "to": "yes"} in answer["flips"], answer)
    for wrong in ["text", [1], [""], {"a": 1}, ["anatomy.site=left_main"] * 17, ["anatomy.siet=left_main"]]:
        code, answer = server.json("POST", "/api/ask/risk", {"document": {}, "what_if": wrong})
        check(f"what-if {wrong}", code in (400, 422) and answer["error"], answer)
    check("a document that is none", server.json("POST", "/api/ask/risk", {"document": 3})[0] in (400, 422))
    code, answer = server.json("POST", "/api/ask/devises", back)
    check("unknown topic", code == 400 and "devices" in answer["error"], answer)
    for wrong in [{}, {"document": 1, "based_on": 0}, {"document": {}, "based_on": -1}, {"document": {}, "based_on": 0.5}]:
        check(f"save {wrong}", server.json("POST", "/api/cases", wrong)[0] in (400, 422), wrong)
    return first["case_id"]


def given_up(server, request):
    """Newer requests of one page take the place of waiting ones; work for a client that has gone is not done."""
    body = json.dumps(request).encode()
    open_sockets = []
    for _ in range(12):
        s = server.connect()
        s.sendall(server.head("POST", "/api/measure", {"X-Page": "one"}, len(body)) + body)
        open_sockets.append(s)
        time.sleep(0.003)
    codes = [read(s)[0] for s in open_sockets]
    check("only the newest is waited for", codes[-1] == 200 and codes.count(409) >= 8 and set(codes) <= {200, 409}, codes)
    start = time.monotonic()
    server.json("POST", "/api/measure", request)
    once = time.monotonic() - start
    for _ in range(30):  # without a page's name none takes another's place
        s = server.connect()
        s.sendall(server.head("POST", "/api/measure", {}, len(body)) + body)
        s.close()
    start = time.monotonic()
    code, _ = server.json("POST", "/api/measure", request)
    took = time.monotonic() - start
    check("work for those who left is not done", code == 200 and took < 10 * once, (once, took))


def beats(server):
    with server.connect() as s:
        s.sendall(server.head("GET", "/api/events", {}))
        s.settimeout(14)
        data, times = b"", []
        end = time.monotonic() + 13
        while time.monotonic() < end and len(times) < 2:
            data += s.recv(4096)
            times += [time.monotonic()] * (data.count(b"event: beat") - len(times))
        check("content type of the stream", b"text/event-stream" in data, data)
        check("it says hello", b"event: hello" in data, data)
        check("heartbeat shorter than the timeout of 15 s", len(times) == 2 and times[1] - times[0] < 8, times)
    time.sleep(7)  # until a beat has shown that the first one has gone
    streams = [server.connect() for _ in range(12)]
    for s in streams:
        s.sendall(server.head("GET", "/api/events", {}))
    time.sleep(0.5)
    codes = [s.recv(400)[9:12] for s in streams]
    check("not more than 8 streams", (codes.count(b"200"), codes.count(b"503")) == (8, 4), codes)
    for s in streams:
        s.close()


def closed_within(s, seconds, feed=None):
    """Seconds until the other side closes; feed: a byte that is sent now and then."""
    start = time.monotonic()
    s.settimeout(1.5)
    while time.monotonic() - start < seconds:
        try:
            if feed:
                s.sendall(feed)
            if not s.recv(4096):
                return time.monotonic() - start
        except TimeoutError:
            continue
        except OSError:
            return time.monotonic() - start
    return None


def slow(server):
    found = {}

    def run(name, start, seconds, feed):
        with server.connect() as s:
            s.sendall(start)
            found[name] = closed_within(s, seconds, feed)

    threads = [threading.Thread(target=run, args=a) for a in [
        ("says nothing", b"", 25, None),
        ("trickles headers", b"GET / HTTP/1.1\r\nHost: x\r\nX-Slow: ", 35, b"a"),
        ("trickles a body", server.head("POST", "/session", {}, 1000), 35, b" "),
        ("trickles an upload", server.head("POST", "/api/cines", {"Content-Type": "application/dicom"}, 100000), 35, b"x"),
    ]]
    for t in threads:
        t.start()
    crowd = []
    for _ in range(80):
        try:
            crowd.append(server.connect())
        except OSError:
            break
    time.sleep(1)
    start, code = time.monotonic(), 0
    while code != 200 and time.monotonic() - start < 40:
        code = server.ask("GET", "/")[0]
        if code != 200:
            time.sleep(0.5)
    check("a crowd that says nothing does not shut others out for long", code == 200, time.monotonic() - start)
    for t in threads:
        t.join()
    for name in ["says nothing", "trickles headers", "trickles a body", "trickles an upload"]:
        check(name + ": is let go", found[name] is not None, found)
    for s in crowd:
        s.close()
    check("no upload is left lying about", not list(server.uploads.iterdir()), list(server.uploads.iterdir()))


def ends(server, request):
    second = subprocess.run([program, "serve", "--port", str(server.port), "--data", str(work / "other")], capture_output=True)
    check("port in use", second.returncode == 4 and second.stderr.count(b"\n") == 1, second)
    body = json.dumps(request).encode()
    stream, busy = server.connect(), [server.connect() for _ in range(6)]
    stream.sendall(server.head("GET", "/api/events", {}))
    for s in busy:
        s.sendall(server.head("POST", "/api/measure", {}, len(body)) + body)
    time.sleep(0.05)
    start = time.monotonic()
    server.process.send_signal(signal.SIGTERM)
    out, err = server.process.communicate(timeout=20)
    check("ends cleanly", server.process.returncode == 0 and time.monotonic() - start < 5, (server.process.returncode, time.monotonic() - start))
    check("says nothing besides its address", out == b"" and err == b"", (out, err))
    check("work in hand is answered", {read(s)[0] for s in busy} <= {200, 503})
    check("the stream is closed", read(stream)[0] == 200)


def again(case_id):
    """A new start has a new token, and what was saved is there."""
    server = Server(work / "data")
    check("the old cookie is worth nothing", server.ask("GET", "/api/about")[0] == 401)
    code, head, _ = server.ask("POST", "/session", json.dumps({"token": server.token}).encode())
    server.cookie = re.search(r"Set-Cookie: ([^;]+)", head)[1]
    code, back = server.json("GET", f"/api/cases/{case_id}")
    check("saved before, there after", code == 200 and back["revision"] == 2, back)
    server.process.send_signal(signal.SIGINT)
    check("ends on an interrupt too", server.process.wait(timeout=20) == 0)


def main():
    server = Server(work / "data")
    try:
        who_is_let_in(server)
        too_much(server)
        request = kept(server)
        beside_one_another(server)
        case_id = saved(server, request)
        given_up(server, request)
        beats(server)
        slow(server)
        ends(server, request)
        again(case_id)
    finally:
        server.process.kill()
    print(f"{len(failures)} failures")
    return 1 if failures else 0


sys.exit(main())
