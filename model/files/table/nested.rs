//! Tables within tables: each is read by its own closure, and its problems and unknown keys come back to the outer one.

use toml::Spanned;
use toml::de::DeValue;

use super::Table;
use super::asked::{Sample, What};
use crate::files::diagnostic::{Code, Problem};

/// Most tables of one name: no shop plans a thousand changes or records a thousand pulls in a visit.
const MOST_TABLES: usize = 1000;

impl Table<'_> {
    /// A table that must be there.
    pub fn subtable<T>(
        &mut self,
        key: &str,
        reader: impl FnOnce(&mut Table<'_>) -> Option<T>,
    ) -> Option<T> {
        let what = format!("a table: [{}]", self.full_name(key));
        let Some(value) = self.require(key, &what) else {
            let sample = self.note_absent(self.full_name(key), reader);
            self.note(key, || What::Table(sample.into_iter().collect()));
            return None;
        };
        self.table_in(key, self.full_name(key), value, reader)
    }

    /// A table that may be left out.
    pub fn optional_subtable<T>(
        &mut self,
        key: &str,
        reader: impl FnOnce(&mut Table<'_>) -> Option<T>,
    ) -> Option<T> {
        let Some(value) = self.look(key) else {
            let sample = self.note_absent(self.full_name(key), reader);
            self.note(key, || What::Table(sample.into_iter().collect()));
            return None;
        };
        self.table_in(key, self.full_name(key), value, reader)
    }

    /// Every table of a list (`[[key]]`), in order; an absent list is empty. `None` if any of them could not be read.
    pub fn tables<T>(
        &mut self,
        key: &str,
        mut reader: impl FnMut(&mut Table<'_>) -> Option<T>,
    ) -> Option<Vec<T>> {
        let Some(value) = self.look(key) else {
            let sample = self.note_absent(self.full_name(key), reader);
            self.note(key, || What::Tables(sample.into_iter().collect()));
            return Some(Vec::new());
        };
        let Some(items) = value.get_ref().as_array() else {
            self.wrong_type(
                key,
                value,
                format!("a list of tables: [[{}]]", self.full_name(key)),
            );
            return None;
        };
        if items.len() > MOST_TABLES {
            let name = self.full_name(key);
            let message = format!("[[{name}]] stands {} times", items.len());
            let problem = Problem::at(Code::OUT_OF_RANGE, self.excerpt, value.span(), message);
            self.problems
                .push(problem.expected(format!("at most {MOST_TABLES}")));
            return None;
        }
        let mut read = Vec::with_capacity(items.len());
        let mut samples = Vec::new();
        for (index, item) in items.iter().enumerate() {
            let path = format!("{}[{}]", self.full_name(key), index + 1);
            let (value, sample) = self.table_at(key, path, item, &mut reader);
            read.push(value);
            samples.extend(sample);
        }
        self.note(key, || What::Tables(samples));
        read.into_iter().collect()
    }

    /// A table by its dotted path, read if every step of the path is there. Only the last table's keys are held to be
    /// complete; the tables on the way may hold more.
    pub fn at<T>(
        &mut self,
        path: &str,
        reader: impl FnOnce(&mut Table<'_>) -> Option<T>,
    ) -> Option<T> {
        let Some((first, rest)) = path.split_once('.') else {
            return self.optional_subtable(path, reader);
        };
        let value = self.look(first)?;
        let Some(entries) = value.get_ref().as_table() else {
            self.wrong_type(
                first,
                value,
                format!("a table: [{}]", self.full_name(first)),
            );
            return None;
        };
        let mut table = Table::new(entries, value.span(), self.full_name(first), self.excerpt);
        let read = table.at(rest, reader);
        self.problems.append(table.problems);
        read
    }

    fn table_in<T>(
        &mut self,
        key: &str,
        path: String,
        value: &Spanned<DeValue<'_>>,
        reader: impl FnOnce(&mut Table<'_>) -> Option<T>,
    ) -> Option<T> {
        let (read, sample) = self.table_at(key, path, value, reader);
        self.note(key, || What::Table(sample.into_iter().collect()));
        read
    }

    /// Reads a table, and tells what was asked of it where that is the question.
    fn table_at<T>(
        &mut self,
        key: &str,
        path: String,
        value: &Spanned<DeValue<'_>>,
        reader: impl FnOnce(&mut Table<'_>) -> Option<T>,
    ) -> (Option<T>, Option<Sample>) {
        let Some(entries) = value.get_ref().as_table() else {
            self.wrong_type(key, value, format!("a table: [{path}]"));
            return (None, self.note_absent(path, reader));
        };
        let mut table = Table::new(entries, value.span(), path, self.excerpt);
        table.asked = self.asked.as_ref().map(|_| Sample::new());
        let read = reader(&mut table);
        let sample = table.asked.take();
        self.problems.append(table.finish());
        (read, sample)
    }
}
