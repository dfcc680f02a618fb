//! How long the program's larger pieces take; run with `cargo bench`.

mod car;
mod cycle;
mod run_csv;

fn main() {
    divan::main();
}
