"""Items 8 to 14 and 18: what members are promised."""
import csv
import datetime
import io
import itertools
import json
import os
import re
import signal
import tempfile
import threading
import time
import zipfile

from .service import PASSPHRASE, REPORT, Relay, Service, Visitor, judge_and_growers, median_ms, timed


def table(answer, name):
    with zipfile.ZipFile(io.BytesIO(answer.bytes)) as package:
        return package.read(name).decode()


def check_08_cells_of_neighbours(home):
    """Two worlds that differ in the square of a member who chose otherwise, through pages, API and packages; every order of three."""
    squares, doors, differing, worlds = [("44.12", "12.12"), ("44.33", "12.37")], 0, 0, 0
    for choice, order in itertools.product(["nowhere", "coarse"], itertools.permutations(range(3))):
        seen = []
        for hidden in squares:
            service, judge, people = judge_and_growers(home.another(), ["fern grower", "moss grower", "reed grower"])
            names, worlds = {}, worlds + 1
            for nth in order:
                square = hidden if nth == 2 else squares[0]
                report = people[nth].report(latitude=square[0], longitude=square[1], publish=choice if nth == 2 else "grid", coldest=str(15 - nth))
                judge.accept(report)
                names[report] = f"report-{nth}"
            judge.post("/data/releases")
            visitor = Visitor(service)
            addresses = ["/reports", "/api/v1/reports", "/cultivars/celeste", *(f"/reports/{report}" for report in names)]
            addresses += [f"/reports?latitude={lat}&longitude={lon}" for lat, lon in squares]
            shown = [visitor.get(address).text for address in addresses]
            for address in ["/data/winterfig-reports.zip", "/data/releases/1/winterfig-reports.zip"]:
                package = visitor.get(address)
                shown += [table(package, name) for name in ["winter-reports.csv", "plants.csv", "withdrawn.csv"]]
            service.stop()
            # Ids and codes are random: they are named in the order of the reports.
            for row in [row.split(",") for row in shown[-3].splitlines()[1:]]:
                names[row[1]] = names[row[0]].replace("report", "plant")
                names[row[-2]] = names[row[0]].replace("report", "code")
            for text_nth, text in enumerate(shown):
                for name, written in sorted(names.items(), key=lambda pair: -len(pair[0])):
                    text = text.replace(name, written) if name else text
                shown[text_nth] = "\n".join(sorted(text.splitlines()))
            seen.append(shown)
        doors += len(seen[0])
        differing += sum(one != other for one, other in zip(*seen))
    return differing == 0, f"{differing} of {doors} answers differ between two squares, {worlds} worlds of three members in every order"


def check_09_heat_of_a_withheld_place(home):
    """Two members count the heat to their dates from a kept record; one of them withholds the place."""
    service, judge, people = judge_and_growers(home, ["fern grower", "moss grower"])
    lines, day = ["date,tmin_c,tmax_c"], datetime.date(2004, 7, 1)
    while day < datetime.date(2016, 12, 31):
        low, high = (12.3, 23.1) if 4 <= day.month < 10 else (-2, 6)
        low = -4 - day.year % 5 if (day.month, day.day) == (1, 15) else low
        lines.append(f"{day},{low - day.day % 2:.1f},{high + day.day % 2:.1f}")
        day += datetime.timedelta(days=1)
    dates = {"winter": "2015/16", "looked_day": "1", "looked_month": "11", "looked_year": "2016", "fruit": "main_ripe", "first_growth_day": "11",
             "first_growth_month": "4", "first_growth_year": "2016", "first_ripe_day": "18", "first_ripe_month": "9", "first_ripe_year": "2016"}
    names = {}
    for person, publish in zip(people, ["grid", "nowhere"]):
        body = "".join(f"--edge\r\nContent-Disposition: form-data; name=\"{name}\"{more}\r\n\r\n{value}\r\n" for name, more, value in [
            ("keep_as", "", "Mill meadow"), ("latitude", "", "44.1"), ("file", '; filename="r.csv"', "\n".join(lines))]) + "--edge--\r\n"
        kept = person.send("POST", "/record", body.encode(), "multipart/form-data; boundary=edge")
        assert kept.status == 303, kept.text
        report = person.report(**dates, publish=publish, heat_site=kept.header("location").rsplit("=", 1)[1])
        judge.accept(report)
        names[report] = publish
    own = [re.search(r"(\d+) degree-days above 8 °C to the first ripe fig", person.get(f"/reports/{report}").text).group(1)
           for person, report in zip(people, names)]
    judge.post("/data/releases")
    heat = {}
    for address in ["/data/winterfig-reports.zip", "/data/releases/1/winterfig-reports.zip"]:
        for row in csv.DictReader(io.StringIO(table(Visitor(service).get(address), "winter-reports.csv"))):
            heat.setdefault(names[row["report_id"]], []).extend(row[name] for name in ["heat_to_growth_dd", "heat_to_ripe_dd", "heat_to_frost_dd"])
    open_pages = [Visitor(service).get(f"/reports/{report}").text + Visitor(service).get(f"/api/v1/reports/{report}").text for report in names]
    told = ["degree-days" in text for text in open_pages]
    given = [float(value) for value in heat["grid"] if value]
    good = not any(heat["nowhere"]) and given and all(value % 10 == 0 for value in given) and not told[1]
    return good, (f"to the first ripe fig by the member's own page {own[0]} degree-days; published {heat['grid']}; where the place is withheld "
                  f"{[value for value in heat['nowhere'] if value]}, on its public page: {'shown' if told[1] else 'none'}")


def check_10_leaving(home):
    """A member leaves beside a long reader; then a copy from before is put back."""
    service, judge, (fern,) = judge_and_growers(home, ["canary fern"])
    report = fern.report(place="canary mill", note="canary note", name="canary fig")
    judge.accept(report)
    canaries = ["canary fern", "canary mill", "canary note", "canary fig"]
    service.stop()
    copy = before_copy(home)
    service.start().ready()

    def traces():
        if home.name:
            home.cluster.sql(home.name, "CHECKPOINT")
            folder, path = home.sql("SHOW data_directory"), lambda name: home.sql(f"SELECT pg_relation_filepath('{name}')")
            files = [os.path.join(folder, path(name)) for name in ["member", "plant", "report", "report_version"]]
        else:
            files = [home.file + ending for ending in ["", "-wal"] if os.path.exists(home.file + ending)]
        return sum(canary.encode() in open(file, "rb").read() for file in files for canary in canaries)

    before = traces()
    copying = threading.Thread(target=lambda: service.command("backup", os.path.join(home.folder, "copy.db")))
    copying.start()
    left = fern.post("/account/leave", records="keep", leave_passphrase=PASSPHRASE)
    copying.join()
    began = time.monotonic()
    while traces() and time.monotonic() - began < 30:
        time.sleep(0.1)
    after, waited = traces(), time.monotonic() - began
    closed = Visitor(service).post("/account/join", handle="canary fern", passphrase=PASSPHRASE).status
    kept = [row["report_id"] for row in json.loads(Visitor(service).get("/api/v1/reports").text)["reports"]]
    service.stop()
    put_back(home, copy)
    service.start().ready()
    again = [row["report_id"] for row in json.loads(Visitor(service).get("/api/v1/reports").text)["reports"]]
    came_back = service.command("member", "list").stdout.count("canary") if home.name else None
    service.stop()
    came_back = service.command("member", "list").stdout.count("canary") if came_back is None else came_back
    good = after == 0 < before and left.status in (200, 303) and closed == 422 and report not in kept and again == kept and came_back == 0
    return good, (f"{before} traces before, {after} after {waited:.1f} s; the name again: {closed}; the report has a new id: {report not in kept}; a copy "
                  f"from before put back: {came_back} members back, the same new ids: {again == kept}")


def before_copy(home):
    """A copy of a database that nobody has open."""
    if home.name:
        home.cluster.sql("postgres", f"CREATE DATABASE {home.name}_before TEMPLATE {home.name}")
        return f"{home.name}_before"
    with open(home.file, "rb") as file:
        return file.read()


def put_back(home, copy):
    if home.name:
        home.cluster.sql("postgres", f"DROP DATABASE {home.name}")
        home.cluster.sql("postgres", f"ALTER DATABASE {copy} RENAME TO {home.name}")
        return
    for ending in ["-wal", "-shm"]:
        if os.path.exists(home.file + ending):
            os.remove(home.file + ending)
    with open(home.file, "wb") as file:
        file.write(copy)


def check_11_tries_of_a_passphrase(home):
    """A known device and a session have ten tries; a reset lets its device in and ends the tokens."""
    relay = Relay()
    service = Service(home, *mail_words(relay)).ready()
    fern = Visitor(service).join("fern grower", email="fern@example.org")
    assert fern.post(relay.link()).status in (200, 303)
    device = {name: value for name, value in fern.cookies.items() if name.endswith("device")}
    on_device = [Visitor(service, **device).post("/account/sign-in", handle="fern grower", passphrase=f"guess number {n} of many").status
                 for n in range(150)]
    right = Visitor(service, **device).post("/account/sign-in", handle="fern grower", passphrase=PASSPHRASE).status
    token = fern.post("/account/tokens", token_name="logger").text.split("<code>")[1].split("</code>")[0]
    asked = [fern.post("/account/end-session", session="others", session_passphrase="not the passphrase").status for _ in range(12)]
    leave = fern.post("/account/leave", records="keep", leave_passphrase=PASSPHRASE).status
    for nth in range(20):
        Visitor(service, f"127.0.3.{nth + 1}").post("/account/sign-in", handle="fern grower", passphrase="a stranger who guesses")
    Visitor(service).post("/account/forgotten", email="fern@example.org")
    new = Visitor(service, "127.0.0.8")
    reset = new.post(relay.link(), new_passphrase="eight dry summers on a shelf").status
    signed_in = new.post("/account/sign-in", handle="fern grower", passphrase="eight dry summers on a shelf").status
    report = json.dumps({key: REPORT[key] for key in ["name", "place", "winter", "top", "vitality", "cover"]})
    with_token = Visitor(service).send("POST", "/api/v1/reports", report, "application/json", authorization=f"Bearer {token}").status
    looked_at, confirmed = on_device.count(401), asked.count(422)
    good = looked_at == 10 and confirmed == 10 and right == leave == 429 and reset == 200 and signed_in == 303 and with_token == 401
    return good, (f"{looked_at} of 150 guesses on a known device and {confirmed} of 12 in a session were looked at; then the right one: {right}, {leave}; "
                  f"a reset while strangers lock the account: {reset}, its device signs in: {signed_in}; the member's old token: {with_token}")


def mail_words(relay):
    return ["--mail-relay", f"smtp://127.0.0.1:{relay.port}", "--mail-from", "figs@example.org", "--public-address", "http://figs.example.org"]


def check_12_forgotten_tells_nothing_by_time(home):
    """The same words and the same time whether an address is a member's or nobody's."""
    relay = Relay()
    service, people = Service(home, *mail_words(relay)).ready(), []
    for nth in range(40):
        people.append(f"grower{nth}@example.org")
        confirmed = Visitor(service).join(f"grower {nth}", email=people[-1]).post(relay.link()).status
        assert confirmed in (200, 303), confirmed
    times, words = {True: [], False: []}, set()
    for nth, address in enumerate(people):
        for known in ([True, False] if nth % 2 else [False, True]):
            typed = address if known else f"nobody{nth}@example.org"
            took, answer = timed(lambda: Visitor(service).post("/account/forgotten", email=typed))
            times[known].append(took)
            words.add((answer.status, answer.text))
    of_member, of_stranger = median_ms(times[True]), median_ms(times[False])
    good = len(words) == 1 and abs(of_member - of_stranger) < max(1.5, 0.3 * max(of_member, of_stranger))
    return good, f"{len(words)} answer in words; median {of_member:.2f} ms for members, {of_stranger:.2f} ms for strangers"


def check_13_names_that_pass_for_others(home):
    service = Service(home).ready()
    Visitor(service).join("Illex mission")
    bad = ["lllex mission", "ILLEX MISSION", "illex rnission", "Íllex-mission", "the stewards", "fig admin", "Winterfig team", "wlnterflg",
           "fig\u3164grower", "\u115f\u1160\u3164", "αβбв"]
    refused = [Visitor(service).post("/account/join", handle=name, passphrase=PASSPHRASE).status == 422 for name in bad]
    return all(refused), f"{sum(refused)} of {len(bad)} lookalikes refused"


def check_14_a_package_with_a_bad_id(home):
    service, judge, (fern,) = judge_and_growers(home, ["fern grower"])
    judge.accept(fern.report())
    package = Visitor(service).get("/data/winterfig-reports.zip").bytes
    service.stop()
    bad = os.path.join(home.folder, "bad.zip")
    with zipfile.ZipFile(io.BytesIO(package)) as source, zipfile.ZipFile(bad, "w") as target:
        for name in source.namelist():
            target.writestr(name, source.read(name) + (b"not-an-id,2026-08-01\r\n" if name == "withdrawn.csv" else b""))
    second = Service(home.another()).ready()
    second.stop()
    done = second.command("import", bad)
    # What an import of today refuses an older program may have let in.
    second.home.sql("INSERT INTO withdrawn_report (id, at_ms) VALUES ('not-an-id', 1)")
    second.start().ready()
    pages = [Visitor(second).get(address).status for address in ["/", "/reports", "/data", "/data/winterfig-reports.zip", "/api/v1/reports"]]
    line = next((line.strip() for line in done.stderr.splitlines() if "withdrawn.csv" in line), "nothing")
    return done.returncode == 2 and "line 2" in line and pages == [200] * 5, f"exit {done.returncode}, “{line}”; pages beside such a row {pages}"


def check_18_versions_of_releases(home):
    service, judge, (fern,) = judge_and_growers(home, ["fern grower"])
    reports = [fern.report(coldest=str(cold)) for cold in (15, 12, 10)]
    for report in reports:
        judge.accept(report)
    judge.post("/data/releases")
    fern.post(f"/reports/{reports[0]}/withdraw")
    judge.post("/data/releases")
    judge.post("/data/releases")
    released = []
    for number in (1, 2):
        package = table(Visitor(service).get(f"/data/releases/{number}/winterfig-reports.zip"), "datapackage.json")
        released.append(json.loads(package)["version"])
    third = Visitor(service).get("/data/releases/3/winterfig-reports.zip").status
    order = [tuple(map(int, version.split("+")[0].split("."))) for version in released]
    return order[0] < order[1] and third == 404, (f"release 1 of three reports is {released[0]}, release 2 after a withdrawal {released[1]}; asked for a third "
                                                  f"without a change: {third}")
