"""The program on databases of its own, visitors, and what answers it outward. Nothing but Python 3.9 and the standard library."""
import email
import glob
import http.client
import os
import pwd
import random
import re
import shutil
import signal
import socket
import sqlite3
import subprocess
import tempfile
import threading
import time
import urllib.parse

PASSPHRASE = "seven wet winters in a row"
REPORT = {
    "name": "Celeste", "place": "by the mill", "latitude": "44.17", "longitude": "12.23", "planted": "2018", "winter": "2024/25",
    "looked_day": "20", "looked_month": "5", "looked_year": "2025", "top": "tips", "vitality": "alive", "cover": "none", "coldest": "15",
    "coldest_unit": "f", "thermometer": "in_garden", "note": "behind the shed",
}
# Room for tests of other things than limits.
GENEROUS = ["--joins-per-hour", "1000", "--sign-ins-per-minute", "1000", "--writes-burst", "1000"]


def free_port():
    """Below those that the system gives to clients: whoever asks a port of theirs before anybody listens may be connected to itself, and takes it."""
    while True:
        port = random.randrange(20_000, 32_000)
        with socket.socket() as tried:
            try:
                tried.bind(("127.0.0.1", port))
                return port
            except OSError:
                continue


class Cluster:
    """A PostgreSQL of its own on a socket in a temporary folder, run by an unprivileged account; the one of WINTERFIG_TEST_POSTGRES, if set.
    Or one in a folder that is given."""

    def __init__(self, folder=None):
        self.folder, self.made = folder, 0
        self.address = None if folder else os.environ.get("WINTERFIG_TEST_POSTGRES")
        found = ([os.path.dirname(shutil.which("initdb"))] if shutil.which("initdb") else []) + sorted(glob.glob("/usr/lib/postgresql/*/bin"))
        self.programs = os.environ.get("PGBIN") or (found[-1] if found else None)

    def start(self):
        """Whether there is one."""
        if self.address:
            return True
        if not self.programs or not os.path.exists(os.path.join(self.programs, "initdb")):
            return False
        small = self.folder is not None
        self.folder = self.folder or tempfile.mkdtemp(prefix="figpg")
        self.account = None
        if os.getuid() == 0:
            self.account = next((pwd.getpwnam(name) for name in ["postgres", "nobody"] if name in {a.pw_name for a in pwd.getpwall()}), None)
            os.chown(self.folder, self.account.pw_uid, self.account.pw_gid)
        data = os.path.join(self.folder, "data")
        self.run("initdb", "-D", data, "-U", "fig", "--auth=trust", "--no-sync", "--locale=C.UTF-8", "-E", "UTF8", *(["--wal-segsize=1"] if small else []))
        self.options = f"-k {self.folder} -c listen_addresses= -c max_connections=200"
        if small:
            self.options += " -c min_wal_size=2MB -c max_wal_size=8MB"
        self.serve()
        self.address = f"postgres://fig@{self.folder.replace('/', '%2F')}/"
        return True

    def serve(self):
        """Starts the server, unless it runs."""
        data = os.path.join(self.folder, "data")
        if not self.runs():
            self.run("pg_ctl", "-D", data, "-l", os.path.join(data, "log"), "-w", "-t", "30", "-o", self.options, "start")

    def runs(self):
        try:
            return bool(self.run("pg_ctl", "-D", os.path.join(self.folder, "data"), "status"))
        except subprocess.CalledProcessError:
            return False

    def run(self, program, *words):
        def become():
            if self.account:
                os.setgroups([])
                os.setgid(self.account.pw_gid)
                os.setuid(self.account.pw_uid)

        return subprocess.run([os.path.join(self.programs, program), *words], check=True, capture_output=True, text=True, cwd=self.folder or "/",
                              preexec_fn=become if getattr(self, "account", None) else None, env={**os.environ, "HOME": self.folder or "/tmp"})

    def sql(self, database, text):
        """Runs statements; gives the rows as lines."""
        address = urllib.parse.urlsplit(self.address)
        host = urllib.parse.unquote(address.hostname or "")
        psql = shutil.which("psql", path=f"{self.programs}:{os.environ['PATH']}") or "psql"
        done = subprocess.run([psql, "-h", host, "-U", address.username or "fig", "-d", database, "-tA", "-c", text],
                              check=True, capture_output=True, text=True)
        return done.stdout.strip()

    def new_database(self):
        self.made += 1
        name = f"promise_{os.getpid()}_{self.made}"
        self.sql("postgres", f"CREATE DATABASE {name}")
        return name

    def stop(self, keep=False):
        if self.folder:
            try:
                self.run("pg_ctl", "-D", os.path.join(self.folder, "data"), "-m", "immediate", "-w", "-t", "10", "stop")
            except subprocess.CalledProcessError:
                pass
            if not keep:
                shutil.rmtree(self.folder, ignore_errors=True)


class SmallDisk:
    """A disk of so many megabytes, where this account may mount one; `with` gives its folder, or None."""

    def __init__(self, megabytes):
        self.folder, self.ballast = tempfile.mkdtemp(prefix="figdisk"), None
        words = ["mount", "-t", "tmpfs", "-o", f"size={megabytes}m", "tmpfs", self.folder]
        self.mounted = os.getuid() == 0 and subprocess.run(words, capture_output=True, check=False).returncode == 0

    def __enter__(self):
        return self

    def fill(self):
        with open(os.path.join(self.folder, "ballast"), "wb", buffering=0) as ballast:
            for block in [65_536, 4096, 512, 1]:
                try:
                    while ballast.write(b"x" * block) == block:
                        pass
                except OSError:
                    pass

    def make_room(self):
        os.remove(os.path.join(self.folder, "ballast"))

    def __exit__(self, *_):
        if self.mounted:
            subprocess.run(["umount", "--lazy", self.folder], check=False)
        os.rmdir(self.folder)


class Home:
    """A folder and a database for one service."""

    every = []

    def __init__(self, engine, cluster):
        Home.every.append(self)
        self.engine, self.cluster = engine, cluster
        self.folder = tempfile.mkdtemp(prefix="figpromise")
        self.file = os.path.join(self.folder, "fig.db")
        self.name = cluster.new_database() if engine == "PostgreSQL" else None
        self.address = cluster.address + self.name if self.name else f"sqlite:{self.file}"

    def another(self):
        return Home(self.engine, self.cluster)

    def sql(self, text):
        """Runs a statement beside the service or while it stands still; gives the rows as lines."""
        if self.name:
            return self.cluster.sql(self.name, text)
        with sqlite3.connect(self.file) as connection:
            return "\n".join("|".join(map(str, row)) for row in connection.execute(text).fetchall())


class Service:
    """The program on a database; stopped at the end of its check."""

    program = None
    every = []

    def __init__(self, home, *more, limits=GENEROUS, log="error"):
        Service.every.append(self)
        self.home, self.port, self.log_level = home, free_port(), log
        self.words = [*limits, *more]
        self.start()

    def start(self, *more):
        self.log = os.path.join(self.home.folder, "log")
        self.process = subprocess.Popen(
            [Service.program, "serve", "--listen", f"127.0.0.1:{self.port}", "--database", self.home.address, "--erased-list",
             os.path.join(self.home.folder, "erased"), "--log", self.log_level, *self.words, *more],
            stdout=subprocess.DEVNULL, stderr=open(self.log, "ab"), cwd=self.home.folder)
        return self

    def ready(self):
        for _ in range(2400):
            if self.process.poll() is not None:
                with open(self.log, encoding="utf-8", errors="replace") as log:
                    raise RuntimeError(f"the service ended with {self.process.returncode}: {log.read()[-250:]}")
            try:
                if Visitor(self).get("/health/live").status == 200:
                    return self
            except (OSError, http.client.HTTPException):
                pass
            time.sleep(0.05)
        raise RuntimeError("the service does not answer")

    def stop(self, how=signal.SIGTERM):
        if self.process.poll() is None:
            self.process.send_signal(how)
        self.process.wait()

    def command(self, *words):
        return subprocess.run([Service.program, *words, "--database", self.home.address], capture_output=True, text=True, check=False)

    def role(self, handle, role):
        """Gives a role; a service on a data file has to stand still for it."""
        self.stop()
        done = self.command("member", "role", handle, role)
        assert done.returncode == 0, done.stderr
        self.start().ready()

    def megabytes(self):
        """Memory that it holds."""
        with open(f"/proc/{self.process.pid}/status", encoding="ascii") as status:
            return next(int(line.split()[1]) for line in status if line.startswith("VmRSS")) / 1000

    def open_connections(self, address):
        """Connections that an address of 127.0.0.0/8 holds, as the system counts them."""
        def written(ip):
            return "".join(f"{int(part):02X}" for part in reversed(ip.split(".")))

        with open("/proc/net/tcp", encoding="ascii") as table:
            rows = [line.split() for line in table.readlines()[1:]]
        return sum(row[1] == f"{written('127.0.0.1')}:{self.port:04X}" and row[2].startswith(written(address)) and row[3] == "01" for row in rows)

    def metric(self, *parts):
        """Sum of the counts whose line holds all of these."""
        lines = Visitor(self).get("/metrics").text.splitlines()
        return sum(float(line.rsplit(" ", 1)[1]) for line in lines if not line.startswith("#") and all(part in line for part in parts))


class Answer:
    def __init__(self, response):
        self.status, self.headers, self.bytes = response.status, response.getheaders(), response.read()
        self.text = self.bytes.decode("utf-8", "replace")

    def header(self, name):
        return next((value for key, value in self.headers if key.lower() == name), "")


class Visitor:
    """A browser without a window: cookies and forms. Each address of 127.0.0.0/8 is a visitor of its own to the limits."""

    def __init__(self, service, address="127.0.0.1", **cookies):
        self.service, self.address, self.cookies = service, address, dict(cookies)

    def send(self, method, address, body=None, kind="application/x-www-form-urlencoded", **headers):
        connection = http.client.HTTPConnection("127.0.0.1", self.service.port, timeout=60, source_address=(self.address, 0))
        headers = {"sec-fetch-site": "same-origin", **{name.replace("_", "-"): value for name, value in headers.items()}}
        if self.cookies:
            headers["cookie"] = "; ".join(f"{name}={value}" for name, value in self.cookies.items())
        if body is not None:
            headers["content-type"] = kind
        connection.request(method, address, body, {name: value for name, value in headers.items() if value})
        answer = Answer(connection.getresponse())
        connection.close()
        for key, value in answer.headers:
            if key.lower() == "set-cookie":
                name, _, held = value.split(";")[0].partition("=")
                self.cookies.pop(name, None)
                if held:
                    self.cookies[name] = held
        return answer

    def get(self, address, **headers):
        return self.send("GET", address, **headers)

    def post(self, address, **fields):
        return self.send("POST", address, urllib.parse.urlencode(fields))

    def join(self, handle, **fields):
        answer = self.post("/account/join", handle=handle, passphrase=PASSPHRASE, **fields)
        assert answer.status == 303, f"{handle}: {answer.status}"
        return self

    def report(self, **fields):
        """Sends a report and gives its id."""
        answer = self.post("/reports/new", **{**REPORT, "nonce": os.urandom(8).hex(), **fields})
        assert answer.status == 303, answer.text
        return answer.header("location").split("?")[0].rsplit("/", 1)[1]

    def accept(self, report):
        answer = self.post(f"/review/{report}", version="1", state="taken", reason="plausible")
        assert answer.status == 303, answer.text


def judge_and_growers(home, growers, *more, limits=GENEROUS):
    service = Service(home, *more, limits=limits).ready()
    people = [Visitor(service).join(name) for name in growers]
    judge = Visitor(service).join("the judge")
    service.role("the judge", "administrator")
    return service, judge, people


def at_once(works):
    """Runs functions at once; gives what each came to, an error where it failed."""
    results = [None] * len(works)

    def run(nth, work):
        try:
            results[nth] = work()
        except Exception as error:  # Shown as the result.
            results[nth] = error

    threads = [threading.Thread(target=run, args=pair, daemon=True) for pair in enumerate(works)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return results


def median_ms(times):
    return 1000 * sorted(times)[len(times) // 2] if times else float("nan")


def timed(work):
    began = time.perf_counter()
    result = work()
    return time.perf_counter() - began, result


class Relay:
    """Takes letters and keeps them."""

    def __init__(self):
        self.letters, self.socket = [], socket.create_server(("127.0.0.1", 0))
        self.port = self.socket.getsockname()[1]
        threading.Thread(target=self.serve, daemon=True).start()

    def serve(self):
        while True:
            connection, _ = self.socket.accept()
            threading.Thread(target=self.take, args=(connection,), daemon=True).start()

    def take(self, connection):
        lines, letter, inside = connection.makefile("rwb"), [], False
        say = lambda words: (lines.write(words + b"\r\n"), lines.flush())
        say(b"220 relay")
        for line in lines:
            line = line.rstrip(b"\r\n")
            if inside:
                inside = line != b"."
                letter.append(line.decode("utf-8", "replace"))
                if not inside:
                    self.letters.append("\n".join(letter))
                    letter = []
                    say(b"250 taken")
            elif line.upper() == b"DATA":
                inside = True
                say(b"354 go on")
            elif line.upper() == b"QUIT":
                return say(b"221 bye")
            else:
                say(b"250 good")

    def link(self):
        for _ in range(600):
            if self.letters:
                words = email.message_from_string(self.letters.pop(0)).get_payload(decode=True).decode()
                return re.search(r"http://figs\.example\.org(/\S+)", words).group(1)
            time.sleep(0.05)
        raise RuntimeError("no letter came")
