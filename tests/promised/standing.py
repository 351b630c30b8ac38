"""Items 15, 17, 19 and 20: clocks, files, the small ones, and several processes."""
import asyncio
import json
import os
import signal
import subprocess
import tempfile
import threading
import time
import uuid

from .cut import Cut
from .fair import ATTACKER, ask_night, costly_night, raw, upload_head
from .service import REPORT, Cluster, Service, SmallDisk, Visitor, at_once, free_port, judge_and_growers, median_ms, timed


def check_15_a_clock_that_was_ahead(home):
    """A lease of learning from a clock 26 hours ahead stands in the database; the clock is right again."""
    service, judge, (fern,) = judge_and_growers(home, ["fern grower"])
    reports = lambda: json.loads(Visitor(service).get("/health/ready").text)["model_reports"]

    def learned(wanted):
        began = time.monotonic()
        while reports() != wanted and time.monotonic() - began < 60:
            time.sleep(0.2)
        return time.monotonic() - began

    judge.accept(fern.report())
    learned(1)
    service.stop()
    inputs = home.sql("SELECT inputs FROM model LIMIT 1")
    ahead = int(1000 * (time.time() + 26 * 3600))
    home.sql("DELETE FROM lease")
    home.sql(f"INSERT INTO lease (name, holder, until_ms) VALUES ('fit {inputs}', '{uuid.uuid4()}', {ahead})")
    service.start().ready()
    judge.accept(fern.report(coldest="12"))
    took = learned(2)
    return reports() == 2, f"the next report was learned from after {took:.0f} s beside a lease that ends in 26 hours"


def check_16_a_commit_cut_in_the_middle(home):
    """Reports whose connection to the database is cut at the commit, half of them before it arrived and half after it was done."""
    between, direct = Cut(home.cluster.address), home.address
    home.address = between.address + home.name
    service = Service(home).ready()
    fern = Visitor(service).join("fern grower")
    told, kept, again = {"before": [], "after": []}, {"before": 0, "after": 0}, []
    for nth in range(60):
        at, form = ["before", "after"][nth % 2], {**REPORT, "nonce": str(uuid.uuid4()), "place": f"row {nth}"}
        between.at = at
        answer = fern.post("/reports/new", **form)
        between.at = None
        told[at].append(answer.status == 503 and "it may have been kept or not" in answer.text and "Nothing was changed" not in answer.text)
        kept[at] += int(home.sql("SELECT COUNT(*) FROM report")) - len(again)
        again.append(fern.post("/reports/new", **form).status)
    in_all = int(home.sql("SELECT COUNT(*) FROM report"))
    home.address = direct
    good = (sum(map(sum, told.values())) == 60 and kept == {"before": 0, "after": 30} and set(again) == {303} and in_all == 60)
    return good, (f"{sum(map(sum, told.values()))} of 60 answers say that it may have been kept; of 30 cut before the commit arrived {kept['before']} were kept, "
                  f"of 30 cut after it {kept['after']}; sent once more: {in_all} reports in all")


def check_17_files_are_private(home):
    os.umask(0o022)
    service, judge, (fern,) = judge_and_growers(home, ["fern grower"])
    judge.accept(fern.report())
    folder = home.folder
    modes, copy, watching = {}, os.path.join(folder, "copy.db"), True

    def watch():
        while watching:
            for name in os.listdir(folder):
                try:
                    modes.setdefault(name, set()).add(os.stat(os.path.join(folder, name)).st_mode & 0o777)
                except FileNotFoundError:
                    pass

    watcher = threading.Thread(target=watch)
    watcher.start()
    service.command("backup", copy)
    watching = False
    watcher.join()
    twice = subprocess.run([Service.program, "serve", "--listen", f"127.0.0.1:{free_port()}", "--database", f"sqlite:{folder}/./fig.db"],
                           capture_output=True, check=False, cwd=folder).returncode
    Visitor(service).join("late grower")
    beside_running = service.command("restore", copy).returncode
    service.stop()
    os.link(home.file, home.file + ".second")
    linked = service.command("member", "list").returncode
    os.remove(home.file + ".second")
    restored = service.command("restore", copy)
    listed = service.command("member", "list").stdout.count("\n")
    kept = [name for name in os.listdir(folder) if "before-restore" in name]
    open_to_others = sorted(name for name, seen in modes.items() if seen - {0o600})
    good = not open_to_others and twice != 0 and linked == 2 and beside_running == 2 and restored.returncode == 0 and listed == 2 and kept
    return good, (f"{len(modes)} files watched while a copy was made, {len(open_to_others)} open to others; second service {twice}, hard link {linked}, "
                  f"restore beside the service {beside_running}, alone {restored.returncode} with {listed} members")


def check_17_a_demonstration_cut_short(home):
    count = lambda service: Visitor(service).get("/reports").text.count("<tr")
    whole = Service(home, "--demo").ready()
    expected = count(whole)
    whole.stop()
    other = home.another()
    cut, kills = Service(other, "--demo"), 0
    for after in [0.4, 0.8, 1.6]:
        time.sleep(after)
        if cut.process.poll() is None:
            cut.stop(signal.SIGKILL)
            kills += 1
            cut.start()
    cut.ready()
    found = count(cut)
    return found == expected and kills > 0, f"{found} rows of {expected} after {kills} kills while it was filled"


def check_19_the_small_ones(home):
    service, judge, (fern, moss) = judge_and_growers(home, ["fern grower", "moss grower"], "--public-address", "https://figs.example.org")
    made = [fern.post("/account/tokens", token_name=f"logger {nth}").status for nth in range(25)]
    judge.post("/members", handle="fern grower", role="administrator")
    left = []
    for _ in range(10):
        at_once([lambda: judge.post("/members", handle="fern grower", role="member"), lambda: fern.post("/members", handle="the judge", role="member")])
        left.append(int(home.sql("SELECT COUNT(*) FROM member WHERE role = 'administrator'")))
        home.sql("UPDATE member SET role = 'administrator' WHERE handle IN ('fern grower', 'the judge')")
    told = Visitor(service).get("/no-such-page", x_request_id="a<b>" * 3000).header("x-request-id")
    before = service.metric("http_requests_total", 'status="500"')
    for address in range(8):
        stream = raw(service, f"127.0.4.{address + 1}")
        stream.sendall(upload_head(100_000) + b"date,tmin_c,tmax_c\n")
        stream.close()
    time.sleep(2)
    counted = service.metric("http_requests_total", 'status="500"') - before
    stranger = Visitor(service)
    kept = stranger.post("/garden/winter", note="behind the shed")
    by_scheme = [Visitor(service).send("POST", "/preferences", "temperature=c", origin=f"{scheme}://figs.example.org", host="figs.example.org",
                                       sec_fetch_site="").status for scheme in ("https", "http")]
    named = Visitor(service).send("POST", "/account/join", "handle=%3D1%2B1%3Bx&passphrase=seven+wet+winters+in+a+row").status
    good = (made.count(200) == 20 and made[-1] == 422 and min(left) >= 1 and len(told) <= 64 and "<" not in told and counted == 0
            and kept.header("cache-control") == "no-store" and by_scheme == [303, 403] and named == 422)
    return good, (f"{made.count(200)} of 25 tokens; administrators left after ten crossed demotions {sorted(set(left))}; an id of 12,000 characters came "
                  f"back with {len(told)}; 8 uploads broken off: {counted:.0f} counted 500; a resumed form: {kept.header('cache-control')}; Origin https "
                  f"{by_scheme[0]}, http {by_scheme[1]}; a name of formula signs: {named}")


def until(service, wanted, seconds=40):
    """Asks readiness until it answers so; gives the last answer and the time it took."""
    began, said = time.monotonic(), Visitor(service).get("/health/ready")
    while said.status != wanted and time.monotonic() - began < seconds:
        time.sleep(0.2)
        said = Visitor(service).get("/health/ready")
    return said, time.monotonic() - began


def check_19_a_full_disk(home):
    """The data file, or a whole cluster of PostgreSQL, on a small disk of its own that is filled up; then a member writes, and there is room again."""
    with SmallDisk(120 if home.name else 24) as disk:
        if not disk.mounted:
            return None, "no disk can be mounted here; the suite fills one under the program (tests/pages/members/medium.rs, tests/store/engines.rs)"
        cluster = None
        if home.name:
            cluster = Cluster(disk.folder)
            cluster.start()
            home.cluster, home.name = cluster, cluster.new_database()
            home.address = cluster.address + home.name
        else:
            home.file = os.path.join(disk.folder, "fig.db")
            home.address = f"sqlite:{home.file}"
        service = Service(home).ready()
        try:
            fern = Visitor(service).join("fern grower")
            first, _ = until(service, 200)
            disk.fill()
            full, noticed = until(service, 503)
            page = Visitor(service).get("/").status
            sent = [fern.post("/reports/new", **{**REPORT, "nonce": os.urandom(8).hex(), "note": "behind the shed " * 12}).status for _ in range(40)]
            still = Visitor(service).get("/health/ready")
            ran = cluster is None or cluster.runs()
            disk.make_room()
            if cluster:
                # A server that ran out of room for its log has stopped itself; starting it again is its operator's work.
                cluster.serve()
            again, back = until(service, 200)
            fern.report()
            acknowledged, kept = sent.count(303) + 1, int(home.sql("SELECT COUNT(*) FROM report"))
        finally:
            service.stop()
            if cluster:
                cluster.stop(keep=True)
        good = first.status == 200 and full.status == still.status == 503 and page == again.status == 200 and set(sent) <= {303, 503} and kept == acknowledged
        return good, (f"ready {first.status}; full: {full.status} after {noticed:.0f} s, “{json.loads(full.text)['database']}”, pages {page}; 40 reports "
                      f"answered { {status: sent.count(status) for status in sorted(set(sent))} }; {acknowledged} acknowledged in all, {kept} kept; the server "
                      f"{'went on' if ran else 'stopped itself'}; room again: {again.status} after {back:.0f} s")


def check_20_health_beside_heavy_pages(home):
    """Both health addresses while forty connections ask for the costliest nights and twenty for the longest pages."""
    service, body = Service(home, "--demo", limits=[]).ready(), costly_night()
    kind = json.loads(Visitor(service).get("/health/ready").text)["model"]
    stop = threading.Event()

    def hammer(work):
        while not stop.is_set():
            try:
                work()
            except OSError:
                pass

    works = [lambda n=n: ask_night(service, f"127.0.5.{n + 1}", body) for n in range(20)]
    works += [lambda n=n: Visitor(service, f"127.0.6.{n + 1}").get(["/method", "/shortlist?zone=7a&limit=500", "/bench?zone=7a"][n % 3]) for n in range(20)]
    threads = [threading.Thread(target=hammer, args=(work,), daemon=True) for work in works]
    for thread in threads:
        thread.start()
    time.sleep(1)
    times = {address: [timed(lambda: Visitor(service).get(address).status) for _ in range(60)] for address in ["/health/live", "/health/ready"]}
    page = timed(lambda: Visitor(service).get("/").status)
    stop.set()
    for thread in threads:
        thread.join()
    good = all(status == 200 for answers in times.values() for _, status in answers) and max(t for answers in times.values() for t, _ in answers) < 2
    shown = ", ".join(f"{address} {median_ms([t for t, _ in answers]):.0f} ms (longest {1000 * max(t for t, _ in answers):.0f})" for address, answers in times.items())
    return good, f"{shown}; a page beside it {1000 * page[0]:.0f} ms; model at the start: {kind}"


async def answered(port, request):
    reader, writer = await asyncio.open_connection("127.0.0.1", port)
    try:
        writer.write(request)
        await writer.drain()
        return await reader.read(-1)
    finally:
        writer.close()


def get_request(path):
    return f"GET {path} HTTP/1.1\r\nHost: a\r\nConnection: close\r\n\r\n".encode()


class Proxy:
    """A plain proxy: a connection for a connection, each to the next process that was ready when last asked; nothing is tried again."""

    def __init__(self, ports):
        self.ports, self.ready, self.turn = ports, [False] * len(ports), 0

    async def watch(self, nth):
        while True:
            try:
                said = await asyncio.wait_for(answered(self.ports[nth], get_request("/health/ready")), 2)
                self.ready[nth] = b" 200 " in said[:20]
            except (OSError, asyncio.TimeoutError):
                self.ready[nth] = False
            await asyncio.sleep(0.1)

    async def take(self, reader, writer):
        try:
            request = await reader.readuntil(b"\r\n\r\n")
            self.turn += 1
            chosen = next(nth for nth in ((self.turn + n) % len(self.ports) for n in range(len(self.ports))) if self.ready[nth])
            writer.write(await answered(self.ports[chosen], request))
            await writer.drain()
        except (OSError, StopIteration, RuntimeError, asyncio.IncompleteReadError):
            pass
        finally:
            writer.close()


async def rolling(services, requests):
    proxy = Proxy([service.port for service in services])
    watching = [asyncio.ensure_future(proxy.watch(nth)) for nth in range(len(services))]
    server = await asyncio.start_server(proxy.take, "127.0.0.1", 0)
    port = server.sockets[0].getsockname()[1]
    while not all(proxy.ready):
        await asyncio.sleep(0.05)
    asked, lost, restarts, going = [0], [], [0], [True]

    async def visitor():
        while asked[0] < requests or going[0]:
            asked[0] += 1
            path = ["/cultivars/celeste", "/health/live", "/account", "/reports"][asked[0] % 4]
            try:
                said = await answered(port, get_request(path))
            except OSError as error:
                said = repr(error).encode()
            if b" 200 " not in said[:20]:
                lost.append(said[:80])

    async def restart():
        while asked[0] < requests:
            for service in services:
                service.process.send_signal(signal.SIGTERM)
                while service.process.poll() is None:
                    await asyncio.sleep(0.02)
                service.start()
                nth = services.index(service)
                proxy.ready[nth] = False
                while not proxy.ready[nth]:
                    await asyncio.sleep(0.05)
                restarts[0] += 1
        going[0] = False

    await asyncio.gather(restart(), *(visitor() for _ in range(12)))
    for task in watching:
        task.cancel()
    server.close()
    return asked[0], lost, restarts[0]


def check_20_a_rolling_restart(home, requests=20_000):
    """Two processes on one database behind a plain proxy that asks readiness; one after the other is told to stop, again and again."""
    services = [Service(home, "--drain-s", "1").ready() for _ in range(2)]
    asked, lost, restarts = asyncio.run(rolling(services, requests))
    return not lost and restarts >= 2, f"{len(lost)} of {asked} requests lost without a second try, in {restarts} restarts{': ' + repr(lost[0]) if lost else ''}"


def check_20_an_upgrade_keeps_the_model(home):
    """A process that starts anew on a database with a kept model has it at once: nothing is fitted."""
    service, judge, (fern,) = judge_and_growers(home, ["fern grower"])
    judge.accept(fern.report())
    state = lambda: json.loads(Visitor(service).get("/health/ready").text)
    while state()["model"] != "reports":
        time.sleep(0.2)
    kept = home.sql("SELECT fitted_ms FROM model WHERE state IS NOT NULL")
    service.stop()
    service.start().ready()
    began = time.monotonic()
    while state()["model"] != "reports" and time.monotonic() - began < 30:
        time.sleep(0.1)
    took, same = time.monotonic() - began, home.sql("SELECT fitted_ms FROM model WHERE state IS NOT NULL") == kept
    return same and state()["model"] == "reports", f"the kept model stands {took:.1f} s after a start, fitted again: {not same}"
