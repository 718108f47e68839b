//! The program `loomwright`; everything it does is in the library.

use std::process::ExitCode;

fn main() -> ExitCode {
    loomwright::cli::run()
}
