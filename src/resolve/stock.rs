//! Cables of several cores, and what is at hand for the bench: spools, offcuts, label stock.

use super::faults::{
    CORE_TWICE, LABEL_TOO_SMALL, LABELS_OFF_PAGE, MISSING_FIELD, UNKNOWN_CORE, UNKNOWN_SPOOL,
    WRONG_SPOOL,
};
use super::fields::{At, Field, quoted};
use super::names::{MAX_PLACES, guess};
use super::quantities::Limits;
use super::{Resolver, finding};
use crate::diag::Severity;
use crate::netlist::Entry;
use crate::netlist::records::LabelStockRecord;
use crate::netlist::text::{LengthText, OneOrMany};
use crate::source::{Fault, Span};
use crate::system::{
    Cable, CableId, Given, Known, LabelKind, LabelPage, LabelStock, SpoolId, StockSpool,
};
use crate::units::{Gauge, Metres};

/// A square of a code that any hand-held reader and any office printer can do.
const USUAL_MODULE: Metres = Metres(0.0005);

/// Thinnest and thickest label, its sheet included: 2 mm and 1 m.
const LABEL_SIZES: Limits = Limits::between(0.002, 1.0);

/// Squares of a code, from what a printer can do to what still fits a wire.
const MODULES: Limits = Limits::between(0.0002, 0.005);

/// Room that the rule of 100 mm takes on a sheet, with its ends.
const RULE_ROOM: Metres = Metres(0.104);

/// How far the labels of one sheet may be off by adding up rounded measures.
const GRID_SLACK: f64 = 1e-6;

impl<'n> Resolver<'n> {
    /// Spools, label stock and the cables that have a record.
    pub(super) fn stock(&mut self) {
        self.spools();
        for entry in &self.net.label_stock {
            if let Some(stock) = self.label_stock(entry) {
                self.system.label_stock.push(stock);
            }
        }
        self.cables();
    }

    fn spools(&mut self) {
        for entry in &self.net.spools {
            let at = At::entry(self.document, entry);
            let record = &entry.value;
            let gauge = self.gauge(at.field("gauge", record.gauge.as_ref()));
            if record.gauge.is_none() && record.cores.is_none() {
                self.lacks_field(at, "spool", "`gauge`", "write the size of the wire on it");
            }
            let cores = self.count(at.field("cores", record.cores.as_ref()), 2, MAX_PLACES);
            let wire_type = Self::free_text(at.field("wire-type", record.wire_type.as_ref()))
                .or(self.default_wire_type.clone());
            let spool = StockSpool {
                name: entry.name.clone(),
                span: entry.name_span,
                gauge,
                colour: self.colour(at.field("colour", record.colour.as_ref())),
                wire_type,
                cores: cores.map(|given| given.value),
                outside: self.read_within(
                    at.field("outside-diameter", record.outside_diameter.as_ref()),
                    OUTSIDE,
                ),
                lengths: self.stock_lengths(at, "lengths", record.lengths.as_ref()),
                offcuts: self.stock_lengths(at, "offcuts", record.offcuts.as_ref()),
                sold: self.stock_lengths(at, "sold", record.sold.as_ref()),
            };
            let id = SpoolId::at(self.system.spools.len());
            self.names.spools.add(&entry.name, id.0);
            self.system.spools.push(spool);
        }
    }

    fn stock_lengths(
        &mut self,
        at: At<'n>,
        key: &'static str,
        written: Option<&'n OneOrMany<LengthText>>,
    ) -> Vec<Metres> {
        let fields = at.list(key, written);
        let read = fields
            .into_iter()
            .filter_map(|field| self.read(Some(field)));
        read.map(|given| given.value).collect()
    }

    fn cables(&mut self) {
        for entry in &self.net.cables {
            let at = At::entry(self.document, entry);
            let record = &entry.value;
            let spool = self.spool(at.field("spool", record.spool.as_ref()));
            let outside = self.read_within(
                at.field("outside-diameter", record.outside_diameter.as_ref()),
                OUTSIDE,
            );
            self.cable(&entry.name, entry.name_span, outside, spool);
        }
    }

    fn cable(
        &mut self,
        name: &str,
        span: Span,
        outside: Known<Metres>,
        spool: Option<SpoolId>,
    ) -> CableId {
        let id = CableId::at(self.system.cables.len());
        self.names.cables.insert(name.to_owned(), id);
        self.system.cables.push(Cable {
            name: name.to_owned(),
            span,
            cores: Vec::new(),
            outside,
            spool,
        });
        id
    }

    /// The cable that a run names; one without a record begins with its first use.
    pub(super) fn cable_of(&mut self, name: Option<&Given<String>>) -> Option<CableId> {
        let given = name?;
        let name = given.value.trim();
        match self.names.cables.get(name) {
            Some(&id) => Some(id),
            None => Some(self.cable(name, given.span.unwrap_or_default(), None, None)),
        }
    }

    /// The spool that a cable names.
    fn spool(&mut self, field: Option<Field<'n>>) -> Option<SpoolId> {
        let field = field?;
        let name = field.text.trim();
        if let Some(id) = self.names.spools.get(name) {
            return Some(SpoolId(id));
        }
        let near = guess(&mut self.guesses, name, self.names.spools.names());
        let mut told = Self::error(
            UNKNOWN_SPOOL,
            field,
            format!(
                "{} names spool {}, which the file does not have",
                field.title(),
                quoted(name)
            ),
        )
        .label(field.span(), "no such spool");
        told.help = match near {
            Some(near) => format!("did you mean {}?", quoted(near)),
            None => format!("add {} under `spools`, or correct the name", quoted(name)),
        };
        self.tell(told);
        None
    }

    /// Joins the conductors to the cables whose records list them.
    pub(super) fn cable_cores(&mut self) {
        for entry in &self.net.cables {
            let at = At::entry(self.document, entry);
            let Some(&cable) = self.names.cables.get(&entry.name) else {
                continue;
            };
            for field in at.list("cores", entry.value.cores.as_ref()) {
                let name = field.text.trim();
                let Some(&id) = self.names.numbers.get(name) else {
                    if !self.names.broken_numbers.contains(name) {
                        let told = Self::error(
                            UNKNOWN_CORE,
                            field,
                            format!(
                                "{} names {}, which is no wire number",
                                field.title(),
                                quoted(name)
                            ),
                        )
                        .label(field.span(), "no such wire")
                        .repair("name the wire numbers of its cores, such as `P1-C` and `P1-N`");
                        self.tell(told);
                    }
                    continue;
                };
                let core = &mut self.system.conductors[id.index()];
                if let Some(other) = core.cable.filter(|&other| other != cable) {
                    let other = &self.system.cables[other.index()];
                    let told = Self::error(
                        CORE_TWICE,
                        field,
                        format!(
                            "{} is a core of cable {} and of cable {}",
                            quoted(name),
                            quoted(&entry.name),
                            quoted(&other.name)
                        ),
                    )
                    .label(field.span(), "here")
                    .label(other.span, "the other cable")
                    .repair("leave it in the one cable that it lies in");
                    self.tell(told);
                    continue;
                }
                core.cable = Some(cable);
            }
        }
        for (index, conductor) in self.system.conductors.iter().enumerate() {
            if let Some(cable) = conductor.cable {
                let id = crate::system::ConductorId::at(index);
                self.system.cables[cable.index()].cores.push(id);
            }
        }
        for entry in &self.net.cables {
            let Some(&cable) = self.names.cables.get(&entry.name) else {
                continue;
            };
            if let Some(why) = self.wrong_spool(cable) {
                let cable = &self.system.cables[cable.index()];
                let field = At::entry(self.document, entry).key("spool");
                let told = finding(
                    WRONG_SPOOL,
                    Severity::Error,
                    &cable.name,
                    format!(
                        "cable {} is cut from a spool that {why}",
                        quoted(&cable.name)
                    ),
                )
                .label(field.span(), "this spool")
                .repair(
                    "name a spool of such cable, with `cores` and `gauge`, or leave `spool` out",
                );
                self.tell(told);
            }
            let has_cores = !self.system.cables[cable.index()].cores.is_empty();
            // Cores that are written and unknown are told already.
            if !has_cores && entry.value.cores.is_none() {
                let at = At::entry(self.document, entry);
                self.lacks_field(
                    at,
                    "cable",
                    "`cores`",
                    "write its wire numbers, or `cable:` in its runs",
                );
            }
        }
    }

    /// Why the spool of a cable does not hold such a cable; none where it may.
    fn wrong_spool(&self, cable: CableId) -> Option<String> {
        let system = &self.system;
        let cable = &system.cables[cable.index()];
        let spool = &system.spools[cable.spool?.index()];
        let Some(cores) = spool.cores else {
            return Some("holds single wire".to_owned());
        };
        if cable.cores.len() > cores as usize {
            return Some(format!(
                "has {cores} cores, and it has {}",
                cable.cores.len()
            ));
        }
        let on_spool = spool.gauge?.value;
        let gauges = cable.cores.iter().filter_map(|core| {
            let core = &system.conductors[core.index()];
            core.gauge.map(|gauge| gauge.value)
        });
        let thickest = gauges.max_by(Gauge::by_area)?;
        (thickest.by_area(&on_spool).is_gt())
            .then(|| format!("holds {on_spool}, and one of its cores is {thickest}"))
    }

    fn label_stock(&mut self, entry: &'n Entry<LabelStockRecord>) -> Option<LabelStock> {
        let at = At::entry(self.document, entry);
        let record = &entry.value;
        let kind = self.word(
            at.field("kind", record.kind.as_ref()),
            &[
                ("wrap", LabelKind::Wrap),
                ("sleeve", LabelKind::Sleeve),
                ("flag", LabelKind::Flag),
                ("strip", LabelKind::Strip),
            ],
        );
        if record.kind.is_none() {
            self.lacks_field(
                at,
                "label stock",
                "`kind`",
                "write `wrap`, `sleeve`, `flag` or `strip`",
            );
        }
        let size = self.pair(at, "size", record.size.as_ref());
        if record.size.is_none() {
            self.lacks_field(
                at,
                "label stock",
                "`size`",
                "write `size: [38 mm, 25 mm]`: width and height of one label",
            );
        }
        let page = self.label_page(at, record, size);
        let printed = self.read_within(at.field("printed", record.printed.as_ref()), LABEL_SIZES);
        let supplied = self.read_within(at.field("supplied", record.supplied.as_ref()), OUTSIDE);
        let recovered = self.read_within(at.field("recovered", record.recovered.as_ref()), OUTSIDE);
        let code = self.word(
            at.field("code", record.code.as_ref()),
            &[("data-matrix", ())],
        );
        let module = self.read_within(at.field("module", record.module.as_ref()), MODULES);
        let (kind, (width, height)) = (kind?.value, size?);
        if kind == LabelKind::Wrap && record.printed.is_none() {
            self.lacks_field(
                at,
                "wrap label",
                "`printed`",
                "write the height of its printed part; the rest is the clear tail",
            );
            return None;
        }
        if kind == LabelKind::Sleeve && (record.supplied.is_none() || record.recovered.is_none()) {
            self.lacks_field(
                at,
                "sleeve",
                "`supplied` or `recovered`",
                "write both bores, as supplied and as recovered",
            );
            return None;
        }
        let printed = match (kind, printed) {
            (LabelKind::Wrap, Some(printed)) => printed.value,
            (LabelKind::Wrap, None) => return None,
            _ => height,
        };
        let bores = supplied.zip(recovered).map(|(a, b)| (a.value, b.value));
        let fault = if kind == LabelKind::Wrap && printed >= height {
            Some(("printed", "its printed part leaves no clear tail"))
        } else if bores.is_some_and(|(supplied, recovered)| recovered >= supplied) {
            Some((
                "recovered",
                "its bore as recovered is not below that as supplied",
            ))
        } else {
            None
        };
        if let Some((key, what)) = fault {
            self.off(LABEL_TOO_SMALL, at, key, what, "measure it again");
            return None;
        }
        Some(LabelStock {
            name: entry.name.clone(),
            span: entry.name_span,
            kind,
            page: if record.page.is_some() {
                Some(page?)
            } else {
                None
            },
            width,
            height,
            printed,
            bores: bores.filter(|_| kind == LabelKind::Sleeve),
            module: code.map(|_| module.map_or(USUAL_MODULE, |given| given.value)),
        })
    }

    /// The grid of labels on a sheet; none where a measure is missing or it does not lie on the sheet.
    fn label_page(
        &mut self,
        at: At<'n>,
        record: &'n LabelStockRecord,
        size: Option<(Metres, Metres)>,
    ) -> Option<LabelPage> {
        let page = self.pair(at, "page", record.page.as_ref());
        let margins = self.pair_within(at, "margins", record.margins.as_ref(), MARGINS);
        let pitch = self.pair(at, "pitch", record.pitch.as_ref());
        let columns = self.count(at.field("columns", record.columns.as_ref()), 1, MAX_PLACES);
        let rows = self.count(at.field("rows", record.rows.as_ref()), 1, MAX_PLACES);
        record.page.as_ref()?;
        for (missing, key, repair) in [
            (
                record.margins.is_none(),
                "`margins`",
                "write `margins: [left, top]`, from the edges of the sheet to the first label",
            ),
            (
                record.columns.is_none(),
                "`columns`",
                "write how many labels stand side by side",
            ),
            (
                record.rows.is_none(),
                "`rows`",
                "write how many labels stand one below the other",
            ),
        ] {
            if missing {
                self.lacks_field(at, "label sheet", key, repair);
            }
        }
        let (size, (width, height)) = (size?, page?);
        let (left, top) = margins?;
        let pitch = match record.pitch {
            Some(_) => pitch?,
            None => size,
        };
        let (columns, rows) = (columns?.value, rows?.value);
        let page = LabelPage {
            width,
            height,
            left,
            top,
            across: pitch.0,
            down: pitch.1,
            columns,
            rows,
        };
        let right = left + pitch.0 * f64::from(columns - 1) + size.0;
        let bottom = top + pitch.1 * f64::from(rows - 1) + size.1;
        let fault = if right.0 > width.0 + GRID_SLACK || bottom.0 > height.0 + GRID_SLACK {
            Some(("page", "its labels do not lie on the sheet"))
        } else if (columns > 1 && pitch.0.0 < size.0.0 - GRID_SLACK)
            || (rows > 1 && pitch.1.0 < size.1.0 - GRID_SLACK)
        {
            Some(("pitch", "its labels lie over one another"))
        } else if width < RULE_ROOM && height < RULE_ROOM {
            Some((
                "page",
                "the sheet has no room for the rule of 100 mm that its size is checked by",
            ))
        } else {
            None
        };
        let Some((key, what)) = fault else {
            return Some(page);
        };
        self.off(
            LABELS_OFF_PAGE,
            at,
            key,
            what,
            "measure sheet, margins, size and pitch again; leave `page` out for labels on a roll",
        );
        None
    }

    fn pair(
        &mut self,
        at: At<'n>,
        key: &'static str,
        written: Option<&'n OneOrMany<LengthText>>,
    ) -> Option<(Metres, Metres)> {
        self.pair_within(at, key, written, LABEL_SIZES)
    }

    /// Two lengths: across and down.
    pub(super) fn pair_within(
        &mut self,
        at: At<'n>,
        key: &'static str,
        written: Option<&'n OneOrMany<LengthText>>,
        limits: Limits,
    ) -> Option<(Metres, Metres)> {
        written?;
        let fields = at.list(key, written);
        let count = fields.len();
        let read: Vec<Known<Metres>> = fields
            .into_iter()
            .map(|field| self.read_within(Some(field), limits))
            .collect();
        if let [Some(across), Some(down)] = read[..] {
            return Some((across.value, down.value));
        }
        if count != 2 {
            let told = finding(
                MISSING_FIELD,
                Severity::Error,
                at.element,
                format!(
                    "{} of {} is not two lengths",
                    quoted(key),
                    quoted(at.element)
                ),
            )
            .label(at.key(key).span(), "expected two lengths")
            .repair(format!("write `{key}: [across, down]`, each with its unit"));
            self.tell(told);
        }
        None
    }

    fn lacks_field(&mut self, at: At<'n>, what: &str, key: &str, repair: &str) {
        let told = finding(
            MISSING_FIELD,
            Severity::Error,
            at.element,
            format!("{what} {} gives no {key}", quoted(at.element)),
        )
        .label(at.name_span(), format!("this {what}"))
        .repair(repair);
        self.tell(told);
    }

    fn off(&mut self, fault: Fault, at: At<'n>, key: &str, what: &str, repair: &str) {
        let told = finding(
            fault,
            Severity::Error,
            at.element,
            format!("label stock {}: {what}", quoted(at.element)),
        )
        .label(at.key(key).span(), "this measure")
        .repair(repair);
        self.tell(told);
    }
}

/// Diameters of wires, cables and sleeves: up to 100 mm.
const OUTSIDE: Limits = Limits::above_zero(0.1);

/// Margins of a sheet, from none on.
const MARGINS: Limits = Limits::between(0.0, 1.0);

/// Lids of fuse blocks.
pub(super) const LIDS: Limits = Limits::between(0.02, 1.0);
