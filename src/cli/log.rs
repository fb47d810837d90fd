//! The log: readable text on a terminal, JSON lines otherwise.

use std::io::IsTerminal as _;

use tracing_subscriber::fmt::writer::BoxMakeWriter;
use tracing_subscriber::{
    EnvFilter, Layer as _, Registry, layer::SubscriberExt as _, util::SubscriberInitExt as _,
};

/// Where the log goes. Commands that print an answer leave standard output to it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Onto {
    StandardOutput,
    StandardError,
}

/// What the log tells. Whatever is asked for, the check of forms from other sites never tells the
/// addresses that it sees: a one-time link is one of them.
pub fn filter(asked: &str) -> EnvFilter {
    let filter = EnvFilter::try_new(asked).unwrap_or_else(|_| EnvFilter::new("info"));
    match "tower_http::csrf=info".parse() {
        Ok(directive) => filter.add_directive(directive),
        Err(_) => filter,
    }
}

/// Starts the log once for the life of the program; a second start changes nothing.
pub fn start(text: bool, onto: Onto, filter: &str) {
    let (writer, is_terminal) = match onto {
        Onto::StandardOutput => {
            (BoxMakeWriter::new(std::io::stdout), std::io::stdout().is_terminal())
        }
        Onto::StandardError => {
            (BoxMakeWriter::new(std::io::stderr), std::io::stderr().is_terminal())
        }
    };
    let filter = self::filter(filter);
    let lines = tracing_subscriber::fmt::layer().with_writer(writer).with_target(false);
    let lines = if text {
        // Signs for colours are for a terminal alone.
        lines.with_ansi(is_terminal).boxed()
    } else {
        // The list of spans, so that the line of an operation has the number of its request.
        lines.json().flatten_event(true).with_current_span(false).boxed()
    };
    // It fails where a log is running already, and then that one serves.
    let _ = Registry::default().with(lines.with_filter(filter)).try_init();
}
