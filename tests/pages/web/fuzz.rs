//! DOS-08 for a minute; for longer, `cargo bench --bench fuzz`. Nothing that is asked breaks anything.

use winterfig::records::Role;

use super::House;
use crate::support::client::REPORT;
use crate::support::fuzz::{Fuzz, Grammar, Seen, ask};

#[tokio::test]
async fn no_question_drawn_from_the_services_own_grammar_breaks_it() {
    let House { mut client, store, database: _database } = House::new().await;
    let stranger = client.another();
    client.join("fern").await;
    let mut steward = client.another();
    steward.join("moss").await;
    let moss = store.members().await.unwrap().into_iter().find(|member| member.handle.to_string() == "moss").unwrap();
    store.change_role(moss.id, Role::Administrator).await.unwrap();
    assert!(client.post("/reports/new", REPORT).await.status.is_redirection());
    let mut visitors = [stranger, client, steward];
    let grammar = Grammar::learn(&mut visitors).await;
    let (addresses, forms) = grammar.size();
    assert!(addresses > 100 && forms > 40, "{addresses} addresses, {forms} forms");
    let mut seen = Seen::default();
    ask(&mut visitors, &grammar, &mut Fuzz::new(20_261_126), 800, &mut seen).await;
    println!("{seen:?}");
    assert_eq!(seen.failures, Vec::<String>::new());
    // The draw reaches what lies behind the checks, and what stands before them.
    for status in [200, 303, 401, 403, 404, 405, 422] {
        assert!(seen.statuses.contains_key(&status), "never answered with {status}: {:?}", seen.statuses);
    }
}
