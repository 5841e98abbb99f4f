//! The program: a thin face over the library.

use std::process::ExitCode;

fn main() -> ExitCode {
    halfturn::command::main()
}
