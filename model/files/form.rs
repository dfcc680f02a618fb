//! A TOML table as the form that a part's reader fills in.

use std::path::Path;

use super::belief::{self, KEY_CONFLICT};
use super::diagnostic::Code;
use super::table::Table;
use super::{car, compressor_map, fuel, rated, turbine_map};
use crate::belief::prior::{Prior, PriorError};
use crate::boost::BoostControl;
use crate::fuel::FuelKind;
use crate::parts::{Fault, Form, Holds, Row, Span, WrittenMap, WrittenTurbine, Wrong};

/// A table, and the folder in which the files it names are looked for.
pub(super) struct TableForm<'t, 'a> {
    pub(super) table: &'t mut Table<'a>,
    pub(super) folder: &'t Path,
}

impl Form for TableForm<'_, '_> {
    fn has(&mut self, key: &str) -> bool {
        self.table.has(key)
    }

    fn read_number(&mut self, row: &Row, required: bool) -> Option<Prior> {
        belief::number(self.table, row, required)
    }

    fn read_plain(&mut self, row: &Row, required: bool) -> Option<f64> {
        let measure = row.measure();
        let limits = belief::limits_si(row);
        let read = if required {
            belief::required_plain(self.table, row.key, measure.dimension, limits)
        } else {
            belief::plain(self.table, row.key, measure.dimension, limits)
        };
        read.map(|value_si| value_si * measure.scale)
    }

    fn read_count(&mut self, key: &str, (low, high): (i64, i64), required: bool) -> Option<u32> {
        let count = if required {
            self.table.integer(key, low..=high)
        } else {
            self.table.optional_integer(key, low..=high)
        };
        u32::try_from(count?).ok()
    }

    fn read_switch(&mut self, key: &str) -> Option<bool> {
        self.table.optional_boolean(key)
    }

    fn read_word(&mut self, key: &str, words: &[&str], required: bool) -> Option<usize> {
        let places: Vec<(&str, usize)> = words.iter().copied().zip(0..).collect();
        if required {
            self.table.choice(key, &places)
        } else {
            self.table.optional_choice(key, &places)
        }
    }

    fn read_fuel_flow(&mut self, row: &Row) -> Option<Prior> {
        match row.holds {
            Holds::Number {
                span: Span::OfCar(path),
                bare,
            } => rated::flow(self.table, path, bare),
            _ => None,
        }
    }

    fn read_fuel(&mut self, key: &str) -> Option<FuelKind> {
        fuel::kind(self.table, key)
    }

    fn read_compressor_map(&mut self) -> Option<WrittenMap> {
        let source = compressor_map::source(self.table, self.folder)?;
        Some(WrittenMap {
            // The reader has proven that the source makes a map.
            map: source.map().ok()?,
            rated: source.rated,
        })
    }

    fn read_turbine_map(&mut self) -> Result<Option<WrittenTurbine>, Wrong> {
        let read = turbine_map::belief(self.table, self.folder).map_err(|()| Wrong)?;
        Ok(read.map(|turbine| WrittenTurbine {
            area_m2: turbine.area,
            efficiency: turbine.efficiency,
        }))
    }

    fn read_boost(&mut self) -> Option<BoostControl> {
        car::boost(self.table)
    }

    fn accepted(&mut self, key: &str, made: Result<Prior, PriorError>) -> Option<Prior> {
        belief::accepted(self.table, key, made)
    }

    fn within(&mut self, key: &str, reader: &mut dyn FnMut(&mut dyn Form)) {
        let folder = self.folder;
        self.table.optional_subtable(key, |table| {
            reader(&mut TableForm { table, folder });
            Some(())
        });
    }

    fn error(&mut self, key: &str, fault: Fault, message: &str, expected: &str) {
        let code = match fault {
            Fault::Missing => Code::KEY_MISSING,
            Fault::Conflict => KEY_CONFLICT,
        };
        self.table.error(key, code, message, expected);
    }
}
