//! The table as Apache Parquet, for programs that read columns: pieces of some hundred thousand rows, each column by itself.

use super::{COLUMNS, Count, Figure, Row};
use crate::files::diagnostic::Problems;
use crate::files::write::{Growing, not_written};
use parquet::basic::{Repetition, Type as Physical};
use parquet::data_type::{DoubleType, Int64Type};
use parquet::errors::ParquetError;
use parquet::file::properties::WriterProperties;
use parquet::file::writer::SerializedFileWriter;
use parquet::schema::types::Type;
use std::io;
use std::sync::Arc;

/// Rows of a piece: 18 MB of memory.
const ROWS: usize = 131_072;

/// Columns of one piece.
enum Column {
    Counts(Vec<i64>),
    Figures(Vec<f64>),
}

/// A table that grows.
pub(super) struct Table {
    writer: SerializedFileWriter<Growing>,
    columns: Vec<Column>,
    rows: usize,
}

impl Table {
    pub(super) fn new(file: Growing) -> Result<Self, Problems> {
        let failed = file.problem(&io::Error::other("its columns cannot be described"));
        let writer = schema().and_then(|schema| {
            let properties = WriterProperties::builder()
                .set_created_by(concat!("pullcast ", env!("CARGO_PKG_VERSION")).to_owned())
                .build();
            SerializedFileWriter::new(file, schema, Arc::new(properties))
        });
        let empty = |(_, cell): &(&str, super::Cell)| match cell {
            Count(_) => Column::Counts(Vec::new()),
            Figure(..) => Column::Figures(Vec::new()),
        };
        Ok(Self {
            writer: writer.map_err(|_| failed)?,
            columns: COLUMNS.iter().map(empty).collect(),
            rows: 0,
        })
    }

    pub(super) fn push(&mut self, row: &Row<'_>) -> io::Result<()> {
        for (column, (_, cell)) in self.columns.iter_mut().zip(&COLUMNS) {
            match (column, cell) {
                (Column::Counts(all), Count(of)) => all.push(of(row)),
                (Column::Figures(all), Figure(of, _)) => all.push(of(row)),
                _ => {}
            }
        }
        self.rows += 1;
        if self.rows == ROWS {
            self.write().map_err(io::Error::other)?;
        }
        Ok(())
    }

    /// Writes the piece.
    fn write(&mut self) -> Result<(), ParquetError> {
        let mut piece = self.writer.next_row_group()?;
        for column in &mut self.columns {
            let Some(mut place) = piece.next_column()? else {
                break;
            };
            match column {
                Column::Counts(all) => {
                    place.typed::<Int64Type>().write_batch(all, None, None)?;
                    all.clear();
                }
                Column::Figures(all) => {
                    place.typed::<DoubleType>().write_batch(all, None, None)?;
                    all.clear();
                }
            }
            place.close()?;
        }
        piece.close()?;
        self.rows = 0;
        Ok(())
    }

    pub(super) fn finish(mut self) -> Result<(), Problems> {
        let last = if self.rows > 0 { self.write() } else { Ok(()) };
        let path = self.writer.inner().path().to_owned();
        let file = last.and_then(|()| self.writer.into_inner());
        file.map_err(|error| not_written(&path, &io::Error::other(error)))?
            .finish()
    }
}

/// All columns required, in order.
fn schema() -> Result<Arc<Type>, ParquetError> {
    let fields = COLUMNS.iter().map(|(name, cell)| {
        let physical = match cell {
            Count(_) => Physical::INT64,
            Figure(..) => Physical::DOUBLE,
        };
        let field = Type::primitive_type_builder(name, physical)
            .with_repetition(Repetition::REQUIRED)
            .build()?;
        Ok(Arc::new(field))
    });
    let fields = fields.collect::<Result<Vec<_>, ParquetError>>()?;
    let group = Type::group_type_builder("samples").with_fields(fields);
    Ok(Arc::new(group.build()?))
}
