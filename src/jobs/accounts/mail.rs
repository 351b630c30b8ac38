//! Letters on their way to a relay: at once and in the background where somebody waits for one, or one by one from those that are kept.

use std::sync::Arc;

use arc_swap::ArcSwap;
use lettre::Message;
use lettre::message::header::ContentType;
use lettre::message::header::{Header, HeaderName, HeaderValue};
use lettre::message::{Attachment, Mailbox, MessageBuilder, MultiPart, SinglePart};
use uuid::Uuid;

use crate::jobs::accounts::mail_relay::{BadMailSetting, NotTaken, RelaySettings, Transport, transport};
use crate::records::{LetterPicture, Society};

/// What takes letters to the relay.
#[derive(Debug, Clone)]
pub struct Mail {
    relay: Transport,
    from: Mailbox,
    public_address: Arc<str>,
    /// In whose name letters go.
    society: Arc<ArcSwap<Society>>,
}

/// A letter that its reader chose, and can stop by a link.
#[derive(Debug, Clone, Copy)]
pub struct Chosen<'a> {
    /// Known to relays by this, however often it is sent.
    pub id: Uuid,
    /// Address.
    pub to: &'a str,
    /// Subject line.
    pub subject: &'a str,
    /// Words.
    pub words: &'a str,
    /// Path of this service that stops such letters.
    pub stop: &'a str,
    /// A picture that stands in it.
    pub picture: Option<&'a LetterPicture>,
}

impl Mail {
    /// Letters through a relay, from an address, about the service at a public address.
    ///
    /// # Errors
    /// When a setting cannot be used.
    pub fn new(relay: &RelaySettings<'_>, from: &str, public_address: &str) -> Result<Self, BadMailSetting> {
        Ok(Self {
            relay: transport(relay)?,
            from: from.parse().map_err(|_| BadMailSetting::From(from.to_owned()))?,
            public_address: Arc::from(public_address.trim_end_matches('/')),
            society: Arc::default(),
        })
    }

    /// The same in the name of a society.
    #[must_use]
    pub fn signed_by(self, society: Arc<ArcSwap<Society>>) -> Self {
        Self { society, ..self }
    }

    /// The whole address of a page of this service.
    pub fn link(&self, path: &str) -> String {
        format!("{}{path}", self.public_address)
    }

    /// Hands a letter over in the background: no page waits for it, and no answer reveals whether one was sent. A relay that is down loses it;
    /// the member asks again. Letters with a link that opens an account go this way alone, since what is kept could be read.
    pub fn send(&self, to: &str, subject: &str, body: &str) {
        let letter = self.addressed(to).and_then(|letter| {
            // The library refuses line breaks in headers and encodes what is not ASCII.
            letter.subject(subject).body(self.signed(body)).map_err(|error| error.to_string())
        });
        let letter = match letter {
            Ok(letter) => letter,
            Err(error) => return tracing::warn!(error, "a letter could not be made"),
        };
        let relay = self.relay.clone();
        tokio::spawn(async move {
            match relay.send(letter).await {
                Ok(()) => tracing::info!("a letter was handed to the relay"),
                Err(error) => tracing::warn!(%error, "the relay did not take a letter"),
            }
        });
    }

    /// Hands over a letter that its reader chose, as text and as HTML, with what stops it in one tap (RFC 8058).
    ///
    /// # Errors
    /// When it could not be made or the relay did not take it.
    pub async fn deliver(&self, letter: Chosen<'_>) -> Result<(), NotTaken> {
        let stop = self.link(letter.stop);
        let words =
            self.signed(&format!("{}\n\nYou get this letter because you asked for such. To stop them, open\n{stop}\n", letter.words));
        let named = letter.picture.map(|picture| (format!("{}@{}", letter.id, self.from.email.domain()), picture));
        let html = html(&words, named.as_ref().map(|(name, picture)| (name.as_str(), picture.words.as_str())));
        let made = |error: String| NotTaken { why: format!("the letter could not be made ({error})"), for_good: true };
        let message = self
            .addressed(letter.to)
            .map_err(made)?
            .message_id(Some(format!("<{}@{}>", letter.id, self.from.email.domain())))
            .header(ListUnsubscribe(format!("<{stop}>")))
            .header(ListUnsubscribePost("List-Unsubscribe=One-Click".to_owned()))
            .subject(letter.subject)
            .multipart(parts(words, html, named)?)
            .map_err(|error| made(error.to_string()))?;
        self.relay.send(message).await
    }

    fn addressed(&self, to: &str) -> Result<MessageBuilder, String> {
        let to = to.parse::<Mailbox>().map_err(|error| format!("the address cannot be read: {error}"))?;
        Ok(Message::builder().from(self.from.clone()).to(to))
    }

    /// Words with the society's name under them. What stands under two hyphens and a space is a signature (RFC 3676, section 4.3).
    fn signed(&self, words: &str) -> String {
        let society = self.society.load();
        let named: Vec<&str> = [society.name.as_str(), society.contact.as_str()].into_iter().filter(|part| !part.is_empty()).collect();
        if named.is_empty() { words.to_owned() } else { format!("{words}\n-- \n{}\n", named.join("\n")) }
    }
}

/// A letter as text and as HTML; where there is a picture it is carried along beside the HTML that shows it (RFC 2387), so that no program asks
/// for it elsewhere.
fn parts(words: String, html: String, picture: Option<(String, &LetterPicture)>) -> Result<MultiPart, NotTaken> {
    let Some((name, picture)) = picture else { return Ok(MultiPart::alternative_plain_html(words, html)) };
    let kind = ContentType::parse("image/png")
        .map_err(|error| NotTaken { why: format!("the letter could not be made ({error})"), for_good: true })?;
    let drawn = Attachment::new_inline_with_name(name, "garden.png".to_owned()).body(picture.png.clone(), kind);
    let shown = MultiPart::related().singlepart(SinglePart::html(html)).singlepart(drawn);
    Ok(MultiPart::alternative().singlepart(SinglePart::plain(words)).multipart(shown))
}

/// A letter's words as simple HTML: paragraphs, line breaks, and links where a line is one; behind the first paragraph the picture, by the name
/// of its part and its words.
fn html(words: &str, picture: Option<(&str, &str)>) -> String {
    let escaped = html_escape::encode_double_quoted_attribute(words);
    let line = |line: &str| {
        let address = line.trim();
        if address.starts_with("https://") || address.starts_with("http://") {
            format!("<a href=\"{address}\">{address}</a>")
        } else {
            line.to_owned()
        }
    };
    let paragraph = |part: &str| format!("<p>{}</p>", part.trim().lines().map(line).collect::<Vec<_>>().join("<br>\n"));
    let mut paragraphs: Vec<String> = escaped.split("\n\n").filter(|part| !part.trim().is_empty()).map(paragraph).collect();
    if let Some((name, shows)) = picture {
        let shows = html_escape::encode_double_quoted_attribute(shows);
        let drawn = format!("<p><img src=\"cid:{name}\" width=\"600\" style=\"max-width: 100%\" alt=\"{shows}\"></p>");
        paragraphs.insert(paragraphs.len().min(1), drawn);
    }
    format!(
        "<!doctype html>\n<html lang=\"en\"><head><meta name=\"viewport\" content=\"width=device-width\"></head>\n<body style=\"overflow-wrap: anywhere\">\n{}\n</body></html>\n",
        paragraphs.join("\n")
    )
}

/// A header field that the library does not know.
macro_rules! header {
    ($kind:ident, $name:literal, $what:literal) => {
        #[doc = $what]
        #[derive(Debug, Clone)]
        struct $kind(String);

        impl Header for $kind {
            fn name() -> HeaderName {
                HeaderName::new_from_ascii_str($name)
            }

            fn parse(value: &str) -> Result<Self, Box<dyn std::error::Error + Send + Sync>> {
                Ok(Self(value.to_owned()))
            }

            fn display(&self) -> HeaderValue {
                HeaderValue::new(Self::name(), self.0.clone())
            }
        }
    };
}

header!(ListUnsubscribe, "List-Unsubscribe", "Where a letter is stopped (RFC 2369).");
header!(ListUnsubscribePost, "List-Unsubscribe-Post", "That one request there is enough (RFC 8058).");

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn settings_that_cannot_be_used_are_named() {
        let new = |url, from| Mail::new(&RelaySettings { url, ..RelaySettings::default() }, from, "https://figs.example.org/");
        assert_eq!(new("smtp://relay.example.org:2525", "figs@example.org").unwrap().link("/x"), "https://figs.example.org/x");
        assert!(new("smtps://localhost", "Figs <figs@example.org>").is_ok());
        assert!(matches!(new("smtp://localhost", "nobody"), Err(BadMailSetting::From(_))));
    }

    #[test]
    fn what_people_write_stays_text_in_html_and_links_are_links() {
        let page = html("A <b> & \"c\"\n\nSee\nhttps://figs.example.org/reports/1\n", None);
        assert!(page.contains("<p>A &lt;b&gt; &amp; &quot;c&quot;</p>"), "{page}");
        assert!(
            page.contains("<p>See<br>\n<a href=\"https://figs.example.org/reports/1\">https://figs.example.org/reports/1</a></p>"),
            "{page}"
        );
    }
}
