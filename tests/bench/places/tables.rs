//! The tables that the file is made from.

use std::path::Path;
use std::process::Command;

use serde::Deserialize;
use serde::de::DeserializeOwned;
use sha2::{Digest, Sha256};

#[derive(Deserialize)]
pub struct Place {
    pub id: u32,
    pub name: String,
    pub cc: String,
    pub admin1: String,
    pub lat: f64,
    pub lon: f64,
    pub elev_m: Option<f64>,
    pub pop: u64,
}

#[derive(Deserialize)]
pub struct OtherNames {
    pub id: u32,
    pub alt_names: String,
}

#[derive(Deserialize)]
pub struct Region {
    pub code: String,
    pub name: String,
}

#[derive(Deserialize)]
pub struct Climate {
    pub id: u32,
    pub mean_annual_min_c: f64,
    pub sd_annual_min_c: f64,
    pub tmin_coldest_month_c: f64,
    pub tmean_warmest_month_c: f64,
    pub last_frost_doy: Option<f64>,
    pub first_frost_doy: Option<f64>,
    pub err_c: f64,
    pub nearest_station_km: f64,
}

#[derive(Deserialize)]
pub struct Station {
    pub id: String,
    pub name: String,
    pub lat: f64,
    pub lon: f64,
    pub elev_m: Option<f64>,
    pub kind: String,
    pub period: String,
    pub n_winters: u8,
    pub source: String,
}

#[derive(Deserialize)]
pub struct Archive {
    pub id: String,
    pub name: String,
    pub lat: f64,
    pub lon: f64,
    pub elev_m: Option<f64>,
    pub tmin_first: u16,
    pub tmin_last: u16,
}

/// Rows of a packed table, and its name with the SHA-256 of what it holds.
pub fn read<T: DeserializeOwned>(folder: &Path, table: &str) -> (Vec<T>, String) {
    let file = folder.join(format!("{table}.csv.xz"));
    let output = Command::new("xz").args(["-dc"]).arg(&file).output().expect("the command xz");
    assert!(output.status.success(), "{}: {}", file.display(), String::from_utf8_lossy(&output.stderr));
    let digest = Sha256::digest(&output.stdout).iter().fold(String::new(), |text, byte| text + &format!("{byte:02x}"));
    let rows = csv::Reader::from_reader(output.stdout.as_slice()).deserialize().map(|row| row.unwrap()).collect();
    (rows, format!("{table}.csv {digest}\n"))
}
