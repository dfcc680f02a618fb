//! How long the program's larger pieces take; run with `cargo bench`.

mod run_csv;

fn main() {
    divan::main();
}
