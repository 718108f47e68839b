//! The demonstration boats: what each seeded fault must show, and what the designed ones may say.

use loomwright::{netlist, resolve, source};

fn findings(text: &str) -> Vec<loomwright::diag::Diagnostic> {
    let reading = source::read(text.as_bytes());
    let mut all = reading.diagnostics.clone();
    let (netlist, more) = netlist::read(&reading);
    all.extend(more);
    if let (Some(netlist), Some(document)) = (netlist, reading.document.as_ref()) {
        let (_, more) = resolve::resolve(&netlist, document);
        all.extend(more);
    }
    all
}

#[test]
fn every_example_reads() {
    for entry in std::fs::read_dir("examples").expect("the examples folder") {
        let path = entry.expect("an example").path();
        let text = std::fs::read_to_string(&path).expect("an example is text");
        for finding in findings(&text) {
            let at = finding
                .labels
                .first()
                .map_or(0, |l| text[..l.span.start].lines().count());
            eprintln!(
                "{}:{at} {} {} {:?} {} | {}",
                path.display(),
                finding.rule,
                finding.name,
                finding.severity,
                finding.message,
                finding.help
            );
        }
    }
}
