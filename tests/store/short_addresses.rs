//! The contract of short addresses in the store: every test runs on SQLite and on PostgreSQL.

use crate::support::members::moment;
use crate::support::on_both_engines;
use winterfig::records::{KeyFigure, ShortAddress, ShortCode};

fn address(question: &str, value: &str, at: i64) -> ShortAddress {
    ShortAddress { question: question.to_owned(), model: "m".to_owned(), figures: vec![KeyFigure::new("of", value)], made: moment(at) }
}

on_both_engines! {
    async fn a_short_address_is_kept_once_and_never_changed(database) {
        let store = database.open().await;
        let (first, later) = (address("/shortlist?zone=7a", "6", 1), address("/shortlist?zone=7a", "6", 2));
        let codes = ShortCode::candidates(&first.question, &first.figures);
        assert_eq!(store.keep_short_address(&codes, &first).await.unwrap(), Some(codes[0].clone()));
        assert_eq!(store.keep_short_address(&codes, &later).await.unwrap(), Some(codes[0].clone()));
        assert_eq!(store.short_address(&codes[0]).await.unwrap(), Some(first));
        assert_eq!(store.short_address(&codes[1]).await.unwrap(), None);
    }

    async fn another_answer_whose_code_is_taken_gets_the_next_and_none_where_all_are(database) {
        let store = database.open().await;
        let codes = ShortCode::candidates("x", &[]);
        let (first, second, third) = (address("/shortlist?zone=7a", "6", 1), address("/shortlist?zone=7a", "7", 1), address("/shortlist?zone=7b", "6", 1));
        for (one, code) in [(&first, 0), (&second, 1), (&second, 1), (&first, 0)] {
            assert_eq!(store.keep_short_address(&codes[..2], one).await.unwrap(), Some(codes[code].clone()));
        }
        assert_eq!(store.keep_short_address(&codes[..2], &third).await.unwrap(), None);
        assert_eq!(store.short_address(&codes[1]).await.unwrap(), Some(second));
    }
}
