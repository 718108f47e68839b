//! A line on the terminal while a long piece of work goes on; nothing at all elsewhere.

use std::io::{self, IsTerminal, Write};
use std::sync::mpsc::{self, RecvTimeoutError, Sender};
use std::thread::JoinHandle;
use std::time::Duration;

/// Work that is done before this is not worth a word.
const PATIENCE: Duration = Duration::from_millis(700);

/// How often the line is renewed.
const TICK: Duration = Duration::from_secs(1);

/// A piece of work that somebody waits for.
pub(super) struct Progress {
    running: Option<(Sender<()>, JoinHandle<()>)>,
}

impl Progress {
    /// Begins to tell, where the error stream is a terminal and nobody asked for quiet.
    pub(super) fn start(name: &str, quiet: bool) -> Self {
        if quiet || !io::stderr().is_terminal() {
            return Self { running: None };
        }
        let (stop, stopped) = mpsc::channel();
        let name = name.to_owned();
        let tell = move || {
            let mut wait = PATIENCE;
            let mut seconds = 0;
            while stopped.recv_timeout(wait) == Err(RecvTimeoutError::Timeout) {
                let mut stream = io::stderr().lock();
                let _ = write!(stream, "\r\u{1b}[K{name}: at work, {seconds} s");
                let _ = stream.flush();
                seconds += 1;
                wait = TICK;
            }
            if seconds > 0 {
                let _ = write!(io::stderr().lock(), "\r\u{1b}[K");
            }
        };
        let thread = std::thread::Builder::new().spawn(tell);
        Self {
            running: thread.ok().map(|thread| (stop, thread)),
        }
    }

    /// Ends it, and takes the line away.
    pub(super) fn stop(self) {
        if let Some((stop, thread)) = self.running {
            drop(stop);
            let _ = thread.join();
        }
    }
}
