//! Sheets as HTML pages to print: one file each, no outside resources, no script.
//!
//! The head stands in the table's heading, which every browser repeats on every page. Page numbers stand in the
//! margin, where the browser can print them. Everything from the netlist is escaped.

use super::words::push_marked_up;
use crate::schedule::{Block, Column, ColumnKind, DEFERENCE, Field, Head, Orientation, Sheet};
use crate::system::Paper;
use std::fmt::Write;

/// Writes a sheet.
#[must_use]
pub fn sheet(head: &Head, sheet: &Sheet) -> String {
    let mut page = Page {
        text: String::with_capacity(16 * 1024),
    };
    page.open(head, sheet);
    page.table(head, sheet);
    page.strips(head, sheet);
    page.cautions(sheet);
    page.text.push_str("</body>\n</html>\n");
    page.text
}

/// Text with the five characters of markup escaped, and without what a viewer would obey.
#[must_use]
pub fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    push_escaped(&mut out, text);
    out
}

fn push_escaped(out: &mut String, text: &str) {
    push_marked_up(out, text, |letter| {
        Some(match letter {
            '&' => "&amp;",
            '<' => "&lt;",
            '>' => "&gt;",
            '"' => "&quot;",
            '\'' => "&#39;",
            _ => return None,
        })
    });
}

struct Page {
    text: String,
}

impl Page {
    fn raw(&mut self, markup: &str) {
        self.text.push_str(markup);
    }

    fn escaped(&mut self, text: &str) {
        push_escaped(&mut self.text, text);
    }

    /// `<tag>text</tag>`, with attributes inside `tag` where it has any.
    fn element(&mut self, tag: &str, text: &str) {
        let name = tag.split(' ').next().unwrap_or(tag);
        for part in ["<", tag, ">"] {
            self.raw(part);
        }
        self.escaped(text);
        for part in ["</", name, ">"] {
            self.raw(part);
        }
    }

    fn open(&mut self, head: &Head, sheet: &Sheet) {
        self.raw("<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n");
        self.raw("<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n");
        let _ = writeln!(
            self.text,
            "<meta name=\"generator\" content=\"loomwright {}\">",
            env!("CARGO_PKG_VERSION")
        );
        self.element("title", &format!("{} – {}", head.boat, sheet.title));
        let size = match (head.paper, sheet.orientation) {
            (Paper::A4, Orientation::Upright) => "210mm 297mm",
            (Paper::A4, Orientation::Across) => "297mm 210mm",
            (Paper::Letter, Orientation::Upright) => "215.9mm 279.4mm",
            (Paper::Letter, Orientation::Across) => "279.4mm 215.9mm",
        };
        let _ = write!(
            self.text,
            "\n<style>\n@page {{ size: {size}; margin: 10mm 10mm 12mm 10mm; \
             @bottom-right {{ content: \"page \" counter(page) \" of \" counter(pages); font: 9pt sans-serif; }} }}\n"
        );
        self.raw(STYLE);
        self.raw("</style>\n</head>\n<body>\n");
    }

    fn table(&mut self, head: &Head, sheet: &Sheet) {
        let total: f64 = sheet.columns.iter().map(|column| column.width_mm).sum();
        self.raw("<table>\n<colgroup>");
        for column in &sheet.columns {
            let _ = write!(
                self.text,
                "<col style=\"width:{:.2}%\">",
                column.width_mm / total * 100.0
            );
        }
        self.raw("</colgroup>\n<thead>\n");
        self.head(head, sheet, sheet.columns.len());
        self.raw("<tr>");
        for column in &sheet.columns {
            let tag = match column.kind {
                ColumnKind::Figure => "th scope=\"col\" class=\"f\"",
                ColumnKind::Text | ColumnKind::Tick => "th scope=\"col\"",
            };
            self.element(tag, column.heading);
        }
        self.raw("</tr>\n</thead>\n");
        if !sheet.remarks.is_empty() {
            let _ = write!(
                self.text,
                "<tbody>\n<tr><td class=\"remarks\" colspan=\"{}\">",
                sheet.columns.len()
            );
            for remark in &sheet.remarks {
                self.element("p", remark);
            }
            self.raw("</td></tr>\n</tbody>\n");
        }
        for block in &sheet.blocks {
            self.block(&sheet.columns, block);
        }
        self.raw("</table>\n");
    }

    fn head(&mut self, head: &Head, sheet: &Sheet, columns: usize) {
        let _ = write!(self.text, "<tr><td class=\"head\" colspan=\"{columns}\">");
        self.raw("<div class=\"title\">");
        self.element("b", sheet.title);
        self.element("b", &head.boat);
        self.element("span", &head.subtitle);
        let blank = |text: &str| {
            if text.is_empty() {
                "not given".to_owned()
            } else {
                text.to_owned()
            }
        };
        self.element(
            "span",
            &format!(
                "Revision {}, date {}",
                blank(&head.revision),
                blank(&head.date)
            ),
        );
        if !head.number.is_empty() {
            self.element("span", &format!("No. {}", head.number));
        }
        self.element("span", &format!("Netlist {}", head.fingerprint));
        self.raw("</div>");
        let people: Vec<String> = [
            ("Owner", &head.owner),
            ("Drawn by", &head.creator),
            ("Approved by", &head.approved_by),
        ]
        .into_iter()
        .filter(|(_, name)| !name.is_empty())
        .map(|(what, name)| format!("{what} {name}"))
        .collect();
        if !people.is_empty() {
            self.element("p", &people.join("; "));
        }
        self.element("p class=\"open\"", &head.open);
        self.element("p", &format!("{}. {}.", head.units, sentence(&head.policy)));
        self.element("p", DEFERENCE);
        self.raw("</td></tr>\n");
    }

    fn block(&mut self, columns: &[Column], block: &Block) {
        let span = columns.len();
        self.raw("<tbody>\n");
        if !block.title.is_empty() {
            let _ = write!(
                self.text,
                "<tr class=\"group\"><th colspan=\"{span}\" scope=\"rowgroup\">"
            );
            self.escaped(&block.title);
            if !block.detail.is_empty() {
                self.raw(" <span>");
                self.escaped(&block.detail);
                self.raw("</span>");
            }
            self.raw("</th></tr>\n");
        }
        for (index, row) in block.rows.iter().enumerate() {
            self.raw(if index % 3 == 2 {
                "<tr class=\"s\">"
            } else {
                "<tr>"
            });
            for (column, field) in columns.iter().zip(row) {
                self.field(column, field);
            }
            self.raw("</tr>\n");
        }
        for total in &block.totals {
            let _ = write!(self.text, "<tr class=\"total\"><td colspan=\"{span}\">");
            self.escaped(total);
            self.raw("</td></tr>\n");
        }
        self.raw("</tbody>\n");
    }

    fn field(&mut self, column: &Column, field: &Field) {
        self.raw(match column.kind {
            ColumnKind::Figure => "<td class=\"f\">",
            ColumnKind::Text | ColumnKind::Tick => "<td>",
        });
        match field {
            Field::Tick => self.raw("<i class=\"box\"></i>"),
            Field::Text(text) => self.escaped(text),
            Field::Strong(text) => self.element("b", text),
            Field::Lines(lines) => {
                for (index, line) in lines.iter().enumerate() {
                    if index > 0 {
                        self.raw("<br>");
                    }
                    self.escaped(line);
                }
            }
            Field::Blank(why) => {
                self.element("em", why);
                self.raw("<i class=\"blank\"></i>");
            }
        }
        self.raw("</td>");
    }

    /// Labels at their own size, on pages of their own under the same head.
    fn strips(&mut self, head: &Head, sheet: &Sheet) {
        if sheet.strips.is_empty() {
            return;
        }
        self.raw("<table class=\"strips\">\n<thead>\n");
        self.head(head, sheet, 1);
        self.raw("</thead>\n<tbody>\n<tr><td>\n<h2>Labels at their own size</h2>\n");
        self.raw(
            "<p>Print at 100 %. This line is 100 mm long: <i class=\"rule\"></i> Measure it before you cut.</p>\n",
        );
        for strip in &sheet.strips {
            let _ = write!(
                self.text,
                "<figure><div class=\"strip\" style=\"width:{:.1}mm\">",
                strip.length_mm
            );
            for line in &strip.lines {
                self.element("p", line);
            }
            self.raw("</div>");
            self.element("figcaption", &strip.caption);
            self.raw("</figure>\n");
        }
        self.raw("</td></tr>\n</tbody>\n</table>\n");
    }

    fn cautions(&mut self, sheet: &Sheet) {
        if sheet.cautions.is_empty() {
            return;
        }
        self.raw("<section class=\"cautions\">\n<h2>Cautions</h2>\n<ul>\n");
        for caution in &sheet.cautions {
            self.element("li", caution);
            self.raw("\n");
        }
        self.raw("</ul>\n</section>\n");
    }
}

/// The text with its first letter in capitals.
fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    letters
        .next()
        .map(|first| first.to_uppercase().chain(letters).collect())
        .unwrap_or_default()
}

/// Type of 9 pt has capitals about 2.3 mm high and figures alike; the figures to work to are larger.
const STYLE: &str = "\
* { box-sizing: border-box; }
body { margin: 0; font: 9pt/1.25 sans-serif; color: #000; background: #fff; }
table { width: 100%; border-collapse: collapse; table-layout: fixed; }
td, th { border: 0.2mm solid #000; padding: 0.6mm 0.8mm; text-align: left; vertical-align: top; overflow-wrap: anywhere; }
thead { display: table-header-group; }
tr { break-inside: avoid; }
tr.group { break-after: avoid; }
.head { border: 0; padding: 0 0 1.5mm 0; }
.head p, .remarks p { margin: 0.5mm 0; }
.remarks { border: 0; padding: 1mm 0; }
.title { font-size: 11pt; border-bottom: 0.5mm solid #000; }
.title b, .title span { margin-right: 6mm; }
.open { font-weight: bold; }
.f { text-align: right; }
td b { font-size: 11pt; white-space: nowrap; }
.group th { border-width: 0.5mm 0.2mm 0.2mm 0.2mm; font-size: 10pt; padding-top: 1mm; }
.group span { font-weight: normal; }
.total { break-before: avoid; }
.total td { font-weight: bold; border-top: 0.5mm solid #000; }
.s td { background: #e4e4e4; print-color-adjust: exact; -webkit-print-color-adjust: exact; }
.box { display: inline-block; width: 4.5mm; height: 4.5mm; border: 0.3mm solid #000; background: #fff; }
.blank { display: inline-block; width: 18mm; border-bottom: 0.3mm solid #000; margin-left: 1mm; }
.rule { display: inline-block; width: 100mm; height: 2mm; border: 0.3mm solid #000; border-top: 0; vertical-align: baseline; }
h2 { font-size: 11pt; margin: 4mm 0 1mm 0; }
.cautions { border: 0.5mm solid #000; padding: 0 2mm 1mm 2mm; margin-top: 4mm; break-inside: avoid; }
ul { margin: 0; padding-left: 5mm; }
.strips { break-before: page; }
.strips tr { break-inside: auto; }
.strips tbody td { border: 0; }
figure { display: inline-block; margin: 0 3mm 3mm 0; vertical-align: top; break-inside: avoid; }
.strip { border: 0.2mm dashed #000; padding: 0.5mm 2mm; font: 9pt/1.15 monospace; white-space: pre; }
.strip p { margin: 0; }
figcaption { font-size: 9pt; }
@media screen { body { padding: 5mm; } }
";

#[cfg(test)]
mod tests {
    use super::*;
    use crate::schedule::{Fingerprint, Strip};

    fn head() -> Head {
        Head {
            boat: "<Tern> & \"Co\"".to_owned(),
            revision: "B".to_owned(),
            date: String::new(),
            number: String::new(),
            subtitle: String::new(),
            owner: String::new(),
            creator: String::new(),
            approved_by: String::new(),
            fingerprint: Fingerprint::of(b""),
            units: "Lengths in feet and inches".to_owned(),
            policy: "strict".to_owned(),
            open: "No finding is open in this revision".to_owned(),
            paper: Paper::Letter,
        }
    }

    fn sample() -> Sheet {
        let row = |text: &str| {
            vec![
                Field::Tick,
                Field::text(text),
                Field::Strong("1".to_owned()),
            ]
        };
        Sheet {
            stem: "sample",
            title: "Sample",
            orientation: Orientation::Across,
            remarks: vec!["Read this".to_owned()],
            columns: vec![
                Column::tick("Done"),
                Column::text("Wire", 30.0),
                Column::figure("Length", 20.0),
            ],
            blocks: vec![Block {
                title: "Spool".to_owned(),
                detail: String::new(),
                rows: vec![row("a"), row("<script>"), row("c"), row("d")],
                totals: vec!["4 pieces".to_owned()],
            }],
            strips: vec![Strip {
                caption: "W1 end A".to_owned(),
                lines: vec!["W1".to_owned(), "A & B".to_owned()],
                length_mm: 38.0,
            }],
            cautions: vec!["Disconnect first."],
        }
    }

    #[test]
    fn a_page_is_well_formed_and_escaped() {
        let text = sheet(&head(), &sample());
        assert!(!text.contains("<script>"));
        assert!(text.contains("&lt;Tern&gt; &amp; &quot;Co&quot;"));
        assert!(text.contains("date not given"));
        assert!(text.contains("size: 279.4mm 215.9mm"));
        assert!(text.contains(DEFERENCE));
        assert_eq!(text.matches("<tr class=\"s\">").count(), 1);
        // Void elements aside, the page is XML: tags that do not match would show here.
        let closed = text
            .replace("<!DOCTYPE html>\n", "")
            .replace("<br>", "<br/>");
        let closed = close_void(&closed, "meta");
        let closed = close_void(&closed, "col ");
        roxmltree::Document::parse(&closed).expect("the page is well formed");
    }

    #[test]
    fn a_page_calls_for_nothing_from_outside() {
        let text = sheet(&head(), &sample());
        for word in ["http:", "https:", "src=", "href=", "url(", "@import"] {
            assert!(!text.contains(word), "found {word}");
        }
    }

    /// Boxes for a pencil are at least 4 mm and lettering at least 9 pt: common practice, no source.
    #[test]
    fn boxes_and_lettering_are_large_enough() {
        assert!(STYLE.contains(".box { display: inline-block; width: 4.5mm; height: 4.5mm;"));
        for size in STYLE.split("font-size: ").skip(1) {
            let points: f64 = size
                .split("pt")
                .next()
                .and_then(|number| number.parse().ok())
                .expect("sizes are in points");
            assert!(points >= 9.0);
        }
    }

    fn close_void(text: &str, name: &str) -> String {
        let start = format!("<{name}");
        let mut parts = text.split(&start).map(str::to_owned);
        let mut out = parts.next().unwrap_or_default();
        for part in parts {
            out.push('<');
            out.push_str(name);
            out.push_str(&part.replacen('>', "/>", 1));
        }
        out
    }
}
