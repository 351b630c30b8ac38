"""Items 1 to 7: what one address can make of the service for the others, at the usual limits. The attacker is 127.0.0.2, the others are not."""
import datetime
import gzip
import http.server
import json
import math
import os
import resource
import socket
import threading
import time
import urllib.parse

from .service import Service, Visitor, at_once, judge_and_growers, median_ms, timed

ATTACKER = "127.0.0.2"


def record(days, last_again=0):
    """A simulated daily record, its last line repeated."""
    day, lines = datetime.date(2010, 7, 1), ["date,tmin_c,tmax_c"]
    for nth in range(days):
        mean = 11 - 9 * math.cos(day.timetuple().tm_yday / 58.1) + 5 * math.sin(nth * 1.7)
        lines.append(f"{day},{mean - 5:.1f},{mean + 5:.1f}")
        day += datetime.timedelta(days=1)
    return "\n".join(lines + [lines[-1]] * last_again) + "\n"


def costly_night():
    """A legal question of 57 kB about a night with twelve places and twelve kinds of cover."""
    plant = lambda n: {"id": str(n), "cultivar": ["celeste", "brown-turkey", "unknown"][n % 3], "container_l": 5 + 7 * n % 97, "years": n % 40,
                       "value": 1 + 13 * n % 17}
    place = lambda n: {"id": str(n), "room_m2": 0.3 + 0.37 * n, "inside_a_c": 3.7, "inside_b": 0.31 + 0.02 * n}
    cover = lambda n: {"kind": ["fleece_heavy", "quilt"][n % 2], "count": 2 + n, "gain_k": 1.5 + 0.1 * n, "minutes": 2.0 + n}
    plants, used = [], 0
    while used + len(json.dumps(plant(len(plants)), separators=(",", ":"))) + 1 <= 55_000:
        plants.append(plant(len(plants)))
        used += len(json.dumps(plants[-1], separators=(",", ":"))) + 1
    night = {"night": {"minimum_c": -9.3, "lead_hours": 12.0, "kind": "clear_still"}, "plants": plants, "minutes_available": 271.0,
             "places": [place(n) for n in range(12)], "covers": [cover(n) for n in range(12)]}
    return json.dumps(night, separators=(",", ":"))


def costly_spell():
    """Ten nights, sixty plants that all differ, three priced shelters, each heated or not: all the ways that are accepted."""
    asked = json.loads(costly_night())
    del asked["night"]
    asked["nights"] = [{"minimum_c": -9.3 - n % 4, "date": f"2027-01-{14 + n}"} for n in range(10)]
    asked["plants"] = asked["plants"][:60]
    asked["minutes_available"] = 60
    shelter = {"parts": [{"name": "walls", "area_m2": 22.0, "cover": "glass"}, {"name": "roof", "area_m2": 10.0, "cover": "glass"}],
               "volume_m3": 18.0, "air_changes_per_hour": 1.5, "floor_m2": 9.0, "heater_w": 1500, "thermostat_c": 4, "price_per_kwh": 0.3}
    asked["places"] = [{"id": f"house {n}", "shelter": shelter} for n in range(3)]
    asked["covers"] = []
    return json.dumps(asked)


TOO_SLOW = "one {} alone is not answered within {:.0f} s by this program on this machine; give an optimised one with -b, and leave it the machine"
SMALL_NIGHT = json.dumps({"night": {"minimum_c": -8.0, "lead_hours": 12.0, "kind": "clear_still"}, "plants": [{"id": "1", "cultivar": "celeste"}]})


def ask_night(service, address, body):
    return Visitor(service, address).send("POST", "/api/v1/cold-night", body, "application/json").status


def raw(service, address=ATTACKER, buffer=None):
    stream = socket.socket()
    if buffer:
        stream.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, buffer)
    stream.bind((address, 0))
    stream.settimeout(60)
    stream.connect(("127.0.0.1", service.port))
    return stream


def check_01_a_short_answer_and_slow_readers(home):
    """The record of 30 kB that made 15 MB, and readers who take nothing of their answers."""
    service, judge, (fern,) = judge_and_growers(home, ["fern grower"])
    judge.accept(fern.report())
    packed = gzip.compress(record(3000, 100_000).encode(), 9)
    answer = Visitor(service).send("POST", "/api/v1/climate", packed, "text/csv")
    listed = json.loads(answer.text)
    before, streams = service.megabytes(), []
    head = (f"POST /api/v1/climate HTTP/1.1\r\nHost: a\r\nSec-Fetch-Site: same-origin\r\nContent-Type: text/csv\r\n"
            f"Content-Length: {len(packed)}\r\n\r\n").encode()
    asked, peak, began = [head + packed, b"GET /shortlist?zone=7a&limit=500 HTTP/1.1\r\nHost: a\r\n\r\n"], before, time.monotonic()
    long_page = len(Visitor(service).get("/shortlist?zone=7a&limit=500").bytes)
    for nth in range(120):
        streams.append(raw(service, buffer=4096))
        try:
            streams[-1].sendall(asked[nth % 2])
        except OSError:
            pass
        peak = max(peak, service.megabytes())
    others = [timed(lambda: Visitor(service).get("/").status) for _ in range(20)]
    while service.open_connections(ATTACKER) and time.monotonic() - began < 90:
        peak = max(peak, service.megabytes())
        time.sleep(0.5)
    took, left = time.monotonic() - began, service.open_connections(ATTACKER)
    for stream in streams:
        stream.close()
    good = (answer.status == 200 and len(listed["rejected"]) == 200 and listed["rejected_count"] == 200_000 and len(answer.bytes) < 500_000
            and peak - before < 100 and left == 0 and all(status == 200 for _, status in others))
    return good, (f"{len(packed) // 1000} kB of record, {listed['rejected_count']} values refused, {len(listed['rejected'])} listed: an answer of "
                  f"{len(answer.bytes) // 1000} kB; 120 readers who take nothing of it and of pages of {long_page // 1000} kB: +{peak - before:.0f} MB, "
                  f"others {median_ms([t for t, _ in others]):.0f} ms, {left} of them left after {took:.0f} s")


def check_02_the_costliest_nights(home):
    """140 connections of the costliest legal night from one address, thirty small questions and pages of others."""
    service, body = Service(home, limits=[]).ready(), costly_night()
    took, alone = timed(lambda: ask_night(service, "127.0.0.9", body))
    if alone == 503:
        return None, TOO_SLOW.format("night", took)
    done, others, pages, health = [], [], [], []
    crowd = threading.Thread(target=lambda: done.extend(at_once([lambda: ask_night(service, ATTACKER, body)] * 140)))
    crowd.start()
    while crowd.is_alive() or len(others) < 30:
        others.append(timed(lambda: ask_night(service, "127.0.0.3", SMALL_NIGHT)))
        pages.append(timed(lambda: Visitor(service, "127.0.0.4").get("/").status))
        health.append(timed(lambda: Visitor(service, "127.0.0.5").get("/health/ready").status))
        if len(others) >= 200:
            break
    crowd.join()
    refused = sum(status != 200 for _, status in others + pages + health)
    names = "\ufdfa" * 21_000
    long_name, status = timed(lambda: Visitor(service).post("/cold-night", scale="c", minimum="-5", lead="12", kind="clear_still", p1_cultivar=names[:7000],
                                                             p1_grows="ground").status)
    counts = {str(status): done.count(status) for status in sorted(set(map(str, done)), key=str) for status in [int(status)] if str(status).isdigit()}
    good = alone == 200 and refused == 0 and done.count(200) > 0 and status in (200, 422)
    return good, (f"one night of {len(body) // 1000} kB {took:.2f} s; of 140 at once: {counts}; of others refused {refused} of "
                  f"{len(others) + len(pages) + len(health)}; small nights {median_ms([t for t, _ in others]):.0f} ms, pages "
                  f"{median_ms([t for t, _ in pages]):.0f} ms, readiness {median_ms([t for t, _ in health]):.0f} ms (longest "
                  f"{1000 * max(t for t, _ in health):.0f}); a name of 7,000 × U+FDFA {1000 * long_name:.0f} ms")


def check_02_what_waits_is_answered(home):
    """Sixty addresses ask the costliest spell at once: who is let in is answered in time, the others are refused at once."""
    service, body = Service(home, limits=[]).ready(), costly_spell()
    alone, first = timed(lambda: ask_night(service, "127.0.0.9", body))
    if first == 503:
        return None, TOO_SLOW.format("spell", alone)
    done = at_once([lambda n=n: timed(lambda: ask_night(service, f"127.3.0.{n + 1}", body)) for n in range(60)])
    answered = [took for took, status in done if status == 200]
    refused = [took for took, status in done if status == 503]
    good = first == 200 and len(answered) + len(refused) == 60 and max(refused, default=0) < max(answered) < 20
    return good, (f"one spell {alone:.1f} s; of sixty at once {len(answered)} answered within {max(answered, default=0):.1f} s, {len(refused)} refused "
                  f"within {max(refused, default=0):.1f} s")


def upload_head(length):
    return (f"POST /record HTTP/1.1\r\nHost: a\r\nSec-Fetch-Site: same-origin\r\nContent-Type: multipart/form-data; boundary=edge\r\n"
            f"Content-Length: {length}\r\n\r\n--edge\r\nContent-Disposition: form-data; name=\"file\"; filename=\"r.csv\"\r\n\r\n").encode()


def small_upload(service, address):
    body = ("--edge\r\nContent-Disposition: form-data; name=\"file\"; filename=\"r.csv\"\r\n\r\n" + record(900) + "\r\n--edge--\r\n").encode()
    return Visitor(service, address).send("POST", "/record", body, "multipart/form-data; boundary=edge").status


def check_03_slow_uploads(home):
    """Six uploads at 17 kB/s from one address; then from six addresses. Somebody else sends a record meanwhile."""
    service = Service(home, limits=[]).ready()
    figures, good = [], True
    for addresses in [[ATTACKER] * 6, [f"127.0.1.{n}" for n in range(1, 7)]]:
        streams = [raw(service, address) for address in addresses]
        for stream in streams:
            stream.sendall(upload_head(20_000_000))
        ended, began = threading.Event(), time.monotonic()

        def trickle(stream):
            while not ended.wait(1):
                try:
                    stream.sendall(b"x" * 17_000)
                except OSError:
                    return

        for stream in streams:
            threading.Thread(target=trickle, args=(stream,), daemon=True).start()
        time.sleep(2)
        status, tries = small_upload(service, "127.0.0.9"), 1
        while status != 200 and time.monotonic() - began < 60:
            time.sleep(1)
            status, tries = small_upload(service, "127.0.0.9"), tries + 1
        took = time.monotonic() - began
        ended.set()
        for stream in streams:
            stream.close()
        good &= status == 200 and (tries == 1 or addresses[0] != ATTACKER)
        figures.append(f"six from {len(set(addresses))} address(es): {status} at try {tries}, {took:.0f} s")
        time.sleep(1)
    return good, "; ".join(figures)


def check_04_connections_of_one_address(home):
    """One address opens 2,048 connections; then six clients ask for names of 8 kB."""
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    resource.setrlimit(resource.RLIMIT_NOFILE, (min(hard, 8192), hard))
    service = Service(home, limits=[]).ready()
    held = []
    for _ in range(2048):
        try:
            held.append(raw(service))
        except OSError:
            break
    shut_out = Visitor(service).get("/").status
    own = [timed(lambda: Visitor(service).get("/health/ready").status) for _ in range(20)]
    for stream in held:
        stream.close()
    quiet = [timed(lambda: Visitor(service).get("/shortlist?zone=7a").status)[0] for _ in range(30)]
    stop = threading.Event()

    def hammer():
        while not stop.is_set():
            try:
                Visitor(service, ATTACKER).get("/cultivars?q=" + urllib.parse.quote("fig " * 1900))
            except OSError:
                pass

    threads = [threading.Thread(target=hammer, daemon=True) for _ in range(6)]
    for thread in threads:
        thread.start()
    busy = [timed(lambda: Visitor(service).get("/shortlist?zone=7a").status)[0] for _ in range(30)]
    stop.set()
    for thread in threads:
        thread.join()
    service.stop()
    few = Service(home.another(), limits=[])
    few.stop()
    limited = "ulimit -n 64; exec " + " ".join(f"'{word}'" for word in [Service.program, "serve", "--listen", f"127.0.0.1:{few.port}", "--database",
                                                                         few.home.address, "--log", "error"])
    few.process = __import__("subprocess").Popen(["sh", "-c", limited], cwd=few.home.folder, stdout=-3, stderr=-3)
    few.ready()
    silent = [raw(few) for _ in range(10)]
    with_few = Visitor(few).get("/").status
    for stream in silent:
        stream.close()
    good = shut_out == 200 and with_few == 200 and all(status == 200 for _, status in own)
    return good, (f"{len(held)} connections of one address: another is answered {shut_out}, readiness {median_ms([t for t, _ in own]):.0f} ms; six clients "
                  f"of 8 kB names: others {median_ms(quiet):.0f} → {median_ms(busy):.0f} ms; with 64 file handles and ten held: {with_few}")


def check_04_forwarded_addresses(home):
    """Sign-ins, of which an address has three a minute, as a proxy passes them on and as somebody else pretends to."""
    service = Service(home, "--trusted-proxies", "127.0.0.8/30, ::1", limits=[], log="warn").ready()

    def tried(peer, *forwarded):
        # Each of another name, since a name has tries of its own.
        sign_in = lambda nth: f"handle=nobody+{forwarded[0]}+{nth}&passphrase=a+guess+of+some+length".replace(":", "-")
        return [Visitor(service, peer).send("POST", "/account/sign-in", sign_in(nth), x_forwarded_for=address).status
                for nth, address in enumerate(forwarded)]

    apart = tried("127.0.0.9", *[f"198.51.100.{n}" for n in range(1, 7)])
    of_64 = tried("127.0.0.9", *[f"2001:db8:1:2::{n}" for n in range(1, 7)])
    mapped = tried("127.0.0.10", *["::ffff:203.0.113.5", "203.0.113.5"] * 3)
    pretended = tried("127.0.0.2", *[f"192.0.2.{n}" for n in range(1, 7)])
    service.stop()
    with open(service.log, encoding="utf-8") as log:
        warnings = sum("forwarded" in line.lower() or "X-Forwarded-For" in line for line in log)
    allowed = [statuses.count(401) for statuses in (apart, of_64, mapped, pretended)]
    return allowed == [6, 3, 3, 3] and warnings == 1, (
        f"of six sign-ins each: from six addresses behind a proxy of a named network {allowed[0]} looked at, from six of one /64 {allowed[1]}, from one "
        f"written in two ways {allowed[2]}, pretended by an unnamed peer {allowed[3]}; warnings in the log {warnings}")


def check_05_what_is_public_is_built_once(home):
    """Readers of /data and of pages while what is public changes again and again."""
    usual = ["--joins-per-hour", "1000", "--sign-ins-per-minute", "1000"]
    service, judge, (fern,) = judge_and_growers(home, ["fern grower"], limits=usual)
    for nth in range(20):
        judge.accept(fern.report(coldest=str(5 + nth), place=f"row {nth}"))
    first, status = timed(lambda: Visitor(service).get("/data").status)
    again, _ = timed(lambda: Visitor(service).get("/data").status)
    grower = Visitor(service).join("moss grower")
    credits, stands = [], "unnamed"
    for _ in range(60):
        other = "handle" if stands == "unnamed" else "unnamed"
        credits.append(grower.post("/account/credit", credit=other).status)
        stands = other if credits[-1] == 303 else stands
    toggler, stop = Visitor(service).join("reed grower"), threading.Event()

    def toggle():
        for nth in range(30):
            toggler.post("/account/credit", credit=["handle", "unnamed"][nth % 2])
        stop.set()

    threading.Thread(target=toggle, daemon=True).start()
    data, pages = [], []
    while not stop.is_set() or len(data) < 20:
        data += [timed(lambda: Visitor(service).get("/data").status)]
        pages += [timed(lambda: Visitor(service).get("/").status)]
    good = status == 200 and credits.count(303) <= 31 and credits.count(429) >= 29 and all(s == 200 for _, s in data + pages)
    return good, (f"the first /data {1000 * first:.0f} ms, the next {1000 * again:.0f} ms; of 60 changes of how a member is named {credits.count(303)} "
                  f"taken, {credits.count(429)} refused; beside changes: /data {median_ms([t for t, _ in data]):.0f} ms, a page "
                  f"{median_ms([t for t, _ in pages]):.0f} ms")


def check_06_long_names_at_sign_in(home):
    """A thousand sign-ins with names of 60 kB from many addresses."""
    service = Service(home, limits=[]).ready()
    Visitor(service).get("/account")
    before = service.megabytes()
    attempt = lambda n: Visitor(service, f"127.1.{n // 200}.{n % 200 + 1}").post("/account/sign-in", handle=f"{n} " + "x" * 60_000, passphrase="a guess of some length")
    answers = [attempt(n) for n in range(1000)]
    after = service.megabytes()
    statuses = {status: [a.status for a in answers].count(status) for status in {a.status for a in answers}}
    longest = max(len(answer.bytes) for answer in answers)
    return after - before < 30 and longest < 20_000, f"answers {statuses}, the longest {longest // 1000} kB; {before:.0f} → {after:.0f} MB"


def check_07_forecasts(home):
    """240 questions for a forecast of 240 places, then 240 of one place; the relay answers after a second."""
    asked, lock, at_work, most = [], threading.Lock(), [0], [0]

    class Weather(http.server.BaseHTTPRequestHandler):
        def do_GET(self):
            with lock:
                asked.append(self.path)
                at_work[0] += 1
                most[0] = max(most[0], at_work[0])
            time.sleep(1)
            with lock:
                at_work[0] -= 1
            self.send_response(404)
            self.send_header("content-length", "0")
            self.end_headers()

        def log_message(self, *_):
            pass

    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Weather)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    service = Service(home, "--forecast-relay", f"http://127.0.0.1:{server.server_port}", limits=[]).ready()
    ask = lambda n: Visitor(service, f"127.2.0.{n % 200 + 1}").post("/cold-night", scale="c", fetch="forecast", latitude=f"{30 + n / 10:.2f}", longitude="-80").status
    one = at_once([lambda: ask(0)] * 240)
    of_one = len(asked)
    began = time.monotonic()
    many = at_once([lambda n=n: ask(n) for n in range(1, 241)])
    took, outward = time.monotonic() - began, len(asked) - of_one
    page = Visitor(service).get("/").status
    server.shutdown()
    good = of_one <= 1 and outward <= 30 + took and page == 200 and not [s for s in one + many if s not in (200, 429, 503)]
    return good, (f"240 of one place: {of_one} outward; 240 of 240 places in {took:.0f} s: {outward} outward, at most {most[0]} at once; answers "
                  f"{ {str(s): (one + many).count(s) for s in set(one + many)} }")
