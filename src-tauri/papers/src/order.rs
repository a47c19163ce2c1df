//! What to buy for a board, and what each line is for.

use std::collections::BTreeMap;

use rust_xlsxwriter::{DocProperties, ExcelDateTime, Format as Style, FormatAlign, FormatBorder, Workbook, XlsxError};
use survey::arrangement::consequences;
use survey::units::Quantity;
use survey::{
    Arrangement, Board, Bond, Cable, Construction, CpcForm, Device, DeviceKind, EntryKind, Known, Message, Outlet,
    RcdType, Reading, Stage, YesNo, say,
};

use crate::text::{line, number};
use crate::{Kind, PaperError, PaperInput, first_caution};

/// Added to every cable length for terminations and waste, percent. Common practice, no source.
pub const ALLOWANCE_PERCENT: f64 = 10.0;

/// The part of the list a line stands in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Group {
    /// Enclosure, incomer and devices.
    Devices,
    /// Blanks for free poles.
    Blanks,
    /// Glands, conduit fittings and what goes with them.
    Entries,
    /// Labels.
    Labels,
    /// Cable.
    Cable,
}

impl Group {
    /// The words shown.
    #[must_use]
    pub const fn words(self) -> Message {
        Message::bare(match self {
            Self::Devices => "order-group-devices",
            Self::Blanks => "order-group-blanks",
            Self::Entries => "order-group-entries",
            Self::Labels => "order-group-labels",
            Self::Cable => "order-group-cable",
        })
    }
}

/// What a quantity counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Unit {
    /// Pieces.
    Pieces,
    /// Modules of one pole.
    Modules,
    /// Metres.
    Metres,
}

impl Unit {
    /// The words shown.
    #[must_use]
    pub const fn words(self) -> Message {
        Message::bare(match self {
            Self::Pieces => "order-unit-pieces",
            Self::Modules => "order-unit-modules",
            Self::Metres => "order-unit-metres",
        })
    }
}

/// A line of the order list.
#[derive(Clone, Debug, PartialEq)]
pub struct OrderLine {
    /// Part of the list.
    pub group: Group,
    /// What to buy, in trade terms.
    pub item: String,
    /// How much to buy; zero where that is not known yet, and the note says why.
    pub quantity: f64,
    /// How much is needed in all, with what is there already.
    pub needed: f64,
    /// How much of it is there already; none where nobody counted.
    pub fitted: Option<f64>,
    /// Of what.
    pub unit: Unit,
    /// What it is for: circuits, entries, poles.
    pub purpose: String,
    /// What to check first; empty where there is nothing.
    pub note: String,
}

/// What something is bought for; most have several of a kind, such as entries of a plate.
#[derive(Clone, Debug, PartialEq)]
enum Purpose {
    Board,
    SinglePhase,
    Circuit,
    Spare,
    NoPlace,
    FreePoles,
    BesideIncomer,
    /// A gland plate, by its name: its entries.
    Plate(Message),
    /// Where a label goes, and why.
    Label(Message),
    Circuits,
    Sets,
    /// Circuits that a cable feeds.
    Cable(String),
    /// Parts of the enclosure.
    Enclosure,
}

impl Purpose {
    fn words(&self, which: &[String]) -> Message {
        let which = which.join(", ");
        match self {
            Self::Board => say!("order-for-board"),
            Self::SinglePhase => say!("order-for-single-phase"),
            Self::Circuit => say!("order-for-circuit", which = which),
            Self::Spare => say!("order-for-spare", which = which),
            Self::NoPlace => say!("order-for-no-place"),
            Self::FreePoles => say!("order-for-free-poles", which = which),
            Self::BesideIncomer => say!("order-for-beside-incomer"),
            Self::Plate(name) => say!("order-for-plate", plate = name.clone(), which = which),
            Self::Label(place) => place.clone(),
            Self::Circuits => say!("order-for-circuits", which = which),
            Self::Sets => say!("order-for-sets"),
            Self::Cable(circuits) => Message::plain(circuits.clone()),
            Self::Enclosure => say!("order-for-enclosure", which = which),
        }
    }
}

#[derive(Default)]
struct Sum {
    quantity: f64,
    /// Counted as fitted already, of things that a board may have.
    fitted: Option<f64>,
    /// What it is for, and which ones of the kind.
    purposes: Vec<(Purpose, Vec<String>)>,
    notes: Vec<Message>,
}

/// Lines by group, item and unit, the items by their words: the list is in the order of the alphabet.
#[derive(Default)]
struct List(BTreeMap<(Group, String, Unit), Sum>);

impl List {
    /// Sets what was counted as fitted of an item; where nobody counted, a note says so.
    fn fitted(&mut self, group: Group, item: &Message, unit: Unit, count: Option<f64>) {
        let Some(sum) = self.0.get_mut(&(group, item.to_string(), unit)) else { return };
        match count {
            Some(count) => sum.fitted = Some(count),
            None => sum.notes.push(say!("order-note-count")),
        }
    }

    fn add(
        &mut self,
        group: Group,
        item: &Message,
        quantity: f64,
        unit: Unit,
        purpose: (Purpose, String),
        note: Message,
    ) {
        let sum = self.0.entry((group, item.to_string(), unit)).or_default();
        sum.quantity += quantity;
        let (kind, one) = purpose;
        let found = sum.purposes.iter().position(|(other, _)| *other == kind);
        let index = found.unwrap_or_else(|| {
            sum.purposes.push((kind, Vec::new()));
            sum.purposes.len() - 1
        });
        if !one.is_empty() {
            sum.purposes[index].1.push(one);
        }
        if !note.is_empty() && !sum.notes.contains(&note) {
            sum.notes.push(note);
        }
    }
}

/// Everything to buy. On an existing board only devices and cables that are decided, and entries
/// whose holes are still to be made; blanks and labels as owed, to be set against what is fitted.
#[must_use]
pub fn order_lines(board: &Board, tables: &plate::Tables) -> Vec<OrderLine> {
    let mut list = List::default();
    devices(board, &mut list);
    blanks(board, &mut list);
    entries(board, tables, &mut list);
    labels(board, &mut list);
    cables(board, &mut list);
    protection(board, &mut list);
    list.0
        .into_iter()
        .map(|((group, item, unit), sum)| OrderLine {
            group,
            item,
            // A whole metre or piece up: nobody sells a part of one.
            quantity: (sum.quantity - sum.fitted.unwrap_or(0.0) - 1e-9).ceil().max(0.0),
            needed: (sum.quantity - 1e-9).ceil().max(0.0),
            fitted: sum.fitted,
            unit,
            purpose: sum
                .purposes
                .iter()
                .map(|(kind, ones)| kind.words(ones).to_string())
                .collect::<Vec<_>>()
                .join("; "),
            note: Message::several(sum.notes).to_string(),
        })
        .collect()
}

/// "32 A", or that it is not known: "rating not known".
fn shown<Q: Quantity>(reading: &Reading<Q>, unknown: Message) -> Message {
    if reading.is_unknown() { unknown } else { reading.said() }
}

fn rating(reading: &Reading<survey::Amps>) -> Message {
    shown(reading, say!("paper-rating-unknown"))
}

fn size(reading: &Reading<survey::SquareMillimetres>) -> Message {
    shown(reading, say!("paper-size-unknown"))
}

pub(crate) fn residual(reading: &Reading<survey::Amps>, rcd: Option<&RcdType>) -> Message {
    let current = match reading.single() {
        Some(amps) => Message::plain(format!("{} mA", number(amps.get() * 1000.0))),
        None => say!("paper-residual-unknown"),
    };
    say!("paper-residual", current = current, rcd = rcd.map_or(say!("not-known"), |rcd| rcd.words()))
}

/// A device in trade terms: "RCBO 1P+N, type C 16 A, 10 kA, 30 mA type A".
pub(crate) fn device_words(device: &Device) -> Message {
    let kind = device.kind.map_or(say!("paper-device-unknown"), DeviceKind::words);
    let poles = device.poles.map_or(say!("paper-poles-unknown"), |poles| poles.words());
    let mut parts = vec![say!("paper-device", kind = kind, poles = poles)];
    let has_curve = matches!(device.kind, Some(DeviceKind::CircuitBreaker | DeviceKind::Rcbo));
    let rated = rating(&device.rated);
    parts.push(match device.curve.get() {
        Some(curve) if has_curve => say!("paper-device-type", curve = curve.words(), rated = rated),
        None if has_curve => say!("paper-device-type-unknown", rated = rated),
        _ => rated,
    });
    for (name, set) in [("Ir", &device.ir), ("Ii", &device.ii)] {
        if let Some(set) = set.single().filter(|_| device.kind == Some(DeviceKind::AdjustableBreaker)) {
            parts.push(Message::plain(format!("{name} {} A", number(set.get()))));
        }
    }
    if let Some(breaking) = device.breaking.single() {
        parts.push(Message::plain(format!("{} kA", number(breaking.get() / 1000.0))));
    }
    if matches!(device.kind, Some(DeviceKind::Rcbo | DeviceKind::Rcd)) {
        parts.push(residual(&device.residual, device.rcd_type.get()));
    }
    Message::listed(parts)
}

fn circuits_on(board: &Board, device: survey::DeviceId) -> Vec<String> {
    board
        .live_circuits()
        .filter(|(_, circuit)| circuit.device == Some(device))
        .map(|(_, circuit)| plate::circuit_label(board, circuit).to_string())
        .collect()
}

fn devices(board: &Board, list: &mut List) {
    let new = board.stage == Stage::New;
    let to_buy = |known: Known| new || known == Known::Decided;
    if new && let Some(pattern) = board.enclosure.get() {
        list.add(
            Group::Devices,
            &say!("order-enclosure", name = line(&pattern.named())),
            1.0,
            Unit::Pieces,
            (Purpose::Board, String::new()),
            Message::default(),
        );
    }
    let incomer = &board.incomer;
    if let Some(arrangement) = incomer.arrangement.get().copied()
        && arrangement != Arrangement::Lugs
        && to_buy(incomer.arrangement.from.known)
    {
        let words = say!("order-incomer", arrangement = arrangement.words(), rating = rating(&incomer.rated));
        let residual = matches!(arrangement, Arrangement::FourPoleRcd | Arrangement::TwoPoleRcd)
            .then(|| residual(&incomer.residual, incomer.rcd_type.get()));
        let words = Message::listed([words].into_iter().chain(residual));
        list.add(Group::Devices, &words, 1.0, Unit::Pieces, (Purpose::Board, String::new()), Message::default());
    }
    if consequences(board).phase_link && to_buy(incomer.arrangement.from.known) {
        list.add(
            Group::Devices,
            &say!("order-phase-link"),
            1.0,
            Unit::Pieces,
            (Purpose::SinglePhase, String::new()),
            say!("order-note-made-for"),
        );
    }
    for (id, device) in board.live_devices().filter(|(_, device)| to_buy(device.rated.from.known)) {
        let circuits = circuits_on(board, id);
        let purpose = match (circuits.is_empty(), device.at) {
            (false, _) => (Purpose::Circuit, line(&circuits.join(", "))),
            (true, Some(at)) => (Purpose::Spare, at.to_string()),
            (true, None) => (Purpose::NoPlace, String::new()),
        };
        let note = if device.kind.is_none() || device.poles.is_none() || device.rated.is_unknown() {
            say!("order-note-complete")
        } else {
            Message::default()
        };
        list.add(Group::Devices, &device_words(device), 1.0, Unit::Pieces, purpose, note);
    }
}

fn blanks(board: &Board, list: &mut List) {
    let found = consequences(board);
    let blank = say!("order-blank");
    if !found.blanks.is_empty() {
        let poles: Vec<String> = found.blanks.iter().map(ToString::to_string).collect();
        list.add(
            Group::Blanks,
            &blank,
            found.blanks.len() as f64,
            Unit::Modules,
            (Purpose::FreePoles, ranges(&poles)),
            Message::default(),
        );
    }
    if found.incomer_blanks > 0 {
        let count = f64::from(found.incomer_blanks);
        let purpose = (Purpose::BesideIncomer, String::new());
        list.add(Group::Blanks, &blank, count, Unit::Modules, purpose, Message::default());
    }
    if board.stage == Stage::Existing {
        let count = board.housing.blanks_fitted.get().map(|count| f64::from(*count));
        list.fitted(Group::Blanks, &blank, Unit::Modules, count);
    }
}

/// The first and last of long lists: a 72-pole board would fill the cell.
fn ranges(all: &[String]) -> String {
    match all {
        [first, .., last] if all.len() > 8 => {
            say!("order-range", first = first.clone(), last = last.clone(), count = all.len()).to_string()
        }
        _ => all.join(", "),
    }
}

fn entries(board: &Board, tables: &plate::Tables, list: &mut List) {
    for (plate_id, record) in board.live_plates() {
        let labels = plate::entry_labels(record);
        let name = plate::plate_name(board, plate_id);
        for (id, entry) in record.entries.iter().filter(|(_, entry)| !entry.removed) {
            let label = labels.get(id).map_or("", String::as_str);
            let cable_gone = entry.cable.is_some_and(|id| board.cables.get(&id).is_none_or(|cable| cable.removed));
            let size = line(&entry.size);
            let Some(kind) = entry.kind else { continue };
            let listed = plate::fittings(kind, &entry.size, tables).and_then(|fittings| fittings.thread);
            let thread = listed.map_or_else(|| say!("plate-thread-of-size", size = size.clone()), Message::plain);
            // The hole of a cable that is gone wants closing, whether it is made or not.
            let wanted = if cable_gone { EntryKind::Blanked } else { kind };
            if (cable_gone && kind == EntryKind::Blanked) || (entry.existing && !cable_gone) {
                continue;
            }
            for part in plate::parts(wanted, &size, &thread) {
                let purpose = (Purpose::Plate(name.clone()), label.to_owned());
                list.add(Group::Entries, &part.item, 1.0, Unit::Pieces, purpose, part.note);
            }
        }
    }
}

fn labels(board: &Board, list: &mut List) {
    let found = consequences(board);
    for label in &found.labels {
        let count = if label.key == "rcd-test" {
            let devices = board
                .live_devices()
                .filter(|(_, device)| matches!(device.kind, Some(DeviceKind::Rcbo | DeviceKind::Rcd)))
                .count();
            let incomer = matches!(found.arrangement, Some(Arrangement::FourPoleRcd | Arrangement::TwoPoleRcd));
            (devices + usize::from(incomer)).max(1)
        } else {
            1
        };
        let item = say!("order-label", text = line(&label.text));
        let place = say!("order-for-label", place = line(&label.place), source = line(&label.source));
        let purpose = (Purpose::Label(place), String::new());
        list.add(Group::Labels, &item, count as f64, Unit::Pieces, purpose, Message::default());
        if board.stage == Stage::Existing {
            let there = board.housing.labels_fitted.contains(&label.key);
            // A list nobody began says nothing of any label.
            let count = (!board.housing.labels_fitted.is_empty()).then_some(if there { count as f64 } else { 0.0 });
            list.fitted(Group::Labels, &item, Unit::Pieces, count);
        }
    }
    let numbers: Vec<String> =
        board.live_circuits().map(|(_, circuit)| line(&plate::circuit_label(board, circuit).words())).collect();
    if !numbers.is_empty() {
        list.add(
            Group::Labels,
            &say!("order-circuit-number"),
            numbers.len() as f64,
            Unit::Pieces,
            (Purpose::Circuits, ranges(&numbers)),
            Message::default(),
        );
        list.add(
            Group::Labels,
            &say!("order-conductor-numbers"),
            numbers.len() as f64,
            Unit::Pieces,
            (Purpose::Sets, String::new()),
            Message::default(),
        );
    }
}

/// "3 × 2.5 mm²": cores and size; the cpc follows on its own.
pub(crate) fn cores_words(cable: &Cable) -> Message {
    let cores = cable.cores.get().map_or("?".to_owned(), ToString::to_string);
    say!("paper-cores", cores = cores, size = size(&cable.size))
}

fn cables(board: &Board, list: &mut List) {
    let mut users: BTreeMap<survey::CableId, Vec<String>> = BTreeMap::new();
    for (_, circuit) in board.live_circuits() {
        if let Some((id, _)) = board.cable_of(circuit) {
            users
                .entry(id)
                .or_default()
                .push(say!("paper-circuit", circuit = line(&plate::circuit_label(board, circuit))).to_string());
        }
    }
    if let Some(id) = board.supply.cable {
        users.entry(id).or_default().push(say!("order-for-incoming").to_string());
    }
    for (id, users) in users {
        let Some(cable) = board.cables.get(&id).filter(|cable| !cable.removed) else { continue };
        let decided = cable.size.from.known == Known::Decided;
        if board.stage == Stage::Existing && !decided {
            continue;
        }
        let construction = cable.construction.get().copied();
        let item = match construction {
            Some(Construction::SingleCore) => say!("order-cable-single", size = size(&cable.size)),
            // Sold by the sizes of both: 2.5/1.5 mm².
            Some(Construction::FlatTwinEarth) => match (cable.size.single(), cable.cpc_size.single()) {
                (Some(size), Some(cpc)) => {
                    say!("order-cable-flat", size = number(size.get()), cpc = number(cpc.get()))
                }
                _ => say!("order-cable-flat-unknown", size = size(&cable.size)),
            },
            Some(other) => say!("order-cable", construction = other.words(), cores = cores_words(cable)),
            None => say!("order-cable-unknown", cores = cores_words(cable)),
        };
        let material = cable.material.get().map(|material| material.words());
        let insulation = cable.insulation.get().map(|insulation| insulation.words());
        let item = Message::listed([Some(item), material, insulation].into_iter().flatten());
        let purpose = users.join(", ");
        let runs = match construction {
            Some(Construction::SingleCore) => cable.cores.get().map_or(1.0, |cores| f64::from(*cores)),
            _ => 1.0,
        };
        let length = cable.length.range().map(|range| range.hi().get()).filter(|length| length.is_finite());
        let metres = length.unwrap_or(0.0) * (1.0 + ALLOWANCE_PERCENT / 100.0);
        let note = match length {
            Some(_) => say!("order-note-allowance", percent = number(ALLOWANCE_PERCENT)),
            None => say!("order-note-length", purpose = purpose.clone()),
        };
        if cable.cpc.get() == Some(&CpcForm::Separate) {
            let metal = cable
                .cpc_material
                .get()
                .or(cable.material.get())
                .map_or(say!("paper-metal-unknown"), |one| one.words());
            let item = say!("order-cpc", size = size(&cable.cpc_size), metal = metal);
            let purpose = (Purpose::Cable(purpose.clone()), String::new());
            list.add(Group::Cable, &item, metres, Unit::Metres, purpose, note.clone());
        }
        let purpose = (Purpose::Cable(purpose), String::new());
        list.add(Group::Cable, &item, metres * runs, Unit::Metres, purpose, note);
    }
}

/// What the enclosure lacks against touch, and the conductors of earthing and bonding that are decided.
fn protection(board: &Board, list: &mut List) {
    let housing = &board.housing;
    for (bond, part) in [
        (&housing.case_bond, say!("order-strap-case")),
        (&housing.door_bond, say!("order-strap-door")),
        (&housing.plates_bond, say!("order-strap-plates")),
    ] {
        if bond.get() == Some(&Bond::NotBonded) {
            let purpose = (Purpose::Enclosure, part.to_string());
            let note = say!("order-note-flexible");
            list.add(Group::Devices, &say!("order-strap"), 1.0, Unit::Pieces, purpose, note);
        }
    }
    let of_the_board = || (Purpose::Board, String::new());
    for (answer, item) in [
        (&housing.incoming_earth, say!("order-earth-terminal")),
        (&housing.barriers, say!("order-barrier")),
        (&housing.shrouds, say!("order-shrouds")),
    ] {
        if answer.get() == Some(&YesNo::No) {
            list.add(Group::Devices, &item, 1.0, Unit::Pieces, of_the_board(), say!("order-note-made-for"));
        }
    }
    let new = board.stage == Stage::New;
    let supply = &board.supply;
    for (size, item) in [
        (&supply.earthing_conductor, say!("order-earthing-conductor", size = supply.earthing_conductor.said())),
        (&supply.bonding, say!("order-bonding-conductor", size = supply.bonding.said())),
    ] {
        if !size.is_unknown() && (new || size.from.known == Known::Decided) {
            list.add(Group::Cable, &item, 0.0, Unit::Metres, of_the_board(), say!("order-note-no-length"));
        }
    }
}

/// Heads of the columns.
pub(crate) const HEADINGS: [Message; 8] = [
    Message::bare("order-part"),
    Message::bare("order-item"),
    Message::bare("order-quantity"),
    Message::bare("order-unit"),
    Message::bare("order-needed"),
    Message::bare("order-fitted"),
    Message::bare("order-for"),
    Message::bare("order-note"),
];

/// How many are fitted; empty where nobody counted or nothing of the kind can be.
pub(crate) fn fitted_words(fitted: Option<f64>) -> String {
    fitted.map(number).unwrap_or_default()
}

/// A cell no spreadsheet takes for a formula: one that begins as one gets an apostrophe before it. Where semicolons
/// separate, a spreadsheet takes what follows one inside a cell for a cell of its own: it gets one too.
pub(crate) fn harmless(text: &str) -> String {
    let mut out = String::new();
    for (index, part) in text.split(';').enumerate() {
        if index > 0 {
            out.push(';');
        }
        // Spaces and quotes before it do not always stop it from being one.
        let first = part.trim_start_matches([' ', '"', '\'', '\u{a0}']);
        let formula = first.starts_with(['=', '+', '-', '@', '\t', '\r', '＝', '＋', '－', '＠']);
        if formula && (index > 0 || first.len() == part.len()) {
            out.push('\'');
        }
        out.push_str(part);
    }
    out
}

/// A cell as it stands in the file: quoted where any spreadsheet could take a part of it for the end of the cell,
/// whichever mark separates cells there.
pub(crate) fn quoted(text: &str) -> String {
    if text.contains([',', ';', '"', '\n', '\r', '\t']) {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text.to_owned()
    }
}

pub(crate) fn csv(input: &PaperInput) -> Vec<u8> {
    // Spreadsheets take a file without the mark for a national code page and spoil "mm²".
    let mut file = format!("\u{feff}{}\n", HEADINGS.map(|heading| quoted(&harmless(&heading.words()))).join(","));
    for row in order_lines(input.board, input.plate_tables) {
        let cells = [
            row.group.words().to_string(),
            line(&row.item),
            number(row.quantity),
            row.unit.words().to_string(),
            number(row.needed),
            fitted_words(row.fitted),
            line(&row.purpose),
            line(&row.note),
        ];
        file.push_str(&cells.map(|text| quoted(&harmless(&text))).join(","));
        file.push('\n');
    }
    // Nothing to buy: a row of its own at the end, so that the first is the headings.
    let caution = [input.lack(), first_caution(Outlet::OrderList)];
    let caution = quoted(&harmless(caution.join(" ").trim_start()));
    let note = quoted(&harmless(&say!("order-note-row").words()));
    file.push_str(&format!("{note},{caution}{}\n", ",".repeat(HEADINGS.len() - 2)));
    file.into_bytes()
}

pub(crate) fn xlsx(input: &PaperInput) -> Result<Vec<u8>, PaperError> {
    workbook(input).map_err(|error| not_written(&error))
}

/// A spreadsheet that was not written, with the writer's own words.
pub(crate) fn not_written(error: &XlsxError) -> PaperError {
    PaperError::Fault(say!("paper-fault-spreadsheet", why = error.to_string()))
}

/// The name of a sheet: without the letters that none may have, and no longer than it may be.
pub(crate) fn sheet_name(words: &Message) -> String {
    /// Letters that a name may have at most.
    const LONGEST: usize = 31;
    let may = |letter: &char| !matches!(letter, '[' | ']' | ':' | '*' | '?' | '/' | '\\');
    let name: String = words.to_string().chars().filter(may).take(LONGEST).collect();
    // Nor may an apostrophe begin or end it.
    name.trim().trim_matches('\'').to_owned()
}

/// The day in a date such as "2026-11-25"; a fixed day where it is no such date, since the file must
/// bear one and there is no clock here.
pub(crate) fn day(date: &str) -> Result<ExcelDateTime, XlsxError> {
    let parts: Vec<&str> = date.split('-').collect();
    let read = match parts[..] {
        [year, month, day] => year.parse().ok().zip(month.parse().ok()).zip(day.parse().ok()),
        _ => None,
    };
    read.and_then(|((year, month), day)| ExcelDateTime::from_ymd(year, month, day).ok())
        .map_or_else(|| ExcelDateTime::from_ymd(2000, 1, 1), Ok)
}

fn workbook(input: &PaperInput) -> Result<Vec<u8>, XlsxError> {
    let mut book = Workbook::new();
    let title = input.title(Kind::OrderList);
    book.set_properties(&DocProperties::new().set_title(&title).set_creation_datetime(&day(input.date)?));
    let bold = Style::new().set_bold();
    let head = Style::new().set_bold().set_border_bottom(FormatBorder::Medium);
    let wrap = Style::new().set_text_wrap().set_align(FormatAlign::Top);
    let count = Style::new().set_align(FormatAlign::Top).set_num_format("0");
    let sheet = book.add_worksheet();
    sheet.set_name(sheet_name(&Kind::OrderList.what()))?;
    for (column, width) in [10.0, 52.0, 10.0, 9.0, 9.0, 9.0, 42.0, 42.0].into_iter().enumerate() {
        sheet.set_column_width(u16::try_from(column).unwrap_or(0), width)?;
    }
    sheet.write_string_with_format(0, 0, title, &bold)?;
    let about = [input.site_line(), line(&input.board.place), line(input.date)];
    let about: Vec<&str> = about.iter().map(String::as_str).filter(|part| !part.is_empty()).collect();
    sheet.write_string(1, 0, about.join(" · "))?;
    sheet.write_string(2, 0, first_caution(Outlet::OrderList))?;
    for (column, heading) in (0..).zip(HEADINGS) {
        sheet.write_string_with_format(4, column, heading.to_string(), &head)?;
    }
    for (at, row) in (5..).zip(order_lines(input.board, input.plate_tables)) {
        sheet.write_string_with_format(at, 0, row.group.words().to_string(), &wrap)?;
        sheet.write_string_with_format(at, 1, line(&row.item), &wrap)?;
        sheet.write_number_with_format(at, 2, row.quantity, &count)?;
        sheet.write_string_with_format(at, 3, row.unit.words().to_string(), &wrap)?;
        sheet.write_number_with_format(at, 4, row.needed, &count)?;
        if let Some(fitted) = row.fitted {
            sheet.write_number_with_format(at, 5, fitted, &count)?;
        }
        sheet.write_string_with_format(at, 6, line(&row.purpose), &wrap)?;
        sheet.write_string_with_format(at, 7, line(&row.note), &wrap)?;
    }
    sheet.set_freeze_panes(5, 0)?;
    sheet.set_landscape();
    sheet.set_paper_size(9);
    sheet.set_print_fit_to_pages(1, 0);
    sheet.set_repeat_rows(4, 4)?;
    book.save_to_buffer()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_name_of_a_sheet_is_one_that_a_spreadsheet_takes() {
        for (words, name) in [("Order list", "Order list"), ("[a/b]: 'c'", "ab 'c"), ("'d", "d")] {
            assert_eq!(sheet_name(&words.into()), name);
        }
        assert_eq!(sheet_name(&"é".repeat(40).into()).chars().count(), 31);
    }

    #[test]
    fn no_cell_of_a_csv_begins_as_a_formula() {
        for text in ["=1+1", "+1", "-1", "@x", "\tx", "＝1"] {
            assert!(harmless(text).starts_with('\''), "{text}");
        }
        assert_eq!(harmless("3 × 2.5 mm²"), "3 × 2.5 mm²");
        for (text, safe) in [
            ("lamp;=1+1", "lamp;'=1+1"),
            ("lamp; \"@x\"", "lamp;' \"@x\""),
            ("a;b;-c", "a;b;'-c"),
            ("a; b", "a; b"),
            ("=a;=b", "'=a;'=b"),
        ] {
            assert_eq!(harmless(text), safe);
        }
    }

    #[test]
    fn a_cell_stays_one_whatever_separates() {
        assert_eq!(quoted("a b"), "a b");
        for text in ["a;b", "a,b", "a\"b", "a\nb", "a\tb"] {
            let cell = quoted(text);
            for separator in [b',', b';', b'\t'] {
                let mut reader =
                    csv::ReaderBuilder::new().has_headers(false).delimiter(separator).from_reader(cell.as_bytes());
                let row = reader.records().next().unwrap().unwrap();
                assert_eq!(row.iter().collect::<Vec<_>>(), [text], "{cell} read with {}", separator as char);
            }
        }
    }
}
