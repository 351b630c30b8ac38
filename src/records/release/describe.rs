//! The documents beside the tables: Data Package, CSVW, README and citation.

use serde_json::{Value, json};

use super::columns::Column;
use super::{RECORDS_LICENCE, VOCABULARY_LICENCE};
use crate::records::Society;

/// Name of the package; never changes.
pub const NAME: &str = "fig-winter-survival-records";

/// A table of the package.
pub struct Table {
    /// File name.
    pub file: &'static str,
    /// Title.
    pub title: &'static str,
    /// Columns in order.
    pub columns: Vec<Column>,
    /// Columns of the primary key.
    pub key: &'static [&'static str],
    /// Column, and the file and column it refers to.
    pub refers: &'static [(&'static str, &'static str, &'static str)],
    /// Whether it is records (CC BY) or vocabulary (CC0).
    pub is_records: bool,
}

impl Table {
    fn resource(&self) -> &'static str {
        self.file.strip_suffix(".csv").unwrap_or(self.file)
    }
}

fn licence(is_records: bool) -> Value {
    if is_records {
        json!([{"name": "CC-BY-4.0", "title": "Creative Commons Attribution 4.0", "path": RECORDS_LICENCE}])
    } else {
        json!([{"name": "CC0-1.0", "title": "Creative Commons Zero 1.0", "path": VOCABULARY_LICENCE}])
    }
}

/// Address of a term.
fn address(term: &str) -> Option<String> {
    let (prefix, name) = term.split_once(':')?;
    let start = match prefix {
        "dwc" => "http://rs.tdwg.org/dwc/terms/",
        "dcterms" => "http://purl.org/dc/terms/",
        _ => return None,
    };
    Some(format!("{start}{name}"))
}

fn field(column: &Column, key: &[&str]) -> Value {
    let mut constraints = serde_json::Map::new();
    if column.required {
        constraints.insert("required".to_owned(), json!(true));
    }
    if key == [column.name] {
        constraints.insert("unique".to_owned(), json!(true));
    }
    if !column.words.is_empty() {
        constraints.insert("enum".to_owned(), json!(column.words));
    }
    let mut field = json!({"name": column.name, "type": column.kind.table_schema(), "description": column.text});
    if let Some(object) = field.as_object_mut() {
        if let Some(term) = address(column.term) {
            object.insert("rdfType".to_owned(), json!(term));
        }
        if !constraints.is_empty() {
            object.insert("constraints".to_owned(), Value::Object(constraints));
        }
    }
    field
}

/// What the documents say of one state of the data.
pub struct State<'a> {
    /// Version of the package.
    pub version: &'a str,
    /// Day of the newest change in the data; `None` for an empty package.
    pub newest: Option<jiff::civil::Date>,
    /// Reports.
    pub reports: usize,
    /// Plants.
    pub plants: usize,
    /// Shelters.
    pub shelters: usize,
    /// The society that publishes it, where one was named.
    pub society: Option<&'a Society>,
}

impl State<'_> {
    /// One ready line.
    pub fn citation(&self) -> String {
        let year = self.newest.map_or_else(|| "n.d.".to_owned(), |day| day.year().to_string());
        format!("{} ({year}). Fig winter survival records, version {} [data].", self.authors(), self.version)
    }

    /// Whom the records are by.
    fn authors(&self) -> String {
        format!("Members of {}", self.society.map(|society| society.name.as_str()).filter(|name| !name.is_empty()).unwrap_or("winterfig"))
    }

    /// Who collected and who publishes.
    fn contributors(&self) -> Value {
        let collected = json!({"title": self.authors(), "roles": ["dataCollector"]});
        match self.society.filter(|society| !society.name.is_empty()) {
            Some(society) => json!([collected, {"title": society.name, "roles": ["publisher"]}]),
            None => json!([collected]),
        }
    }

    /// Who publishes, where they are reached and who answers for it, as a paragraph; empty where nothing was said.
    fn published_by(&self) -> String {
        let Some(society) = self.society else { return String::new() };
        let parts: Vec<String> = [("Published by ", &society.name), ("Reached at: ", &society.contact), ("Imprint: ", &society.imprint)]
            .into_iter()
            .filter(|(_, text)| !text.is_empty())
            .map(|(label, text)| format!("{label}{}", text.replace('\n', ", ")))
            .collect();
        format!("{}\n\n", parts.join("\n\n"))
    }
}

/// `datapackage.json`.
pub fn data_package(state: &State<'_>, tables: &[Table]) -> Value {
    let resources: Vec<Value> = tables
        .iter()
        .map(|table| {
            let references: Vec<Value> = table
                .refers
                .iter()
                .map(|(column, file, other)| {
                    json!({"fields": [column], "reference": {"resource": file.strip_suffix(".csv").unwrap_or(file), "fields": [other]}})
                })
                .collect();
            let mut schema = json!({
                "$schema": "https://datapackage.org/profiles/2.0/tableschema.json",
                "fields": table.columns.iter().map(|column| field(column, table.key)).collect::<Vec<_>>(),
                "missingValues": [""],
                "primaryKey": table.key,
            });
            if let (false, Some(object)) = (references.is_empty(), schema.as_object_mut()) {
                object.insert("foreignKeys".to_owned(), json!(references));
            }
            json!({
                "name": table.resource(), "type": "table", "path": table.file, "title": table.title, "format": "csv", "mediatype": "text/csv",
                "encoding": "utf-8", "dialect": {"lineTerminator": "\r\n"}, "licenses": licence(table.is_records), "schema": schema,
            })
        })
        .collect();
    let mut package = json!({
        "$schema": "https://datapackage.org/profiles/2.0/datapackage.json",
        "name": NAME,
        "title": "Fig winter survival records",
        "description": "What winters did to fig plants, as their growers saw it, each looked at by a steward before publication.",
        "version": state.version,
        "keywords": ["fig", "Ficus carica", "cold hardiness", "winter survival", "cultivar"],
        "licenses": licence(true),
        "contributors": state.contributors(),
        "bibliographicCitation": state.citation(),
        "resources": resources,
    });
    if let (Some(day), Some(object)) = (state.newest, package.as_object_mut()) {
        object.insert("created".to_owned(), json!(format!("{day}T00:00:00Z")));
    }
    package
}

/// `csvw-metadata.json`.
pub fn csvw(tables: &[Table]) -> Value {
    let tables: Vec<Value> = tables
        .iter()
        .map(|table| {
            let columns: Vec<Value> = table
                .columns
                .iter()
                .map(|column| {
                    let mut described = json!({
                        "name": column.name, "titles": column.name, "datatype": column.kind.csvw(), "required": column.required,
                        "null": "", "dc:description": column.text,
                    });
                    if let (Some(term), Some(object)) = (address(column.term), described.as_object_mut()) {
                        object.insert("propertyUrl".to_owned(), json!(term));
                    }
                    described
                })
                .collect();
            let licence = if table.is_records { RECORDS_LICENCE } else { VOCABULARY_LICENCE };
            json!({"url": table.file, "dc:title": table.title, "dc:license": {"@id": licence}, "tableSchema": {"columns": columns, "primaryKey": table.key}})
        })
        .collect();
    json!({
        "@context": "http://www.w3.org/ns/csvw",
        "dialect": {"header": true, "encoding": "utf-8", "lineTerminators": ["\r\n"]},
        "tables": tables,
    })
}

/// `README.md` of the package.
pub fn read_me(state: &State<'_>, tables: &[Table]) -> String {
    let start = format!(
        "# Fig winter survival records\n\nVersion {}: {} reports of {} plants, and {} shelters.\n\n\
         What winters did to fig plants, as their growers saw it. Every report was looked at by a steward; those taken with doubt say so.\n\
         Places are rounded to a grid, notes and names in words are not published, and each reporter is named as they wish.\n\n\
         {}Licence: records CC BY 4.0; names, vocabularies, flags and schema CC0 1.0.\n\nTo cite: {}\n\n\
         Temperatures are °C. An empty cell is a question that was not answered. “not_sure” and “not_looked” are answers.\n\
         `damage` and `damage_high` are the damage levels that the answers leave possible: unharmed; tips (tips and overwintering figlets\n\
         lost); wood (part of the older wood dead); to_ground (all top growth dead, regrew); dead (no growth from anywhere by midsummer).\n\
         Reports listed in withdrawn.csv and shelters listed in withdrawn-shelters.csv stood in an earlier release and should no longer be\n\
         used. A shelter’s gain is the mean of inside less outside on measured nights after a change, less the same before it.\n\
         What people proposed for the catalogue and stewards took stands in catalogue-changes.csv, each with whom it is credited to; what\n\
         follows from it and from the shipped records stands in cultivar-facts.csv, with its works in sources.csv. Names of cultivars are\n\
         written after the International Code of Nomenclature for Cultivated Plants, the epithet in single quotation marks.\n",
        state.version,
        state.reports,
        state.plants,
        state.shelters,
        state.published_by(),
        state.citation()
    );
    let columns = tables.iter().map(|table| {
        let lines: Vec<String> = table.columns.iter().map(documented).collect();
        format!("\n## {}\n\n{}\n\n{}\n", table.file, table.title, lines.join("\n"))
    });
    std::iter::once(start).chain(columns).collect()
}

/// A column in a line of the documentation.
fn documented(column: &Column) -> String {
    let term = if column.term.is_empty() { String::new() } else { format!(" ({})", column.term) };
    format!("- `{}`{term}: {}", column.name, column.text)
}

/// A text in double quotation marks: what JSON writes, YAML reads.
fn quoted(text: &str) -> String {
    Value::String(text.to_owned()).to_string()
}

/// `CITATION.cff`.
pub fn citation_file(state: &State<'_>) -> String {
    let named = state.society.map(|society| society.name.as_str()).filter(|name| !name.is_empty());
    let publisher = named.map(|name| format!("contact:\n  - name: {}\n", quoted(name))).unwrap_or_default();
    let date = state.newest.map(|day| format!("date-released: {day}\n")).unwrap_or_default();
    format!(
        "cff-version: 1.2.0\nmessage: \"Please cite these data as below.\"\ntype: dataset\ntitle: \"Fig winter survival records\"\n\
         version: \"{}\"\n{date}license: CC-BY-4.0\nauthors:\n  - name: {}\n{publisher}",
        state.version,
        quoted(&state.authors()),
    )
}
