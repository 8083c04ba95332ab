//! The program's entry: all of it stands in the library, where tests reach it.

use std::process::ExitCode;

fn main() -> ExitCode {
    stillwheel::cli::main()
}
