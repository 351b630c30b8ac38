"""What programs of other people read in a calendar, a feed and a letter: icalendar, ics, feedparser, lxml and the standard library's email.

Prints what was read as JSON, or says what is wrong and ends with status 1.
"""

import email
import email.policy
import copy
import json
import os
import sys
from datetime import date


def refuse(condition, words):
    if not condition:
        sys.exit(words)


def calendar(raw):
    """RFC 5545: lines of at most 75 octets that end in CRLF (3.1), required properties (3.6, 3.6.1), whole days (3.3.4)."""
    import icalendar
    import ics

    refuse(raw.endswith(b"\r\n") and raw.count(b"\n") == raw.count(b"\r\n"), "lines do not end in CRLF")
    refuse(all(len(line) <= 75 for line in raw.split(b"\r\n")), "a line is longer than 75 octets")
    whole = icalendar.Calendar.from_ical(raw)
    refuse(whole.name == "VCALENDAR" and not whole.errors, f"errors: {whole.errors}")
    for name in ("VERSION", "PRODID"):
        refuse(name in whole, f"no {name}")
    events = []
    for event in whole.walk("VEVENT"):
        refuse(not event.errors, f"errors: {event.errors}")
        for name in ("UID", "DTSTAMP", "DTSTART", "DTEND", "SUMMARY", "DESCRIPTION", "URL"):
            refuse(name in event, f"no {name} in {event}")
        start, end = event["DTSTART"].dt, event["DTEND"].dt
        refuse(type(start) is date and type(end) is date and start < end, f"not whole days: {start} to {end}")
        events.append({
            "uid": str(event["UID"]), "stamp": event["DTSTAMP"].dt.isoformat(), "from": start.isoformat(), "after": end.isoformat(),
            "title": str(event["SUMMARY"]), "words": str(event["DESCRIPTION"]), "url": str(event["URL"]),
        })
    refuse(events, "no component")
    refuse(len({event["uid"] for event in events}) == len(events), "one UID stands twice")
    other = ics.Calendar(raw.decode())
    refuse({event.name for event in other.events} == {event["title"] for event in events}, "two readers read two things")
    refuse(all(event.all_day for event in other.events), "not all of whole days")
    return {"name": str(whole.get("NAME")), "events": sorted(events, key=lambda event: (event["from"], event["title"]))}


ATOM = "{http://www.w3.org/2005/Atom}"


def by_the_schema(root):
    """RFC 4287 appendix B: its RELAX NG schema, by libxml2; which has to refuse what is no feed, or it would prove nothing."""
    from lxml import etree

    schema = etree.RelaxNG(etree.parse(os.path.join(os.path.dirname(__file__), "atom.rng")))
    refuse(schema.validate(root), f"not by the schema: {schema.error_log}")

    def without(name):
        def change(feed):
            feed.remove(feed.find(ATOM + name))
        return change

    def twice(feed):
        feed.insert(0, copy.deepcopy(feed.find(f"{ATOM}id")))

    def no_date(feed):
        feed.find(f"{ATOM}updated").text = "yesterday"

    def unknown(feed):
        feed.insert(0, etree.Element(f"{ATOM}unknown"))

    def no_address(feed):
        del feed.find(f"{ATOM}link").attrib["href"]

    for change in (without("title"), without("id"), without("updated"), twice, no_date, unknown, no_address):
        broken = copy.deepcopy(root)
        change(broken)
        refuse(not schema.validate(broken), f"the schema takes anything: {change}")


def feed(raw):
    """RFC 4287: one id, title and updated in a feed (4.1.1) and an entry (4.1.2), an author, IRIs as ids, dates of RFC 3339 (3.3)."""
    import feedparser
    from lxml import etree

    read = feedparser.parse(raw)
    refuse(not read.bozo, f"not well formed: {read.get('bozo_exception')}")
    refuse(read.version == "atom10", f"read as {read.version}")
    root = etree.fromstring(raw)
    refuse(root.tag == f"{ATOM}feed", root.tag)
    by_the_schema(root)
    refuse(root.findall(f"{ATOM}author/{ATOM}name"), "no author")
    for element in [root, *root.findall(f"{ATOM}entry")]:
        for name in ("id", "title", "updated"):
            refuse(len(element.findall(ATOM + name)) == 1, f"not one {name}")
        refuse(element.find(f"{ATOM}id").text.startswith("urn:uuid:"), "an id that is no IRI")
        alternate = [link for link in element.findall(f"{ATOM}link") if link.get("rel", "alternate") == "alternate"]
        refuse(len(alternate) == 1, "not one link to a page")
    refuse([link for link in root.findall(f"{ATOM}link") if link.get("rel") == "self"], "no link to itself")
    refuse(read.feed.get("updated_parsed"), "no date")
    ids = [entry.id for entry in read.entries]
    refuse(len(set(ids)) == len(ids), "one id stands twice")
    refuse(all(entry.get("updated_parsed") for entry in read.entries), "an entry without a date")
    return {
        "title": read.feed.title, "updated": read.feed.updated, "author": read.feed.author,
        "entries": [{"id": e.id, "title": e.title, "updated": e.updated, "words": e.content[0].value, "url": e.link} for e in read.entries],
    }


def letter(raw):
    """RFC 5322 and MIME: headers, and the parts of a letter by their types."""
    message = email.message_from_bytes(raw, policy=email.policy.default)
    refuse(not message.defects, f"defects: {message.defects}")
    parts = []
    for part in message.walk():
        refuse(not part.defects, f"defects: {part.defects}")
        if not part.is_multipart():
            body = part.get_content()
            parts.append({
                "type": part.get_content_type(), "id": part.get("Content-ID"), "disposition": part.get_content_disposition(),
                "text": body if isinstance(body, str) else None, "bytes": len(body), "begins": None if isinstance(body, str) else body[:8].hex(),
            })
    return {"kind": message.get_content_type(), "headers": {name: str(value) for name, value in message.items()}, "parts": parts}


if __name__ == "__main__":
    print(json.dumps({"calendar": calendar, "feed": feed, "letter": letter}[sys.argv[1]](sys.stdin.buffer.read())))
