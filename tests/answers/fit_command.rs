//! The command `fit` on a simulated file: what it prints beside the truth and two other programs.

use serde_json::Value;

use crate::cases::case;

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect()
}

/// What `winterfig fit` prints for a file of the cases under its own headings, its classes counted from 1 and its protection in words.
fn printed(file: &str, arguments: &[&str]) -> Value {
    let mut reader = csv::Reader::from_reader(file.as_bytes());
    let header = reader.headers().unwrap().clone();
    let column = |name: &str| header.iter().position(|h| h == name).unwrap();
    let (class, protect) = (column("class"), column("protect"));
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("reports.csv");
    let mut writer = csv::Writer::from_path(&path).unwrap();
    writer.write_record(&header).unwrap();
    for record in reader.records() {
        let record = record.unwrap();
        let cells = record.iter().enumerate().map(|(i, cell)| match i {
            i if i == class => (cell.parse::<u8>().unwrap() + 1).to_string(),
            i if i == protect => if cell == "1" { "wrap" } else { "none" }.to_owned(),
            _ => cell.to_owned(),
        });
        writer.write_record(cells).unwrap();
    }
    writer.flush().unwrap();
    let headings = ["id=record", "winter=year", "damage=y", "hardiness_class=class", "protection=protect"];
    let words = ["winterfig", "fit", path.to_str().unwrap(), "--json", "--no-scores"].into_iter().map(str::to_owned);
    let words = words.chain(headings.iter().flat_map(|h| ["--column".to_owned(), (*h).to_owned()]));
    let (mut out, mut err) = (Vec::new(), Vec::new());
    winterfig::cli::run(words.chain(arguments.iter().map(|a| (*a).to_owned())).map(Into::into), &mut out, &mut err);
    assert!(err.is_empty(), "{}", String::from_utf8_lossy(&err));
    serde_json::from_slice(&out).unwrap()
}

/// The command on the simulated file against its truth, beside R ordinal::clmm on true temperatures and numpyro's NUTS on read ones.
#[test]
fn the_command_prints_thresholds_as_near_the_truth_as_the_references() {
    let names = ["sim_1e4.csv", "sim_1e4.truth.json", "clmm_sim_1e4_temp_true_TRUE.ref.json", "nuts_sim_1e4_eiv.ref.json"];
    let found: Vec<String> = names.iter().filter_map(|name| case(&format!("statistics/sim/{name}"))).collect();
    let [file, truth, clmm, nuts] = found.as_slice() else { return };
    let [truth, clmm, nuts]: [Value; 3] = [truth, clmm, nuts].map(|text| serde_json::from_str(text).unwrap());
    let h = numbers(&truth["h"]);
    let error = |answer: &Value| {
        assert_eq!(answer["converged"], true);
        assert_eq!(answer["records"], 10_000);
        let cultivars = answer["cultivars"].as_array().unwrap();
        let squares = cultivars.iter().map(|c| {
            let number: usize = c["cultivar"].as_str().unwrap().parse().unwrap();
            (c["t50_c"][2].as_f64().unwrap() - h[number]).powi(2)
        });
        (squares.sum::<f64>() / cultivars.len() as f64).sqrt()
    };
    // True temperatures have no error: a column of noughts in front.
    let exact: Vec<String> = file.lines().enumerate().map(|(i, line)| format!("{},{line}", if i == 0 { "zero" } else { "0" })).collect();
    let exact = exact.join("\n");
    let exact = error(&printed(&exact, &["--priors", "none", "--column", "exposure_c=temp_true", "--column", "exposure_sd_c=zero"]));
    let theirs = clmm["rmse"].as_f64().unwrap();
    assert!(exact <= theirs + 1e-4, "{exact} K, the reference {theirs} K");
    let read = error(&printed(file, &["--column", "exposure_c=temp_obs", "--column", "exposure_sd_c=temp_sd"]));
    let theirs = nuts["rmse"].as_f64().unwrap();
    // NUTS samples every true temperature; treating the error as spread may cost a twentieth.
    assert!(read <= 1.05 * theirs, "{read} K, the reference {theirs} K");
}
