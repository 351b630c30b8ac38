//! The README and the guide say what the program does.

use std::path::Path;

use clap::Args;
use winterfig::settings::Settings;

fn read(name: &str) -> String {
    std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(name)).unwrap()
}

#[test]
fn the_table_of_settings_lists_every_setting_as_the_program_reads_it() {
    let command = Settings::augment_args(clap::Command::new("settings"));
    let wanted: Vec<String> = command
        .get_arguments()
        .map(|arg| {
            let default = arg
                .get_default_values()
                .first()
                .map_or(if arg.get_action().takes_values() { "none" } else { "false" }.to_owned(), |v| v.to_string_lossy().into_owned());
            let default = if default == "none" { default } else { format!("`{default}`") };
            let (flag, environment) = (arg.get_long().unwrap(), arg.get_env().unwrap().to_string_lossy().into_owned());
            format!("| `--{flag}` | `{environment}` | {default} | {} |", arg.get_help().unwrap())
        })
        .collect();
    let table: Vec<String> = read("README.md").lines().filter(|l| l.starts_with("| `--")).map(str::to_owned).collect();
    assert_eq!(table, wanted);
}

#[test]
fn every_command_of_the_program_stands_in_the_readme_and_no_other() {
    let mut help = Vec::new();
    let _ = winterfig::cli::run(["winterfig", "--help"].map(Into::into), &mut help, &mut Vec::new());
    let help = String::from_utf8(help).unwrap();
    let commands = help.lines().skip_while(|l| *l != "Commands:").skip(1).take_while(|l| !l.is_empty());
    let offered: Vec<&str> = commands
        .filter_map(|l| l.strip_prefix("  ").filter(|l| !l.starts_with(' ')))
        .filter_map(|l| l.split(' ').next())
        .filter(|c| *c != "help")
        .collect();
    let readme = read("README.md");
    let listed: Vec<&str> =
        readme.lines().filter_map(|l| l.strip_prefix("| `winterfig ")).filter_map(|l| l.split(['`', ' ']).next()).collect();
    assert_eq!(listed, offered);
}

#[test]
fn files_and_folders_that_the_documents_name_exist() {
    for document in ["README.md", "DEVELOPERS.md"] {
        let text = read(document);
        for named in text.split('`').skip(1).step_by(2) {
            let is_path = named.contains('/')
                && ["src/", "tests/", "templates/", "seed-data/", "static/", "migrations/", ".ci/"].iter().any(|p| named.starts_with(p))
                && !named.contains(['<', '*', ' ']);
            assert!(!is_path || Path::new(env!("CARGO_MANIFEST_DIR")).join(named).exists(), "{document}: {named}");
        }
    }
}
