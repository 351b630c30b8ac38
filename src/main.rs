//! The `winterfig` program.

use std::process::ExitCode;

#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

fn main() -> ExitCode {
    winterfig::cli::run(std::env::args_os(), &mut std::io::stdout(), &mut std::io::stderr())
}
