//! Addresses of the service: every path and every link that carries a value is built here. `routes` answers them (a test compares the two).

mod gardens;

use std::fmt;

use form_urlencoded::{Serializer, byte_serialize};

pub use gardens::*;

/// A path without values in it, for example `/garden`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Path(&'static str);

/// The first page: the form of the shortlist.
pub const HOME: Path = Path("/");
/// The ranked shortlist.
pub const SHORTLIST: Path = Path("/shortlist");
/// A few figs at one place, with each other.
pub const COMPARE: Path = Path("/compare");
/// Plan for a cold night.
pub const COLD_NIGHT: Path = Path("/cold-night");
/// Dead or wait, dates of growth, figs of this year.
pub const SPRING: Path = Path("/spring");
/// From when it is safe to uncover, move out, plant out and cut.
pub const SAFE_DATES: Path = Path("/safe-dates");
/// Answer sheet for one cultivar.
pub const BENCH: Path = Path("/bench");
/// The stock of a nursery.
pub const NURSERY: Path = Path("/nursery");
/// A buyer's place, and what is in stock for it.
pub const NURSERY_COUNTER: Path = Path("/nursery/counter");
/// A sheet for each fig in stock.
pub const NURSERY_SHEETS: Path = Path("/nursery/sheets");
/// Labels for the stock.
pub const NURSERY_LABELS: Path = Path("/nursery/labels");
/// How a sheet of labels is laid out.
pub const NURSERY_LABELS_CSS: Path = Path("/nursery/labels.css");
/// Who did what to the stock.
pub const NURSERY_HISTORY: Path = Path("/nursery/history");
/// Heat of a shelter.
pub const SHELTER: Path = Path("/shelter");
/// Vents and shade for a sunny day.
pub const VENTS: Path = Path("/vents");
/// What each cover buys.
pub const COVERS: Path = Path("/covers");
/// Bulbs, cables and mats under a cover.
pub const SMALL_HEAT: Path = Path("/small-heat");
/// What a spot of the garden is worth.
pub const SPOTS: Path = Path("/spots");
/// Whether a store for pots will do.
pub const STORE: Path = Path("/store");
/// What a pot that froze solid has lost.
pub const FROZEN_POT: Path = Path("/frozen-pot");
/// What others measured in their shelters.
pub const SHELTERS: Path = Path("/shelters");
/// The catalogue.
pub const CULTIVARS: Path = Path("/cultivars");
/// A daily record of one's own.
pub const RECORD: Path = Path("/record");
/// The record of a station near a place, in the place of an estimate.
pub const RECORD_NEAR: Path = Path("/record/near");
/// Winter reports.
pub const REPORTS: Path = Path("/reports");
/// Form for a winter report.
pub const NEW_REPORT: Path = Path("/reports/new");
/// Open data.
pub const DATA: Path = Path("/data");
/// How the chances are made.
pub const METHOD: Path = Path("/method");
/// What cannot be computed.
pub const ADVICE: Path = Path("/advice");
/// A member's plants and places.
pub const GARDEN: Path = Path("/garden");
/// Batches of propagation, and how many to stick.
pub const PROPAGATION: Path = Path("/garden/propagation");
/// The ledger as a table.
pub const PROPAGATION_TABLE: Path = Path("/garden/propagation.csv");
/// Form of a new batch.
pub const NEW_BATCH: Path = Path("/garden/propagation/new");
/// Which mother plants to risk, and what a cut gives.
pub const MOTHERS: Path = Path("/garden/mothers");
/// Which trial next.
pub const TRIALS: Path = Path("/trials");
/// Offers a fig as a trial, or ends the offer.
pub const TRIAL_OFFER: Path = Path("/trials/offer");
/// Account, sign-in and joining.
pub const ACCOUNT: Path = Path("/account");
/// Warnings of cold nights.
pub const WARNINGS: Path = Path("/account/warnings");
/// Roles of members.
pub const MEMBERS: Path = Path("/members");
/// The office of administrators.
pub const OFFICE: Path = Path("/office");
/// Members, for the office.
pub const OFFICE_MEMBERS: Path = Path("/office/members");
/// What was done by hand.
pub const OFFICE_LOG: Path = Path("/office/log");
/// What stands of the society.
pub const OFFICE_SOCIETY: Path = Path("/office/society");
/// Reports from a table with one reporter a row.
pub const OFFICE_IMPORT: Path = Path("/office/import");
/// Invitations.
pub const OFFICE_INVITATIONS: Path = Path("/office/invitations");
/// Who answers for the service.
pub const IMPRINT: Path = Path("/imprint");
/// Reports that wait for a steward.
pub const REVIEW: Path = Path("/review");
/// Decides on several reports at once.
pub const REVIEW_SEVERAL: Path = Path("/review/several");
/// Takes decisions back.
pub const REVIEW_UNDO: Path = Path("/review/undo");
/// Proposals for the catalogue.
pub const PROPOSALS: Path = Path("/catalogue/proposals");
/// Form of a proposal for the catalogue.
pub const NEW_PROPOSAL: Path = Path("/catalogue/proposals/new");
/// Names in gardens that no entry has.
pub const NAMES: Path = Path("/catalogue/names");
/// A steward has looked at what an edition of the shipped catalogue changed.
pub const SEED_LOOKED: Path = Path("/catalogue/proposals/seed");
/// Short addresses of answers.
pub const SHORT: Path = Path("/a");
/// Pictures that go with a shared link.
pub const PREVIEW: Path = Path("/preview");
/// What programs that read the whole site may read.
pub const ROBOTS: Path = Path("/robots.txt");
/// How an answer is put on another site.
pub const EMBED: Path = Path("/embed");
/// The answer that is made to be framed.
pub const EMBEDDED_SHORTLIST: Path = Path("/embed/shortlist");
/// The pages that a search may find.
pub const SITEMAP: Path = Path("/sitemap.xml");
/// What programs ask; problems there are answered as JSON.
pub const API: Path = Path("/api");
/// The shortlist as JSON.
pub const API_SHORTLIST: Path = Path("/api/v1/shortlist");
/// What a spot is worth as JSON.
pub const API_SPOTS: Path = Path("/api/v1/spots");
/// What each cover buys as JSON.
pub const API_COVERS: Path = Path("/api/v1/covers");

impl Path {
    /// The path as text.
    pub const fn as_str(self) -> &'static str {
        self.0
    }

    /// With pairs in its query, each percent-encoded; without a query where there are none.
    pub fn with<K: AsRef<str>, V: AsRef<str>>(self, pairs: impl IntoIterator<Item = (K, V)>) -> String {
        self.with_query(&Serializer::new(String::new()).extend_pairs(pairs).finish())
    }

    /// With a query that is encoded already.
    pub fn with_query(self, query: &str) -> String {
        if query.is_empty() { self.0.to_owned() } else { format!("{}?{query}", self.0) }
    }

    /// At a place of the page, for example `/garden#places`.
    pub fn at(self, fragment: &str) -> String {
        format!("{}#{fragment}", self.0)
    }

    /// With one further part, percent-encoded, for example `/reports/{id}`.
    fn part(self, part: &dyn fmt::Display) -> String {
        format!("{}/{}", self.0, encoded_part(&part.to_string()))
    }
}

impl fmt::Display for Path {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.0)
    }
}

/// One part of a path, percent-encoded. A query writes a space as `+`, a path may not.
fn encoded_part(text: &str) -> String {
    byte_serialize(text.as_bytes()).map(|piece| if piece == "+" { "%20" } else { piece }).collect()
}

/// A cultivar of the catalogue.
pub fn cultivar(slug: impl fmt::Display) -> String {
    CULTIVARS.part(&slug)
}

/// Form of a report of a plant from a nursery.
pub fn report_from_nursery(name: &str, nursery: &str) -> String {
    NEW_REPORT.with([("name", name), ("nursery", nursery)])
}

/// Form of a proposal of one kind.
pub fn new_proposal(kind: &str) -> String {
    NEW_PROPOSAL.with([("kind", kind)])
}

/// Form of a proposal of one kind about an entry.
pub fn new_proposal_about(kind: &str, slug: impl fmt::Display) -> String {
    NEW_PROPOSAL.with([("kind", kind.to_owned()), ("cultivar", slug.to_string())])
}

/// A proposal for the catalogue.
pub fn proposal(id: impl fmt::Display) -> String {
    PROPOSALS.part(&id)
}

/// A proposal that has just been sent.
pub fn proposal_sent(id: impl fmt::Display) -> String {
    format!("{}?sent=yes", proposal(id))
}

/// Takes a proposal back.
pub fn proposal_withdrawal(id: impl fmt::Display) -> String {
    format!("{}/withdraw", proposal(id))
}

/// The history of an entry of the catalogue.
pub fn history(slug: impl fmt::Display) -> String {
    format!("{}/history", Path("/catalogue").part(&slug))
}

/// A short address of an answer.
pub fn short(code: impl fmt::Display) -> String {
    SHORT.part(&code)
}

/// The picture that goes with a link to an answer; `query` is encoded already.
pub fn preview(page: Path, query: &str) -> String {
    format!("{PREVIEW}{page}?{query}")
}

/// A winter report.
pub fn report(id: impl fmt::Display) -> String {
    REPORTS.part(&id)
}

/// A winter report that has just been sent.
pub fn sent_report(id: impl fmt::Display) -> String {
    format!("{}?sent=yes", report(id))
}

/// The form that changes a report.
pub fn report_change(id: impl fmt::Display) -> String {
    format!("{}/change", report(id))
}

/// Takes a report back.
pub fn report_withdrawal(id: impl fmt::Display) -> String {
    format!("{}/withdraw", report(id))
}

/// Form for a report of a plant of the garden.
pub fn report_of_plant(id: impl fmt::Display) -> String {
    NEW_REPORT.with([("plant", id.to_string())])
}

/// A plant of a member's garden.
pub fn plant(id: impl fmt::Display) -> String {
    Path("/garden/plants").part(&id)
}

/// The form that changes a plant.
pub fn plant_edit(id: impl fmt::Display) -> String {
    format!("{}/edit", plant(id))
}

/// Gives a plant the name of a cultivar.
pub fn plant_name(id: impl fmt::Display) -> String {
    format!("{}/name", plant(id))
}

/// A report before a steward.
pub fn review_case(id: impl fmt::Display) -> String {
    REVIEW.part(&id)
}

/// A report before a steward who goes through the queue by these pairs.
pub fn review_case_among<K: AsRef<str>, V: AsRef<str>>(id: impl fmt::Display, pairs: impl IntoIterator<Item = (K, V)>) -> String {
    let query = Serializer::new(String::new()).extend_pairs(pairs).finish();
    let case = review_case(id);
    if query.is_empty() { case } else { format!("{case}?{query}") }
}

/// Corrects the name or place of a report's plant.
pub fn review_correction(id: impl fmt::Display) -> String {
    format!("{}/correct", review_case(id))
}

/// What stewards see of a member who sends reports.
pub fn review_reporter(id: impl fmt::Display) -> String {
    Path("/review/reporters").part(&id)
}

/// Sets every counting report of a member aside.
pub fn review_set_aside(id: impl fmt::Display) -> String {
    format!("{}/set-aside", review_reporter(id))
}

/// The page of a saved daily record.
pub fn saved_record(id: impl fmt::Display) -> String {
    RECORD.with([("site", id.to_string())])
}

/// The file of a saved daily record, as it was sent.
pub fn saved_record_file(id: impl fmt::Display) -> String {
    Path("/record/file").with([("site", id.to_string())])
}

/// A saved shelter.
pub fn saved_shelter(id: impl fmt::Display) -> String {
    SHELTER.with([("kept", id.to_string())])
}

/// Publishes what a saved shelter measured.
pub fn shelter_to_publish(setup: impl fmt::Display) -> String {
    Path("/shelters/new").with([("setup", setup.to_string())])
}

/// A published shelter.
pub fn published_shelter(id: impl fmt::Display) -> String {
    SHELTERS.part(&id)
}

/// A published shelter that has just been sent.
pub fn sent_shelter(id: impl fmt::Display) -> String {
    format!("{}?sent=yes", published_shelter(id))
}

/// What a shelter was measured to gain.
pub fn shelter_report(id: impl fmt::Display) -> String {
    SHELTERS.part(&id)
}

/// Takes a report of a shelter back.
pub fn shelter_withdrawal(id: impl fmt::Display) -> String {
    format!("{}/withdraw", shelter_report(id))
}

/// A report of a shelter before a steward.
pub fn shelter_review(id: impl fmt::Display) -> String {
    Path("/review/shelters").part(&id)
}

/// Form that sends what a saved shelter was measured to gain.
pub fn new_shelter_report(setup: impl fmt::Display) -> String {
    Path("/shelters/new").with([("setup", setup.to_string())])
}

/// The newest package of open data.
pub fn data_file(file: &str) -> String {
    DATA.part(&file)
}

/// The package of a release.
pub fn release_file(number: impl fmt::Display, file: &str) -> String {
    format!("{}/{}", Path("/data/releases").part(&number), encoded_part(file))
}

/// One piece of advice.
pub fn advice(key: impl fmt::Display) -> String {
    ADVICE.at(&encoded_part(&key.to_string()))
}

/// Confirms an e-mail address.
pub fn email_confirmation(token: impl fmt::Display) -> String {
    Path("/account/address").part(&token)
}

/// Sets a new passphrase.
pub fn passphrase_reset(token: impl fmt::Display) -> String {
    Path("/account/reset").part(&token)
}

/// The question about a night that a member was warned of.
pub fn warned_night(night: impl fmt::Display) -> String {
    WARNINGS.at(&format!("night-{night}"))
}

/// Ends the letters that a member chose.
pub fn stop_letters(secret: impl fmt::Display) -> String {
    Path("/letters/stop").part(&secret)
}

/// Calendars at secret addresses.
pub const CALENDARS: Path = Path("/calendar");
/// Feeds at secret addresses.
pub const FEEDS: Path = Path("/feed");
/// How the name of a calendar ends.
pub const CALENDAR_ENDING: &str = ".ics";
/// How the name of a feed ends.
pub const FEED_ENDING: &str = ".atom";

/// A member's dates as a calendar, for whoever has the secret.
pub fn calendar(secret: &str) -> String {
    CALENDARS.part(&format!("{secret}{CALENDAR_ENDING}"))
}

/// What a member is told as a feed, for whoever has the secret.
pub fn feed(secret: &str) -> String {
    FEEDS.part(&format!("{secret}{FEED_ENDING}"))
}

/// Sign-in that goes on to a path of this service. A slash may stand in a query as it is.
pub fn sign_in_for(path: &str) -> String {
    ACCOUNT.with([("next", path)]).replace("%2F", "/")
}

/// A member, for the office.
pub fn office_member(id: impl fmt::Display) -> String {
    OFFICE_MEMBERS.part(&id)
}

/// A member, for the office, after something was done.
pub fn office_member_done(id: impl fmt::Display, act: &str) -> String {
    format!("{}?done={}", office_member(id), encoded_part(act))
}

/// Where somebody joins by an invitation.
pub fn invitation(code: &str) -> String {
    ACCOUNT.with([("invitation", code)])
}

/// A line of a nursery's stock.
pub fn stock_line(id: impl fmt::Display) -> String {
    Path("/nursery/stock").part(&id)
}

/// A file that pages load.
pub fn static_file(name: &str) -> String {
    Path("/static").part(&name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_typed_cannot_leave_its_part_of_an_address() {
        assert_eq!(cultivar("desert king/../x?y#z"), "/cultivars/desert%20king%2F..%2Fx%3Fy%23z");
        assert_eq!(SHORTLIST.with([("place", "Köln & Umland")]), "/shortlist?place=K%C3%B6ln+%26+Umland");
        assert_eq!(SHORTLIST.with([("", ""); 0]), "/shortlist");
        assert_eq!(sign_in_for("/garden/plants/a&b"), "/account?next=/garden/plants/a%26b");
        assert_eq!(release_file(3, "a.zip"), "/data/releases/3/a.zip");
    }
}
