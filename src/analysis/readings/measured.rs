//! Readings typed back: a small YAML file of steps and what the meter showed.
//!
//! ```yaml
//! loomwright-readings: 1
//! netlist: cbf29ce484222325
//! readings:
//!   2-01: 12.61 V
//!   0-01: OL
//!   5-01: pass
//! ```
//!
//! A step without a value was not taken. A bare number counts in the unit that its step asks for.

use super::judge::Measured;
use super::plan::Plan;
use super::step::{Quantity, StepId};
use crate::diag::Diagnostic;
use crate::source::{
    self, Document, Findings, Node, NodeId, UNKNOWN_KEY, UNKNOWN_LANGUAGE, WRONG_SHAPE, shortened,
};
use crate::units::parse_quantity;

/// Version of the form.
pub const FORM_VERSION: &str = "1";
/// Key that tells a file of readings from a netlist.
pub const FORM_KEY: &str = "loomwright-readings";

/// What a file of readings says.
#[derive(Clone, Debug)]
pub struct Taken {
    /// The file's text, for the places of findings.
    pub text: String,
    /// Fingerprint of the netlist whose sheet was worked through; none when not given.
    pub netlist: Option<String>,
    /// Readings in file order.
    pub readings: Vec<(StepId, Measured)>,
    /// Faults of the file.
    pub findings: Vec<Diagnostic>,
}

/// Reads a file of readings against the plan that its steps belong to.
#[must_use]
pub fn taken(bytes: &[u8], plan: &Plan) -> Taken {
    let mut reading = source::read(bytes);
    let mut taken = Taken {
        text: std::mem::take(&mut reading.text),
        netlist: None,
        readings: Vec::new(),
        findings: std::mem::take(&mut reading.diagnostics),
    };
    let Some(document) = &reading.document else {
        return taken;
    };
    let mut reader = Reader {
        document,
        plan,
        findings: Findings::default(),
    };
    reader.file(&mut taken);
    taken.findings.extend(reader.findings.finish());
    taken
}

struct Reader<'d> {
    document: &'d Document,
    plan: &'d Plan,
    findings: Findings,
}

impl Reader<'_> {
    fn file(&mut self, taken: &mut Taken) {
        let document = self.document;
        let root = document.root();
        let mut version = false;
        for &(key, value) in document.entries(root) {
            match document.text(key).unwrap_or_default() {
                FORM_KEY => {
                    version = true;
                    if document.text(value).map(str::trim) != Some(FORM_VERSION) {
                        self.unknown_version(value);
                    }
                }
                "netlist" => {
                    taken.netlist = document.text(value).map(|text| text.trim().to_owned());
                }
                "readings" => self.readings(value, taken),
                other => {
                    let told = UNKNOWN_KEY
                        .says(format!(
                            "a file of readings has no key `{}`",
                            shortened(other)
                        ))
                        .label(document.span(key), "not known here")
                        .repair("it has `loomwright-readings`, `netlist` and `readings`");
                    self.findings.add(|| told);
                }
            }
        }
        if !version {
            self.unknown_version(root);
        }
    }

    fn unknown_version(&mut self, at: NodeId) {
        let told = UNKNOWN_LANGUAGE
            .says(format!(
                "a file of readings says `{FORM_KEY}: {FORM_VERSION}`; this one does not"
            ))
            .label(self.document.span(at), "here")
            .repair("print a form with `loomwright readings NETLIST` and fill it in");
        self.findings.add(|| told);
    }

    fn readings(&mut self, map: NodeId, taken: &mut Taken) {
        let document = self.document;
        if !matches!(document.node(map), Node::Map(_)) {
            // A form in which nothing was filled in is empty, not wrong.
            if document.text(map).is_none_or(|text| !is_blank(text)) {
                self.wrong(map, "readings are a map of steps", "write `4-07: 12.40 V`");
            }
            return;
        }
        for &(key, value) in document.entries(map) {
            let name = document.text(key).unwrap_or_default();
            let Ok(step) = name.parse::<StepId>() else {
                self.wrong(
                    key,
                    &format!("`{}` is no step", shortened(name)),
                    "write the number of the step as it is printed: `4-07`",
                );
                continue;
            };
            let Some((_, found)) = self.plan.step(step) else {
                self.wrong(
                    key,
                    &format!("the sheet of this netlist has no step {step}"),
                    "look at the sheet of this netlist",
                );
                continue;
            };
            let Some(text) = document.text(value) else {
                self.wrong(value, "a reading is one value", "write `12.40 V`");
                continue;
            };
            if is_blank(text) {
                continue;
            }
            if let Some(measured) = measured(text, found.quantity) {
                taken.readings.push((step, measured));
            } else {
                let (what, example) = match found.quantity {
                    Quantity::Volts => ("a voltage", "12.40 V"),
                    Quantity::Ohms => ("a resistance", "2.5 ohm"),
                    Quantity::Amps => ("a current", "4.2 A"),
                    Quantity::Look => ("a look", "pass"),
                };
                self.wrong(
                    value,
                    &format!("`{}` is no reading of {what}", shortened(text)),
                    &format!("write `{example}`, `OL` for an open line, `pass` or `fail`"),
                );
            }
        }
    }

    fn wrong(&mut self, at: NodeId, message: &str, repair: &str) {
        let span = self.document.span(at);
        self.findings
            .add(|| WRONG_SHAPE.says(message).label(span, "this").repair(repair));
    }
}

fn is_blank(text: &str) -> bool {
    let text = text.trim();
    text.is_empty() || text == "~" || text == "null"
}

fn measured(text: &str, quantity: Quantity) -> Option<Measured> {
    let text = text.trim();
    match text.to_ascii_lowercase().as_str() {
        "ol" | "open" | "open line" => return Some(Measured::OpenLine),
        "pass" | "passed" | "yes" | "ok" | "true" => return Some(Measured::Pass),
        "fail" | "failed" | "no" | "off" | "false" => return Some(Measured::Fail),
        _ => {}
    }
    let bare = |unit: &str| {
        let plain = text
            .bytes()
            .all(|byte| byte.is_ascii_digit() || byte == b'.' || byte == b'-' || byte == b'+');
        if plain {
            format!("{text} {unit}")
        } else {
            text.to_owned()
        }
    };
    match quantity {
        Quantity::Volts => parse_quantity(&bare("V")).ok().map(Measured::Volts),
        Quantity::Ohms => parse_quantity(&bare("ohm")).ok().map(Measured::Ohms),
        Quantity::Amps => parse_quantity(&bare("A")).ok().map(Measured::Amps),
        Quantity::Look => None,
    }
}
