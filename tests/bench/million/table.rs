//! Figures by what they are of, a column for each society, with exponents of growth and aims.

use std::fmt;

/// Whether a figure should stay below its aim or reach it.
#[derive(Clone, Copy)]
enum Aim {
    Below(f64),
    AtLeast(f64),
}

/// What is aimed at with a million reports, by the beginning of a figure's name.
const AIMS: [(&str, Aim); 29] = [
    ("accepted report → moved curve, s", Aim::Below(10.0)),
    ("/reports first", Aim::Below(50.0)),
    ("/reports again", Aim::Below(50.0)),
    ("/reports accepting", Aim::Below(50.0)),
    ("own report first", Aim::Below(50.0)),
    ("own report again", Aim::Below(50.0)),
    ("own report accepting", Aim::Below(50.0)),
    ("review case first", Aim::Below(50.0)),
    ("review case again", Aim::Below(50.0)),
    ("review case accepting", Aim::Below(50.0)),
    ("/data first", Aim::Below(50.0)),
    ("/data again", Aim::Below(50.0)),
    ("/data accepting", Aim::Below(50.0)),
    ("members first", Aim::Below(50.0)),
    ("members again", Aim::Below(50.0)),
    ("members accepting", Aim::Below(50.0)),
    ("memory after pages, MB", Aim::Below(300.0)),
    ("memory at most, MB", Aim::Below(600.0)),
    ("export: memory at most, MB", Aim::Below(100.0)),
    ("import of its own release, rows/s", Aim::AtLeast(20_000.0)),
    ("ratio API gzip", Aim::AtLeast(0.5)),
    ("ratio API plain", Aim::AtLeast(0.5)),
    ("ratio page gzip", Aim::AtLeast(0.4)),
    ("ratio page plain", Aim::AtLeast(0.4)),
    ("cold question API, ms", Aim::Below(5.0)),
    ("cold question page, ms", Aim::Below(8.0)),
    ("largest page, kB", Aim::Below(100.0)),
    ("ratio accepting API gzip", Aim::AtLeast(0.5)),
    ("ratio accepting page gzip", Aim::AtLeast(0.4)),
];

impl Aim {
    fn is_met(self, value: f64) -> bool {
        match self {
            Self::Below(most) => value < most,
            Self::AtLeast(least) => value >= least,
        }
    }
}

impl fmt::Display for Aim {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Below(most) => write!(f, "< {most}"),
            Self::AtLeast(least) => write!(f, "≥ {least}"),
        }
    }
}

/// Figures of one society, in the order in which they came.
#[derive(Default)]
pub struct Figures(Vec<(String, f64)>);

impl Figures {
    pub fn add(&mut self, name: impl Into<String>, value: f64) {
        let name = name.into();
        eprintln!("{name:<58}{:>12}", written(value));
        self.0.push((name, value));
    }

    fn get(&self, name: &str) -> Option<f64> {
        self.0.iter().find(|(own, _)| own == name).map(|(_, value)| *value)
    }
}

/// Three digits, and no more zeros than that takes.
fn written(value: f64) -> String {
    match value.abs() {
        _ if value.is_nan() => "–".to_owned(),
        size if size >= 100.0 => format!("{value:.0}"),
        size if size >= 10.0 => format!("{value:.1}"),
        _ => format!("{value:.2}"),
    }
}

/// Societies side by side.
#[derive(Default)]
pub struct Table(Vec<(&'static str, usize, Figures)>);

impl Table {
    pub fn add(&mut self, engine: &'static str, reports: usize, figures: Figures) {
        self.0.push((engine, reports, figures));
    }

    /// Exponent of growth of a figure over the last two sizes of one engine.
    fn exponent(&self, name: &str) -> Option<f64> {
        let (engine, reports, last) = self.0.last()?;
        let (_, fewer, before) = self.0.iter().rev().skip(1).find(|(other, fewer, _)| other == engine && fewer < reports)?;
        let (now, then) = (last.get(name)?, before.get(name)?);
        (now > 0.0 && then > 0.0).then(|| (now / then).ln() / (*reports as f64 / *fewer as f64).ln())
    }
}

impl fmt::Display for Table {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Some((_, _, last)) = self.0.last() else { return Ok(()) };
        write!(f, "\n{:<58}", "")?;
        for (engine, reports, _) in &self.0 {
            let engine = if *engine == "SQLite" { "lite" } else { "pg" };
            write!(f, "{:>14}", format!("{reports} {engine}"))?;
        }
        writeln!(f, "{:>9}  aim at a million", "grows")?;
        for (name, value) in &last.0 {
            write!(f, "{name:<58}")?;
            for (_, _, figures) in &self.0 {
                write!(f, "{:>14}", figures.get(name).map_or_else(String::new, written))?;
            }
            let grows = self.exponent(name).map_or_else(String::new, |exponent| format!("n^{exponent:.2}"));
            write!(f, "{grows:>9}")?;
            let aim = AIMS.iter().find(|(beginning, _)| name.starts_with(beginning));
            match aim.filter(|_| !name.ends_with("kB") || name.starts_with("largest")) {
                Some((_, aim)) => writeln!(f, "  {aim} {}", if aim.is_met(*value) { "met" } else { "NOT MET" })?,
                None => writeln!(f)?,
            }
        }
        Ok(())
    }
}
