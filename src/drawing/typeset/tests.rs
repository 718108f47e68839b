use super::*;
use crate::drawing::scene::{Form, Sheet as Drawn};
use crate::font;
use crate::schedule::{Column, Field, Fingerprint, Orientation, Strip};
use crate::system::Paper;

fn head() -> Head {
    Head {
        boat: "Tern".to_owned(),
        revision: "B".to_owned(),
        date: String::new(),
        number: String::new(),
        subtitle: String::new(),
        owner: String::new(),
        creator: String::new(),
        approved_by: String::new(),
        fingerprint: Fingerprint::of(b""),
        units: "Lengths in feet and inches".to_owned(),
        policy: "both poles count in a bundle".to_owned(),
        open: "No finding is open in this revision".to_owned(),
        paper: Paper::A4,
    }
}

fn sheet(rows: usize, words: &str) -> Sheet {
    Sheet {
        stem: "sample",
        title: "Sample",
        orientation: Orientation::Across,
        remarks: vec!["Read this first.".to_owned()],
        columns: vec![
            Column::tick("Done"),
            Column::text("Wire", 30.0),
            Column::text("Words", 60.0),
            Column::figure("Length", 20.0),
        ],
        blocks: vec![Block {
            title: "Spool".to_owned(),
            detail: "16 AWG".to_owned(),
            rows: (0..rows)
                .map(|row| {
                    vec![
                        Field::Tick,
                        Field::Strong(format!("W{row}")),
                        Field::Lines(vec![words.to_owned(), words.to_owned()]),
                        Field::text(format!("{row} ft 0 in")),
                    ]
                })
                .collect(),
            totals: vec!["Together 12 ft".to_owned()],
        }],
        strips: vec![Strip {
            caption: "W1 A".to_owned(),
            lines: vec!["W1".to_owned(), "BILGE".to_owned()],
            length_mm: 38.0,
        }],
        cautions: vec!["Disconnect first."],
    }
}

fn texts(page: &Drawn) -> Vec<&str> {
    page.groups
        .iter()
        .flat_map(|group| &group.shapes)
        .filter_map(|shape| match &shape.form {
            Form::Text { text, .. } => Some(text.as_str()),
            _ => None,
        })
        .collect()
}

/// Nothing leaves the paper, whatever the words.
fn inside(pages: &[Drawn]) {
    for page in pages {
        for shape in page.groups.iter().flat_map(|group| &group.shapes) {
            let (left, right, top, bottom) = match &shape.form {
                // Layout counts with the shipped font alone here.
                Form::Text {
                    at,
                    text,
                    size,
                    anchor,
                    ..
                } => {
                    let width = font::set_width(text, *size);
                    let left = match anchor {
                        Anchor::Start => at.0,
                        Anchor::Middle => at.0 - width / 2.0,
                        Anchor::End => at.0 - width,
                    };
                    (left, left + width, at.1 - 0.72 * size, at.1)
                }
                form => {
                    let Some(area) = form.area() else { continue };
                    (area.left, area.right, area.top, area.bottom)
                }
            };
            assert!(left >= LEFT - 1e-6, "{shape:?}");
            assert!(right <= page.width - RIGHT + 1e-6, "{shape:?}");
            assert!(
                top >= TOP - 1e-6 && bottom <= page.height - 10.0,
                "{shape:?}"
            );
        }
    }
}

#[test]
fn every_row_is_on_some_page_once_and_every_page_has_its_heads() {
    let pages = pages(&head(), &sheet(100, "from here to there"));
    assert!(pages.len() > 3);
    inside(&pages);
    for row in 0..100 {
        let name = format!("W{row}");
        let found: usize = pages
            .iter()
            .map(|page| texts(page).iter().filter(|text| **text == name).count())
            .sum();
        // One label strip says W1 too.
        assert_eq!(found, if row == 1 { 2 } else { 1 }, "{name}");
    }
    for (index, page) in pages.iter().enumerate() {
        let all = texts(page);
        assert!(all.contains(&"Sample"));
        if index == 0 {
            assert!(all.contains(&"Tern") && all.contains(&"Revision B, date not given"));
        } else {
            let about = all
                .iter()
                .any(|text| text.starts_with("Tern, revision B, "));
            assert!(about, "{all:?}");
        }
        let open = head().open;
        assert!(all.contains(&open.as_str()), "{all:?}");
        assert!(all.contains(&format!("page {} of {}", index + 1, pages.len()).as_str()));
        assert!(
            all.iter()
                .any(|text| text.starts_with("Output of a calculation"))
        );
        if all.contains(&"30 ft 0 in") || index == 0 {
            assert!(all.contains(&"Length"), "{all:?}");
        }
    }
    assert!(texts(&pages[1]).contains(&"Spool (continued)"));
}

#[test]
fn a_row_is_never_cut_by_the_end_of_a_page() {
    let words = "many words ".repeat(40);
    for page in pages(&head(), &sheet(30, &words)) {
        // Each row has one box; its lines all stand between the upper and the lower edge of the page.
        let boxes = page.groups[0]
            .shapes
            .iter()
            .filter(|shape| matches!(shape.form, Form::Rect { width, .. } if width == TICK))
            .count();
        let lengths = texts(&page)
            .iter()
            .filter(|text| text.ends_with("ft 0 in"))
            .count();
        assert_eq!(boxes, lengths);
    }
}

#[test]
fn words_without_an_end_are_shortened_and_stay_on_the_paper() {
    for words in [
        "x".repeat(30_000),
        "漢 ".repeat(9_000),
        "=\u{202E}|<b>".repeat(900),
    ] {
        let mut sheet = sheet(3, &words);
        sheet.blocks[0].title = words.clone();
        let head = Head {
            boat: words.clone(),
            revision: words.clone(),
            owner: words.clone(),
            ..head()
        };
        let pages = pages(&head, &sheet);
        inside(&pages);
        assert!(pages.len() < 20);
        assert!(
            pages
                .iter()
                .any(|page| texts(page).iter().any(|text| text.ends_with('…')))
        );
    }
}

#[test]
fn lettering_is_as_large_as_the_columns_allow() {
    let smallest = |sheet: &Sheet| {
        pages(&head(), sheet)
            .iter()
            .flat_map(|page| &page.groups[0].shapes)
            .filter_map(|shape| match shape.form {
                Form::Text { size, .. } => Some(size),
                _ => None,
            })
            .fold(f64::MAX, f64::min)
    };
    let mut plain = sheet(5, "to the pump");
    plain.strips.clear();
    assert!((smallest(&plain) - SMALL).abs() < 1e-9);
    let mut crowded = plain.clone();
    crowded.columns = (0..22)
        .map(|_| Column::text("Considerable", 10.0))
        .collect();
    crowded.blocks[0].rows = vec![(0..22).map(|_| Field::text("Considerable")).collect()];
    assert!(smallest(&crowded) >= 2.6 - 1e-9);
    inside(&pages(&head(), &crowded));
}

#[test]
fn a_sheet_without_rows_says_so() {
    let mut empty = sheet(0, "");
    empty.blocks.clear();
    let pages = pages(&head(), &empty);
    assert!(texts(&pages[0]).contains(&"Nothing to list."));
}

#[test]
fn the_heading_of_a_stage_stands_on_the_page_of_what_it_is_over() {
    let mut turned = 0;
    for rows in 1..40 {
        let mut sheet = sheet(rows, "to the pump");
        sheet.strips.clear();
        let mut group = sheet.blocks[0].clone();
        group.title = "Panel".to_owned();
        group.rows = vec![vec![
            Field::Tick,
            Field::Strong("C1".to_owned()),
            Field::text("to the lamp"),
            Field::text("2 ft 0 in"),
        ]];
        let stage = Block {
            title: "Stage 2".to_owned(),
            ..Block::default()
        };
        sheet.blocks.extend([stage, group]);
        let pages = pages(&head(), &sheet);
        let of = |words: &str| {
            let mut all = pages.iter();
            all.position(|page| texts(page).contains(&words))
        };
        assert!(of("Stage 2").is_some());
        assert_eq!(of("Stage 2"), of("C1"), "{rows} rows");
        turned += usize::from(of("Stage 2") != of(&format!("W{}", rows - 1)));
    }
    assert!(turned > 0, "no stage begins on a page of its own");
}
