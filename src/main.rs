//! The program: it only calls the command line.

use std::process::ExitCode;

fn main() -> ExitCode {
    halfturn::command::main()
}
