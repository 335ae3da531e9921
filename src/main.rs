//! The program: everything it does is in the library's application half.

use std::process::ExitCode;

fn main() -> ExitCode {
    dryfit::app::run()
}
