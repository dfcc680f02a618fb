//! The equations of the book against the code: every number stands once, is cited where the equation is computed, and shows the
//! coefficients that are computed with; every number of a car has a symbol.

use std::collections::{BTreeMap, BTreeSet};

use pullcast::air::moist;
use pullcast::belief::parameter;
use pullcast::engine::fuel_air::condition_factor;

use crate::sources::{self, Source, root};

/// An equation of the book: its number, and the text under its heading.
struct Equation {
    number: String,
    text: String,
}

impl Equation {
    /// Coefficients in it. Not among them: names in code marks, the cell that names a row of a table, and numbers of equations,
    /// which stand in brackets where mathematics is shown and as they are in the text.
    fn coefficients(&self, numbers: &BTreeSet<String>) -> Vec<f64> {
        let mut found = Vec::new();
        for line in self.text.lines() {
            let shown = line.starts_with("    ");
            let row = line.strip_prefix("| ");
            let line = row
                .and_then(|row| row.split_once(" | "))
                .map_or(line, |(_, row)| row);
            let plain: String = if shown {
                without_references(line, numbers)
            } else {
                line.split('`').step_by(2).collect()
            };
            let own = coefficients(&plain).into_iter();
            found.extend(own.filter(|digits| shown || !numbers.contains(digits)));
        }
        found.iter().map(|digits| value(digits)).collect()
    }

    /// Cells of the rows of its table, numbers only, by the row's first cell.
    fn table(&self) -> Vec<(String, Vec<f64>)> {
        let rows = self.text.lines().filter(|line| line.starts_with("| "));
        rows.filter_map(|line| {
            let mut cells = line.trim_matches('|').split('|').map(str::trim);
            let first = cells.next()?.to_owned();
            let numbers: Option<Vec<f64>> = cells.map(|cell| cell.parse().ok()).collect();
            Some((first, numbers?))
        })
        .collect()
    }
}

/// Pages of the model's book, in order.
fn pages() -> Vec<(String, String)> {
    let mut found: Vec<(String, String)> = std::fs::read_dir(root().join("docs/model"))
        .expect("the chapters")
        .map(|entry| {
            let path = entry.expect("a readable entry").path();
            let text = std::fs::read_to_string(&path).expect("a readable chapter");
            (path.display().to_string(), text)
        })
        .collect();
    found.sort();
    assert!(found.len() >= 10, "chapters are missing");
    found
}

fn equations_in(text: &str) -> Vec<Equation> {
    let mut found: Vec<Equation> = Vec::new();
    let mut inside = false;
    for line in text.lines() {
        if line.starts_with('#') {
            let number = line
                .strip_prefix("### ")
                .and_then(|rest| rest.split_whitespace().next());
            inside = number.is_some();
            found.extend(number.map(|number| Equation {
                number: number.to_owned(),
                text: String::new(),
            }));
        } else if inside && let Some(equation) = found.last_mut() {
            equation.text.push_str(line);
            equation.text.push('\n');
        }
    }
    found
}

fn equations() -> Vec<Equation> {
    pages()
        .iter()
        .flat_map(|(_, text)| equations_in(text))
        .collect()
}

fn equation(number: &str) -> Equation {
    let found = equations().into_iter().find(|e| e.number == number);
    found.unwrap_or_else(|| panic!("equation {number} is not in the book"))
}

/// Numbers that a source cites in its documentation: `Equation (1.2).`, `Equations (1.2) and (1.3).`
fn cited(source: &str) -> BTreeSet<String> {
    let comments = source.lines().map(str::trim_start);
    let documentation = comments.filter(|line| line.starts_with("///") || line.starts_with("//!"));
    documentation
        .flat_map(|line| line.split("Equation").skip(1))
        .filter_map(|rest| rest.strip_prefix(" (").or(rest.strip_prefix("s (")))
        .flat_map(|rest| rest.split(". ").next().unwrap_or_default().split('('))
        .filter_map(|inside| inside.split_once(')'))
        .map(|(number, _)| number.to_owned())
        .collect()
}

fn model_files() -> Vec<Source> {
    sources::rust_files()
        .into_iter()
        .filter(|source| source.path.starts_with("model/"))
        .collect()
}

/// Coefficients in a text: numbers with a decimal point, an exponent or three digits, without their sign. Digits that end a name,
/// as in CA50, are none.
fn coefficients(text: &str) -> Vec<String> {
    let mut found = Vec::new();
    let mut rest = text;
    let mut before = ' ';
    while let Some(c) = rest.chars().next() {
        if !c.is_ascii_digit() || before.is_alphanumeric() || before == '_' {
            before = c;
            rest = &rest[c.len_utf8()..];
            continue;
        }
        let length = number_length(rest);
        let digits = rest[..length].replace('_', "");
        let whole = digits.trim_end_matches('.');
        let telling = whole.contains('.') || whole.contains('e') || whole.len() >= 3;
        found.extend(telling.then(|| whole.to_owned()));
        before = rest[..length].chars().last().unwrap_or(' ');
        rest = &rest[length..];
    }
    found
}

fn value(digits: &str) -> f64 {
    digits.parse().expect("a number")
}

/// A line without the equations it refers to, `by (3.8)`.
fn without_references(line: &str, numbers: &BTreeSet<String>) -> String {
    numbers.iter().fold(line.to_owned(), |line, number| {
        line.replace(&format!("({number})"), "")
    })
}

/// Length of the number at the start of a text.
fn number_length(text: &str) -> usize {
    let digits = |text: &str| {
        text.find(|c: char| !(c.is_ascii_digit() || c == '_'))
            .unwrap_or(text.len())
    };
    let mut length = digits(text);
    if let Some(fraction) = text[length..].strip_prefix('.') {
        // Two points are a range.
        if !fraction.starts_with('.') {
            length += 1 + digits(fraction);
        }
    }
    if let Some(power) = text[length..].strip_prefix('e') {
        let unsigned = power.strip_prefix(['-', '+']).unwrap_or(power);
        let count = digits(unsigned);
        if count > 0 {
            length += 1 + power.len() - unsigned.len() + count;
        }
    }
    length
}

#[test]
fn every_number_stands_once() {
    let mut seen = BTreeSet::new();
    let twice: Vec<String> = equations()
        .into_iter()
        .map(|e| e.number)
        .filter(|number| !seen.insert(number.clone()))
        .collect();
    assert!(twice.is_empty(), "{twice:?}");
    assert!(seen.len() > 100, "only {} equations were found", seen.len());
}

#[test]
fn every_number_is_that_of_its_chapter() {
    for (path, text) in pages() {
        let chapter = text
            .strip_prefix("# ")
            .and_then(|rest| rest.split_whitespace().next())
            .expect("a numbered chapter");
        for equation in equations_in(&text) {
            let own = equation.number.split_once('.').map(|(first, _)| first);
            assert_eq!(own, Some(chapter), "{path}: {}", equation.number);
        }
    }
}

#[test]
fn every_cited_number_exists() {
    let known: BTreeSet<String> = equations().into_iter().map(|e| e.number).collect();
    let mut unknown = Vec::new();
    for source in model_files() {
        let numbers = cited(&source.text);
        let missing = numbers.difference(&known);
        unknown.extend(missing.map(|number| format!("{}: {number}", source.path)));
    }
    assert!(unknown.is_empty(), "{unknown:#?}");
}

#[test]
fn every_equation_is_cited_where_it_is_computed() {
    let cited: BTreeSet<String> = model_files().iter().flat_map(|s| cited(&s.text)).collect();
    let silent: Vec<String> = equations()
        .into_iter()
        .map(|e| e.number)
        .filter(|number| !cited.contains(number))
        .collect();
    assert!(silent.is_empty(), "{silent:?}");
}

#[test]
fn numbers_are_read_out_of_documentation_only() {
    let text = "/// Torque. Equations (6.1), (6.2) and (6.3). Over (9.9) K.\n// Equation (1.1).\nlet a = \"Equation (1.2)\";\n";
    let found: Vec<String> = cited(text).into_iter().collect();
    assert_eq!(found, ["6.1", "6.2", "6.3"]);
    assert_eq!(
        coefficients("CA50 − 8.0, 17.68e-3 s, 0.6..1.3, x², P₆₀₀₀, 12"),
        ["8.0", "17.68e-3", "0.6", "1.3"]
    );
    assert_eq!(coefficients("const A: f64 = 1_400.25e3;"), ["1400.25e3"]);
}

/// Cells of the last column of the tables of symbols, in code marks.
fn origins_of_symbols() -> BTreeSet<String> {
    let mut found = BTreeSet::new();
    for (_, text) in pages() {
        let before = text.split("\n### ").next().unwrap_or_default().to_owned();
        let rows = before.lines().filter(|line| line.starts_with("| "));
        for row in rows {
            let last = row.trim_end_matches([' ', '|']).rsplit_once(" | ");
            let marked = last.map_or("", |(_, last)| last).split('`');
            found.extend(marked.skip(1).step_by(2).map(str::to_owned));
        }
    }
    found
}

#[test]
fn every_number_of_a_car_has_a_symbol() {
    let named = origins_of_symbols();
    let missing: Vec<&str> = parameter::catalogue()
        .map(|parameter| parameter.path)
        .filter(|path| !named.contains(*path))
        .collect();
    assert!(missing.is_empty(), "{missing:?}");
    let unknown: Vec<&String> = named
        .iter()
        .filter(|name| !name.contains('/') && !name.contains("::"))
        .filter(|name| parameter::find(name).is_none())
        .collect();
    assert!(unknown.is_empty(), "{unknown:?}");
}

#[test]
fn every_coefficient_is_one_that_the_code_computes_with() {
    let files: Vec<(BTreeSet<String>, Vec<f64>)> = model_files()
        .iter()
        .map(|source| {
            let literals = coefficients(&source.code());
            let values = literals.iter().map(|digits| value(digits)).collect();
            (cited(&source.text), values)
        })
        .collect();
    let mut literals: BTreeMap<String, Vec<f64>> = BTreeMap::new();
    for (numbers, values) in &files {
        for number in numbers {
            literals.entry(number.clone()).or_default().extend(values);
        }
    }
    let mut compared = 0;
    let mut strange = Vec::new();
    let book = equations();
    let numbers: BTreeSet<String> = book.iter().map(|e| e.number.clone()).collect();
    for equation in &book {
        let known = literals.get(&equation.number);
        for value in equation.coefficients(&numbers) {
            let same = |literal: &f64| (literal - value).abs() <= 1e-12 * value.abs();
            compared += 1;
            if !known.is_some_and(|known| known.iter().any(same)) {
                strange.push(format!("{}: {value}", equation.number));
            }
        }
    }
    assert!(strange.is_empty(), "{strange:#?}");
    assert!(
        compared > 300,
        "only {compared} coefficients were looked at"
    );
}

#[test]
fn the_saturation_pressure_of_the_book_is_that_of_the_program() {
    let rows = equation("1.1").table();
    let saturation = |column: usize, kelvin: f64| -> f64 {
        rows.iter()
            .map(|(power, numbers)| {
                let of = match power.as_str() {
                    "ln" => kelvin.ln(),
                    power => kelvin.powi(power.parse().expect("a power")),
                };
                numbers[column] * of
            })
            .sum::<f64>()
            .exp()
    };
    assert_eq!(rows.len(), 7);
    for (column, kelvin) in [
        (0, 200.0),
        (0, 250.0),
        (0, 273.0),
        (1, 273.2),
        (1, 300.0),
        (1, 400.0),
    ] {
        let (book, program) = (saturation(column, kelvin), moist::saturation_pa(kelvin));
        // The same sum in another order.
        assert!(
            (book / program - 1.0).abs() < 1e-12,
            "{kelvin} K: {book} {program}"
        );
    }
}

#[test]
fn the_state_of_the_charge_counts_in_the_book_as_in_the_program() {
    let rows = equation("3.3").table();
    assert_eq!(rows.len(), 4);
    for (lambda, numbers) in rows {
        let lambda: f64 = lambda.parse().expect("a mixture");
        let (kelvin, pascal, residual) = (392.0_f64, 1.7e5_f64, 0.08);
        let exponent = numbers[0] * (kelvin - 350.0) / 100.0
            + numbers[1] * (pascal / 1e5).ln()
            + numbers[2] * (residual - 0.05);
        let program = condition_factor(lambda, kelvin, pascal, residual);
        // Between two knots the program takes a share of each; at one, a share of rounding.
        assert!(
            (exponent.exp() / program - 1.0).abs() < 1e-12,
            "{lambda}: {program}"
        );
    }
}
