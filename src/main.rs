//! The `winterfig` program.

use std::process::ExitCode;

#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

/// How long the allocator keeps what is freed before it may go back to the system, ms, and where it reads that, once, before `main` begins. Its
/// own second keeps the highest that a fit of a million reports held within it: some 50 MB.
#[cfg(unix)]
const KEPT_FREE_MS: (&str, &str) = ("MIMALLOC_PURGE_DELAY", "100");

/// Puts the program that serves in its own place once, with that set; where it was set already, or that cannot be done, it goes on as it is.
#[cfg(unix)]
fn begin_with_allocator_set() {
    use std::os::unix::process::CommandExt;

    let mut words = std::env::args_os();
    let (name, command) = (words.next(), words.next());
    let (setting, value) = KEPT_FREE_MS;
    let is_to_serve = command.as_deref().is_some_and(|command| command == "serve");
    if let (true, None, Some(name), Ok(program)) = (is_to_serve, std::env::var_os(setting), name, std::env::current_exe()) {
        let _ = std::process::Command::new(program).arg0(name).args(command).args(words).env(setting, value).exec();
    }
}

fn main() -> ExitCode {
    #[cfg(unix)]
    begin_with_allocator_set();
    winterfig::cli::run(std::env::args_os(), &mut std::io::stdout(), &mut std::io::stderr())
}
