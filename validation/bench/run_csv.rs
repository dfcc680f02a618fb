//! A recording of 50 MB, the size the reader is built for (three seconds are the limit).

use std::fmt::Write as _;

use pullcast::files::run_csv::{DecimalMark, RunFile, RunOptions};

/// A header and rows of eight columns until the text has the wanted size, as a logger at 1 kHz would write them.
fn recording(bytes: usize, comma: bool) -> String {
    let mut text = String::with_capacity(bytes + 200);
    text.push_str(
        "time_s;engine_rpm;drum_speed_rpm;wheel_torque_nm;wheel_power_kw;\
         manifold_pressure_kpa_abs;charge_temp_c;lambda\n",
    );
    let mut row = 0_u32;
    while text.len() < bytes {
        let time_s = f64::from(row) * 1e-3;
        let climb = (time_s * 0.37).sin();
        let start = text.len();
        writeln!(
            text,
            "{time_s:.3};{:.2};{:.3};{:.2};{:.3};{:.2};{:.1};{:.3}",
            4500.0 + 2500.0 * climb,
            700.0 + 400.0 * climb,
            380.0 - 25.0 * climb,
            180.0 + 95.0 * climb,
            150.0 + 20.0 * climb,
            41.0 + 9.0 * climb,
            0.86 + 0.02 * climb,
        )
        .expect("text in memory");
        if comma {
            let commas = text.split_off(start).replace('.', ",");
            text.push_str(&commas);
        }
        row += 1;
    }
    text
}

#[divan::bench(args = [false, true], sample_count = 5)]
fn fifty_megabytes(bencher: divan::Bencher<'_, '_>, decimal_comma: bool) {
    let text = recording(50_000_000, decimal_comma);
    let options = RunOptions {
        decimal: Some(DecimalMark::Comma),
        ..RunOptions::default()
    };
    bencher
        .counter(divan::counter::BytesCount::new(text.len()))
        .bench(|| RunFile::parse("pull.csv", text.as_bytes(), &options).map(|run| run.row_count()));
}
