//! Plain tables taken in by the command.

use crate::support::TestDatabase;
use crate::support::members::joined;
use winterfig::records::Role;

fn command(words: &[&str]) -> (String, String) {
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let words: Vec<std::ffi::OsString> = ["winterfig"].iter().chain(words).map(Into::into).collect();
    // A runtime of its own is made by the command, so it runs beside the test's.
    std::thread::scope(|scope| {
        scope.spawn(|| winterfig::cli::run(words, &mut out, &mut err)).join().unwrap();
    });
    (String::from_utf8(out).unwrap(), String::from_utf8(err).unwrap())
}

const HEADER: &str = "name;place;planted;winter;looked;top;vitality;cover;coldest;coldest_unit;thermometer";

#[tokio::test(flavor = "multi_thread")]
async fn a_table_becomes_waiting_reports_of_a_member_all_or_none_and_once() {
    let database = TestDatabase::sqlite();
    let store = database.open().await;
    let member = joined(&*store, "fig grower", Role::Member).await;
    store.close().await;
    drop(store);
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("winters.csv");
    let path = file.to_str().unwrap();
    let import = |more: &[&str]| command(&[&["import", path, "--as", "fig grower", "--database", &database.address], more].concat());
    let write = |text: String| std::fs::write(&file, text).unwrap();

    // As a spreadsheet in half of the world writes it: a mark in front, semicolons, decimal commas, carriage returns.
    let two = "Celeste;by the mill;2018;2022/23;2023-05-20;tips;alive;none;-9,4;c;in_garden\r\n\
               Celeste;by the mill;2018;2023/24;2024-05-20;none;alive;none;-4;c;in_garden\r\n";
    write(format!("\u{feff}{HEADER}\r\n{two}Malta;by the weir;;2023/24;2024-05-20;half;alive;none;x;c;in_garden\r\n"));
    let (out, err) = import(&[]);
    assert_eq!(out, "");
    assert!(err.contains("1 of its rows cannot be used; nothing was taken") && err.contains("line 4: "), "{err}");
    assert!(err.contains("top “half”") && err.contains("coldest “x”"), "{err}");

    write(format!("\u{feff}{HEADER}\r\n{two}Malta;by the weir;;2023/24;2024-05-20;up_to_third;alive;none;12;f;in_garden\r\n"));
    let (out, err) = import(&["--dry-run"]);
    assert_eq!(err, "");
    assert!(out.contains("Celeste: Celeste, by its name\n") && out.contains("Malta: Celeste, by a synonym\n"), "{out}");
    assert!(out.contains("3 reports would be taken"), "{out}");
    assert!(import(&[]).0.contains("3 reports taken, as reports of fig grower that wait for review; 0 stood here already"));
    assert!(import(&[]).0.contains("0 reports taken, as reports of fig grower that wait for review; 3 stood here already"));
    // Another table with one more winter of a plant that is here.
    write(format!("{HEADER}\n{}Celeste;by the mill;2018;2024/25;2025-05-20;tips;alive;none;-8;c;in_garden\n", two.replace("\r\n", "\n")));
    let (out, err) = import(&[]);
    assert!(out.contains("1 reports taken") && out.contains("2 stood here already"), "{out} {err}");

    let store = database.open().await;
    assert_eq!(store.waiting_count().await.unwrap(), 4);
    assert_eq!(store.plants_of(member.id).await.unwrap().len(), 2, "rows that say the same of a plant are winters of one plant");
    store.close().await;
    drop(store);
    for (text, words) in [
        ("name,colour\na,b\n".to_owned(), "there is no field “colour”"),
        ("name,place\na,b\n".to_owned(), "no column “winter”"),
        (format!("{HEADER}\n"), "a header and no rows"),
        (format!("{HEADER}\n{two}{two}"), "an earlier row is the same"),
    ] {
        write(text);
        let (out, err) = import(&[]);
        assert!(out.is_empty() && err.contains(words), "{words}: {err}");
    }
    let (_, err) = command(&["import", path, "--as", "nobody here", "--database", &database.address]);
    assert!(err.contains("there is no member “nobody here”"), "{err}");
    let (_, err) = command(&["import", path, "--database", &database.address]);
    assert!(err.contains("--as HANDLE"), "{err}");
}
