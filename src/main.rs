//! Hands the arguments to the command line and gives back its exit status.

fn main() -> std::process::ExitCode {
    cli::run(std::env::args_os())
}
