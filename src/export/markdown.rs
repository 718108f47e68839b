//! All lists as one Markdown text, with tables as GitHub and others read them.
//!
//! Texts of the netlist are only ever texts: signs that would begin markup, a link or a table cell are escaped.

use super::words::shown;
use crate::schedule::{Block, Column, ColumnKind, DEFERENCE, Field, Head, Sheet};
use std::fmt::Write;

/// Writes the lists.
#[must_use]
pub fn lists(head: &Head, sheets: &[&Sheet]) -> String {
    let mut out = String::with_capacity(16 * 1024);
    let _ = writeln!(out, "# {}\n", plain(&head.boat));
    let given = |word: &str| {
        if word.is_empty() {
            "not given".to_owned()
        } else {
            plain(word)
        }
    };
    let lines = [
        format!(
            "Revision {}, date {}, netlist {}",
            given(&head.revision),
            given(&head.date),
            head.fingerprint
        ),
        format!("**{}**", plain(&head.open)),
        format!("{}. Policies: {}.", plain(&head.units), plain(&head.policy)),
        DEFERENCE.to_owned(),
    ];
    for line in lines {
        let _ = writeln!(out, "{line}\n");
    }
    for sheet in sheets {
        list(&mut out, sheet);
    }
    out
}

fn list(out: &mut String, sheet: &Sheet) {
    let _ = writeln!(out, "## {}\n", sheet.title);
    for remark in &sheet.remarks {
        paragraph(out, remark);
    }
    for block in &sheet.blocks {
        rows(out, &sheet.columns, block);
    }
    for caution in &sheet.cautions {
        let _ = writeln!(out, "- **Caution:** {}", plain(caution));
    }
    if !sheet.cautions.is_empty() {
        out.push('\n');
    }
}

fn rows(out: &mut String, columns: &[Column], block: &Block) {
    if !block.title.is_empty() {
        let _ = writeln!(out, "### {}\n", plain(&block.title));
    }
    if !block.detail.is_empty() {
        paragraph(out, &block.detail);
    }
    if !block.rows.is_empty() {
        for column in columns {
            let _ = write!(out, "| {} ", plain(column.heading));
        }
        out.push_str("|\n");
        for column in columns {
            out.push_str(match column.kind {
                ColumnKind::Figure => "| ---: ",
                ColumnKind::Text | ColumnKind::Tick => "| --- ",
            });
        }
        out.push_str("|\n");
        for row in &block.rows {
            for field in row {
                out.push_str("| ");
                cell(out, field);
                out.push(' ');
            }
            out.push_str("|\n");
        }
        out.push('\n');
    }
    for total in &block.totals {
        let _ = writeln!(out, "**{}**\n", plain(total).trim());
    }
}

fn cell(out: &mut String, field: &Field) {
    match field {
        Field::Tick => out.push('☐'),
        Field::Text(text) => push(out, text),
        Field::Strong(text) => {
            let inner = plain(text);
            let inner = inner.trim();
            if !inner.is_empty() {
                let _ = write!(out, "**{inner}**");
            }
        }
        Field::Lines(lines) => {
            for (index, line) in lines.iter().enumerate() {
                if index > 0 {
                    out.push_str("<br>");
                }
                push(out, line);
            }
        }
        Field::Blank(why) => {
            push(out, why);
            out.push_str(" \\_\\_\\_\\_\\_\\_");
        }
    }
}

/// A paragraph; one that begins as a list or a heading does is kept a paragraph.
fn paragraph(out: &mut String, text: &str) {
    let text = plain(text);
    let text = text.trim();
    let figures = text.chars().take_while(char::is_ascii_digit).count();
    let begins = text.starts_with(['#', '-', '+', '='])
        || (figures > 0 && text[figures..].starts_with(['.', ')']));
    if begins {
        let at = if figures > 0 { figures } else { 0 };
        let _ = writeln!(out, "{}\\{}\n", &text[..at], &text[at..]);
    } else {
        let _ = writeln!(out, "{text}\n");
    }
}

/// A text on one line with its markup escaped.
#[must_use]
pub fn plain(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 8);
    push(&mut out, text);
    out
}

fn push(out: &mut String, text: &str) {
    let mut rest = text.chars().peekable();
    while let Some(letter) = rest.next() {
        match shown(letter) {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            sign @ ('\\' | '`' | '*' | '_' | '[' | ']' | '|' | '~' | '@' | '$' | '!') => {
                out.push('\\');
                out.push(sign);
            }
            // A bare address would become a link.
            ':' if rest.peek() == Some(&'/') => out.push_str("\\:"),
            '.' if out.ends_with("www") || out.ends_with("WWW") => out.push_str("\\."),
            other => out.push(other),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_are_never_markup() {
        assert_eq!(
            plain("a|b *c* <i>&amp; [x](https://y) www.z d_e\n\u{202E}"),
            "a\\|b \\*c\\* &lt;i&gt;&amp;amp; \\[x\\](https\\://y) www\\.z d\\_e \u{FFFD}"
        );
        let mut out = String::new();
        paragraph(&mut out, "# no heading");
        paragraph(&mut out, "12. no list");
        paragraph(&mut out, "12 V is no list");
        assert_eq!(
            out,
            "\\# no heading\n\n12\\. no list\n\n12 V is no list\n\n"
        );
    }

    #[test]
    fn a_row_is_one_line_with_as_many_cells_as_columns() {
        let columns = [
            Column::tick("Done"),
            Column::text("a|b", 1.0),
            Column::figure("Length", 1.0),
        ];
        let block = Block {
            title: "S".to_owned(),
            rows: vec![vec![
                Field::Tick,
                Field::Lines(vec!["x|y".to_owned(), "z\nw".to_owned()]),
                Field::Strong("3 m".to_owned()),
            ]],
            ..Block::default()
        };
        let mut out = String::new();
        rows(&mut out, &columns, &block);
        assert_eq!(
            out,
            "### S\n\n| Done | a\\|b | Length |\n| --- | --- | ---: |\n| ☐ | x\\|y<br>z w | **3 m** |\n\n"
        );
    }
}
