//! The command `climate`: what it prints, its JSON, its refusals.

use serde_json::Value;

use crate::cases::case_file;

/// What `winterfig climate` prints and its exit code (as a debug text: the type does not compare).
fn command(arguments: &[&str]) -> (String, String, String) {
    let all = ["winterfig", "climate"].iter().chain(arguments).map(std::ffi::OsString::from);
    let (mut out, mut err) = (Vec::new(), Vec::new());
    let code = winterfig::cli::run(all, &mut out, &mut err);
    (format!("{code:?}"), String::from_utf8(out).unwrap(), String::from_utf8(err).unwrap())
}

const STATIONS: [&str; 3] = ["seattle_tacoma_1948_2017.csv", "champion_nebraska_1982_2018.csv", "klein_altendorf_1998_2010.csv"];
const LAYOUTS: [&str; 3] =
    ["USW00024233.reencoded_1988_1991.dly", "USW00024233.reencoded_1988_1991.by_station.csv", "USW00024233.reencoded_1988_1991.access.csv"];

fn case_path(name: &str) -> Option<String> {
    case_file(&format!("climate/{name}")).map(|file| file.display().to_string())
}

#[test]
fn the_command_gives_the_keys_of_the_contract_for_every_record() {
    let files = STATIONS.into_iter().chain(LAYOUTS);
    for file in files {
        let Some(path) = case_path(file) else { return };
        let (code, out, err) = command(&[&path, "--json"]);
        assert_eq!((code, err.as_str()), (format!("{:?}", std::process::ExitCode::SUCCESS), ""), "{file}");
        let json: Value = serde_json::from_str(&out).unwrap();
        for pointer in [
            "/file/format",
            "/file/station",
            "/file/first",
            "/file/last",
            "/file/days",
            "/file/units_as_read",
            "/rejected",
            "/winters/0/winter",
            "/winters/0/minimum_c",
            "/winters/0/date",
            "/winters/0/days_missing",
            "/winters/0/used",
            "/winters/0/equivalent_minimum_c",
            "/yearly_minimum/winters_used",
            "/yearly_minimum/mean_c",
            "/yearly_minimum/sd_c",
            "/yearly_minimum/half_zone",
            "/yearly_minimum/gev_lmoments",
            "/yearly_minimum/gev_mle",
            "/yearly_minimum/chosen",
            "/yearly_minimum/why",
            "/yearly_minimum/quantiles_c",
            "/yearly_minimum/return_levels",
            "/yearly_minimum/trend",
            "/frost/threshold_c",
            "/frost/last_spring/p10",
            "/frost/first_autumn/p50",
            "/frost/frost_free_days/p90",
            "/degree_days/method",
            "/degree_days/base_c",
            "/degree_days/cap_c",
            "/degree_days/per_year_p10",
            "/degree_days/per_year_p90",
            "/chill/hours",
            "/chill/portions",
            "/doubtful",
            "/yearly_minimum/gev_prior",
            "/spells/thresholds_c/3",
            "/spells/nights_per_winter/-2.2/p50",
            "/spells/longest_run/-6.7/p90",
            "/spells/first_night/0",
            "/spells/weeks_or_more",
        ] {
            assert!(json.pointer(pointer).is_some(), "{file}: {pointer}");
        }
        assert!(!out.contains("NaN") && !out.contains("inf"));
        if file.starts_with("seattle") {
            for pointer in [
                "/yearly_minimum/gev_lmoments/location_c",
                "/yearly_minimum/gev_lmoments/covers_data",
                "/yearly_minimum/gev_mle/se/2",
                "/yearly_minimum/gev_mle/converged",
                "/yearly_minimum/quantiles_c/p10",
                "/yearly_minimum/return_levels/0/years",
                "/yearly_minimum/return_levels/2/low_c",
                "/yearly_minimum/trend/per_decade_k",
                "/yearly_minimum/trend/p_value",
            ] {
                assert!(json.pointer(pointer).is_some_and(|v| !v.is_null()), "{pointer}");
            }
        }
        let (_, words, _) = command(&[&path]);
        assert!(words.contains("Lowest temperature of a winter") && words.contains("last of spring"), "{file}");
    }
}

#[test]
fn the_command_answers_what_is_asked_beside_the_climate() {
    let Some(path) = case_path("seattle_tacoma_1948_2017.csv") else { return };
    let asked =
        ["--below", "-9", "--carry-below", "-4", "--hold", "2", "--heat-loss", "120", "--period", "1951-1980", "--period", "1988-2017"];
    let (_, out, err) = command(&[&[path.as_str(), "--json"], &asked[..]].concat());
    let json: Value = serde_json::from_str(&out).unwrap_or_else(|_| panic!("{err}"));
    assert_eq!(json["spells"]["thresholds_c"].as_array().unwrap().len(), 5);
    assert_eq!(json["periods"]["periods"][1]["yearly_minimum"]["half_zone"], "9a");
    assert!(json["spells"]["heating"]["design_spell"]["energy_kwh"]["p90"].as_f64().unwrap() > 0.0);
    assert!(json["spells"]["carrying"]["trips"]["p50"].as_f64().unwrap() > 0.0);
    let (_, words, _) = command(&[&[path.as_str()], &asked[..]].concat());
    for says in ["Cold nights, 69 winters", "Pots carried in below", "A shelter of 120 W/K", "Winters 1988–2017", "The second is +"] {
        assert!(words.contains(says), "{says}: {words}");
    }
}

#[test]
fn bad_input_ends_with_code_two_a_line_and_nothing_on_the_output() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("bad.csv");
    std::fs::write(&path, "date,tmin_c,tmax_c\n2000-01-01,1,5\n2000-01-02,one,5\n").unwrap();
    for (arguments, says) in [
        (vec![path.to_str().unwrap(), "--json"], "line 3: tmin “one” is not a number"),
        (vec!["no-such-file.dly"], "no-such-file.dly"),
        (vec![path.to_str().unwrap(), "--units", "kelvin"], "c, f and tenths_c"),
        (vec![path.to_str().unwrap(), "--latitude", "91"], "-90 to 90"),
        (vec![path.to_str().unwrap(), "--hold", "2"], "W/K"),
        (vec![path.to_str().unwrap(), "--period", "nineties"], "1961-1990"),
    ] {
        let (code, out, err) = command(&arguments);
        assert_eq!((code, out.as_str()), (format!("{:?}", std::process::ExitCode::from(2)), ""));
        assert!(err.contains(says), "{err}");
    }
}
