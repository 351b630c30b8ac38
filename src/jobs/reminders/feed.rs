//! A feed (RFC 4287): what is to be told, newest first.

use atom_syndication::{Content, Entry as FeedEntry, Feed, FixedDateTime, Generator, Link, Person, Text};
use jiff::Timestamp;

use crate::jobs::reminders::dates::id_of;
use crate::jobs::reminders::entry::{Entry, Head};

/// Media type.
pub const MEDIA_TYPE: &str = "application/atom+xml; charset=utf-8";
/// In whose name a feed goes where no society has a name.
const AUTHOR: &str = "winterfig";
/// Most entries.
const MOST: usize = 100;

/// A moment as the feed's library takes it (RFC 3339).
fn moment(at: Timestamp) -> Option<FixedDateTime> {
    at.strftime("%Y-%m-%dT%H:%M:%SZ").to_string().parse().ok()
}

fn link(rel: &str, href: String, media_type: Option<&str>) -> Link {
    Link { href, rel: rel.to_owned(), mime_type: media_type.map(str::to_owned), ..Link::default() }
}

fn entry(entry: &Entry, head: &Head<'_>) -> Option<FeedEntry> {
    let content = Content { value: Some(head.said(&entry.words)), content_type: Some("text".to_owned()), ..Content::default() };
    Some(FeedEntry {
        title: Text::plain(entry.title.clone()),
        id: format!("urn:uuid:{}", entry.id),
        updated: moment(entry.since)?,
        published: moment(entry.since),
        links: vec![link("alternate", format!("{}{}", head.origin, entry.path), None)],
        content: Some(content),
        ..FeedEntry::default()
    })
}

/// The feed as text.
pub fn write(entries: &[Entry], head: &Head<'_>, society: &str, now: Timestamp) -> Result<String, atom_syndication::Error> {
    let mut told: Vec<&Entry> = entries.iter().filter(|entry| entry.in_feed(now)).collect();
    told.sort_by(|a, b| b.since.cmp(&a.since).then(a.id.cmp(&b.id)));
    told.truncate(MOST);
    let newest = told.first().map_or(head.made, |entry| entry.since.max(head.made));
    let author = if society.is_empty() { AUTHOR } else { society };
    let feed = Feed {
        title: Text::plain(head.name()),
        subtitle: Some(Text::plain("What your garden is to be told, and what it is asked.")),
        id: format!("urn:uuid:{}", id_of(&format!("{} feed", head.member))),
        updated: moment(newest).unwrap_or_default(),
        authors: vec![Person { name: author.to_owned(), ..Person::default() }],
        generator: Some(Generator { value: AUTHOR.to_owned(), ..Generator::default() }),
        links: vec![
            link("self", format!("{}{}", head.origin, head.own), Some("application/atom+xml")),
            link("alternate", format!("{}{}", head.origin, crate::address::GARDEN), Some("text/html")),
        ],
        entries: told.into_iter().filter_map(|told| entry(told, head)).collect(),
        lang: Some("en".to_owned()),
        ..Feed::default()
    };
    let written = feed.write_to(Vec::new())?;
    Ok(String::from_utf8_lossy(&written).into_owned())
}
