//! The program: the window, the loopback host and the command line in one.

use std::process::ExitCode;

fn main() -> ExitCode {
    waywright::cli::run()
}
