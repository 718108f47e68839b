//! Programs of other hands that tests ask for a second opinion.

use std::process::Command;

/// Whether a program is there; where it must be, its absence is a failure.
pub(crate) fn is_installed(program: &str) -> bool {
    let installed = Command::new(program).arg("--version").output().is_ok();
    if !installed {
        let wanted = std::env::var("CI").is_ok_and(|value| value == "true");
        assert!(
            !wanted,
            "{program} is not installed; .ci/run installs it before the tests"
        );
        // Told on the stream that the test runner shows with --nocapture.
        let note = format!("{program} is not installed: its opinion is left out\n");
        let _ = std::io::Write::write_all(&mut std::io::stderr(), note.as_bytes());
    }
    installed
}
