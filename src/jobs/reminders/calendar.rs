//! A calendar (RFC 5545): one event a date, of whole days, which leaves its reader free.

use icalendar::{Calendar, Class, Component, Event, Property};
use jiff::ToSpan;
use jiff::civil::Date;

use crate::jobs::reminders::entry::{Entry, Head, midnight};

/// Media type.
pub const MEDIA_TYPE: &str = "text/calendar; charset=utf-8";
/// Who made it (RFC 5545 §3.7.3).
const PRODUCT: &str = "-//winterfig//garden dates//EN";
/// How often it is worth fetching (RFC 7986 §5.7). DESIGN: warnings are made twice a day.
const REFRESH: &str = "PT6H";

/// A day without a time.
fn whole_day(name: &str, day: Date) -> Property {
    Property::new(name, day.strftime("%Y%m%d").to_string()).add_parameter("VALUE", "DATE").done()
}

fn event(entry: &Entry, head: &Head<'_>, stamp: &str) -> Event {
    let after = entry.until.unwrap_or(entry.from);
    // The day after the last one (RFC 5545 §3.6.1).
    let end = after.checked_add(1.day()).unwrap_or(after);
    Event::new()
        .uid(&entry.id.to_string())
        .append_property(Property::new("DTSTAMP", stamp))
        .append_property(whole_day("DTSTART", entry.from))
        .append_property(whole_day("DTEND", end))
        .summary(&entry.title)
        .description(&head.said(&entry.words))
        .url(&format!("{}{}", head.origin, entry.path))
        .class(Class::Private)
        .append_property(Property::new("TRANSP", "TRANSPARENT"))
        .done()
}

/// The calendar as text, as of a day.
pub fn write(entries: &[Entry], head: &Head<'_>, day: Date) -> String {
    // The same all day long, so that a reader who asks again learns that nothing is new.
    let stamp = midnight(day).strftime("%Y%m%dT%H%M%SZ").to_string();
    let mut calendar = Calendar::empty();
    for (name, value) in [("VERSION", "2.0"), ("PRODID", PRODUCT), ("CALSCALE", "GREGORIAN"), ("NAME", head.name())] {
        calendar.append_property(Property::new(name, value));
    }
    calendar.append_property(Property::new("REFRESH-INTERVAL", REFRESH).add_parameter("VALUE", "DURATION").done());
    for entry in entries {
        calendar.push(event(entry, head, &stamp));
    }
    calendar.to_string()
}
