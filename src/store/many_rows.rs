//! Many rows written by one statement: lists of values on SQLite; on PostgreSQL one array a column, which it reads a good deal faster than a
//! parameter for every value.

use sqlx::{PgConnection, QueryBuilder, SqliteConnection};

use super::StoreError;
use super::engine::Tx;

/// Values of one column, a row each; all columns of a statement have as many.
#[derive(Debug)]
pub(super) enum Values {
    Text(Vec<Option<String>>),
    Whole(Vec<Option<i64>>),
    Real(Vec<Option<f64>>),
}

impl Values {
    /// Text of every row.
    pub(super) fn text(values: impl Iterator<Item = impl Into<String>>) -> Self {
        Self::Text(values.map(|value| Some(value.into())).collect())
    }

    /// A whole number of every row.
    pub(super) fn whole(values: impl Iterator<Item = i64>) -> Self {
        Self::Whole(values.map(Some).collect())
    }

    fn len(&self) -> usize {
        match self {
            Self::Text(values) => values.len(),
            Self::Whole(values) => values.len(),
            Self::Real(values) => values.len(),
        }
    }
}

/// Names of columns with their values.
pub(super) type Columns = Vec<(&'static str, Values)>;

impl Tx {
    /// Writes rows into a table; SQLite binds every value, of which it takes 32,766 in one statement.
    pub(super) async fn insert_many(&mut self, table: &'static str, columns: Columns) -> Result<(), StoreError> {
        let rows = columns.first().map_or(0, |(_, values)| values.len());
        if rows == 0 {
            return Ok(());
        }
        let names: Vec<&str> = columns.iter().map(|(name, _)| *name).collect();
        let begin = format!("INSERT INTO {table} ({}) ", names.join(", "));
        match self {
            Self::Lite(transaction) => as_values(begin, rows, &columns, transaction).await?,
            Self::Pg(transaction) => as_arrays(begin, columns, transaction).await?,
        }
        Ok(())
    }
}

async fn as_values(begin: String, rows: usize, columns: &Columns, connection: &mut SqliteConnection) -> Result<(), sqlx::Error> {
    let mut query = QueryBuilder::new(begin);
    query.push_values(0..rows, |mut row, at| {
        for (_, values) in columns {
            match values {
                Values::Text(values) => row.push_bind(values.get(at).cloned().flatten()),
                Values::Whole(values) => row.push_bind(values.get(at).copied().flatten()),
                Values::Real(values) => row.push_bind(values.get(at).copied().flatten()),
            };
        }
    });
    query.build().execute(connection).await.map(|_| ())
}

async fn as_arrays(begin: String, columns: Columns, connection: &mut PgConnection) -> Result<(), sqlx::Error> {
    let mut query = QueryBuilder::new(begin);
    query.push("SELECT * FROM UNNEST(");
    let mut arrays = query.separated(", ");
    for (_, values) in columns {
        match values {
            Values::Text(values) => arrays.push_bind(values),
            Values::Whole(values) => arrays.push_bind(values),
            Values::Real(values) => arrays.push_bind(values),
        };
    }
    query.push(")");
    query.build().execute(connection).await.map(|_| ())
}
