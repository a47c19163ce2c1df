//! The circuit chart: what hangs on every pole.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;
use survey::arrangement::{Conductor, Consequences, DirectNeutralTerminal, NeutralRoute, consequences};
use survey::drawing::{self, Drawing};
use survey::housing::{self, HousingPart, PartState};
use survey::shown::capital;
use survey::terminal::{self, Occupancy, Terminals};
use survey::units::Quantity;
use survey::{
    Amps, Board, Cable, Check, Circuit, CircuitId, CpcForm, Device, DeviceId, Fact, Known, Message, Outlet, PoleAt,
    Reading, Subject, Verdict, say,
};

use crate::order::{cores_words, device_words};
use crate::text::{cell, line, number};
use crate::{PaperInput, first_caution};

#[derive(Default, Serialize)]
struct Row {
    way: String,
    poles: String,
    number: String,
    description: String,
    device: String,
    cable: String,
    neutral: String,
    earth: String,
    phase: String,
    ib: String,
    mark: &'static str,
    verdict: String,
    reason: String,
    /// Prints plain: a blank or a spare.
    quiet: bool,
}

#[derive(Serialize)]
struct Label {
    text: String,
    place: String,
    source: String,
}

/// A part of the enclosure in the list beside the drawing.
#[derive(Serialize)]
struct Part {
    mark: String,
    name: String,
    words: String,
    state: PartState,
}

impl Part {
    fn of(part: &HousingPart) -> Self {
        Self {
            mark: format!("{} {}", part.number, part.state.sign()),
            name: cell(&capital(&part.name.to_string())),
            words: cell(&part.words.to_string()),
            state: part.state,
        }
    }
}

#[derive(Serialize)]
struct Said {
    name: &'static str,
    value: String,
}

/// What the chart's template prints.
#[derive(Serialize)]
pub(crate) struct View {
    title: String,
    site: String,
    lack: String,
    board: String,
    place: String,
    date: String,
    facts: Vec<Said>,
    rows: Vec<Row>,
    terminals: Vec<String>,
    findings: Vec<String>,
    open: Vec<String>,
    labels: Vec<Label>,
    /// The board to scale, as on the screen; none where its enclosure is not known.
    drawing: Option<Drawing>,
    /// Largest size of a mark on the drawing, in millimetres of the board.
    mark: [f64; 2],
    parts: Vec<Part>,
    live: String,
    signs: String,
    caution: String,
}

/// "16 mm² (read from label)".
fn known<Q: Quantity>(reading: &Reading<Q>) -> String {
    if reading.is_unknown() {
        "not known".to_owned()
    } else {
        format!("{} ({})", reading.shown(), reading.from.known.words())
    }
}

fn fact<T>(fact: &Fact<T>, words: impl Fn(&T) -> String) -> String {
    match fact.get() {
        Some(value) => format!("{} ({})", words(value), fact.from.known.words()),
        None => "not known".to_owned(),
    }
}

fn kiloamps(reading: &Reading<Amps>) -> String {
    match reading.single() {
        Some(amps) if amps.get() >= 1000.0 => {
            format!("{} kA ({})", number(amps.get() / 1000.0), reading.from.known.words())
        }
        _ => known(reading),
    }
}

fn facts(board: &Board, found: &Consequences) -> Vec<Said> {
    let supply = &board.supply;
    let incomer = &board.incomer;
    let said = |name, value: String| Said { name, value: cell(&value) };
    let phases = match (supply.phases.get(), found.supply) {
        (Some(_), _) => fact(&supply.phases, |phases| phases.words().to_string()),
        (None, Some(implied)) => format!("{} (follows from the incomer)", implied.words()),
        (None, None) => "not known".to_owned(),
    };
    let residual = match incomer.residual.single() {
        Some(amps) => format!(
            ", {} mA, type {}",
            number(amps.get() * 1000.0),
            incomer.rcd_type.get().map_or(say!("not-known"), |kind| kind.words())
        ),
        None => String::new(),
    };
    let fed_from = if supply.fed_from.trim().is_empty() { "not known".to_owned() } else { supply.fed_from.clone() };
    vec![
        said("Enclosure", fact(&board.enclosure, |pattern| pattern.name.clone())),
        said("Fed from", fed_from),
        said("Supply", phases),
        said("Voltage to earth U0", known(&supply.voltage)),
        said("Earthing", fact(&supply.system, |system| system.words().to_string())),
        said("Ze", known(&supply.ze)),
        said("Ipf", kiloamps(&supply.ipf)),
        said("Device upstream", known(&supply.upstream)),
        said("Incomer", fact(&incomer.arrangement, |arrangement| arrangement.words().to_string())),
        said("Incomer rating", format!("{}{residual}", known(&incomer.rated))),
        said("Colours", fact(&supply.colours, |colours| colours.words().to_string())),
    ]
}

fn cable_words(cable: &Cable) -> String {
    let construction = cable.construction.get().map_or(Message::plain("construction not known"), |words| words.words());
    let method = match cable.method.get() {
        Some(method) => format!("method {}", method.key()),
        None => "method not known".to_owned(),
    };
    let length = if cable.length.is_unknown() { "length not known".to_owned() } else { cable.length.shown() };
    format!("{} {construction}, {}, {method}, {length}", cores_words(cable), cpc_words(cable))
}

/// What the protective conductor is: "cpc 1.5 mm²", "cpc armour".
fn cpc_words(cable: &Cable) -> String {
    match (cable.cpc.get(), cable.cpc_size.is_unknown()) {
        (Some(CpcForm::Core), true) | (None, true) if cable.cpc.get().is_none() => "cpc not known".to_owned(),
        (Some(CpcForm::Core), true) => "cpc a core".to_owned(),
        (Some(CpcForm::Core) | None, false) => format!("cpc {}", cable.cpc_size.shown()),
        (Some(form), true) => format!("cpc {}", form.words()),
        (Some(form), false) => format!("cpc {}, {}", form.words(), cable.cpc_size.shown()),
        (None, true) => "cpc not known".to_owned(),
    }
}

/// The verdict of a circuit: the worst of its checks, with the first sentence that is worst.
fn verdict(checks: &[&Check]) -> (&'static str, String, String) {
    let Some(worst) = checks.iter().map(|check| check.verdict).min() else {
        return ("–", "not checked".to_owned(), String::new());
    };
    let mark = match worst {
        Verdict::Fails => "✗",
        Verdict::Advised => "~",
        Verdict::Undecided => "?",
        Verdict::Holds => "✓",
    };
    let words = worst.words().to_string();
    if worst == Verdict::Holds {
        return (mark, words, format!("{} checks", checks.len()));
    }
    let alike: Vec<&&Check> = checks.iter().filter(|check| check.verdict == worst).collect();
    let first = alike.first().map_or_else(String::new, |check| cell(&check.sentence.words()));
    let more = alike.len().saturating_sub(1);
    (mark, words, if more == 0 { first } else { format!("{first} (and {more} more)") })
}

struct Sheet<'a> {
    input: &'a PaperInput<'a>,
    conductors: BTreeMap<PoleAt, Conductor>,
    terminals: Terminals,
    checks: BTreeMap<CircuitId, Vec<&'a Check>>,
}

impl Sheet<'_> {
    fn circuit(&self, id: CircuitId, circuit: &Circuit, device: Option<&Device>, poles: &[PoleAt]) -> Row {
        let board = self.input.board;
        let empty = Vec::new();
        let (mark, words, reason) = verdict(self.checks.get(&id).unwrap_or(&empty));
        let ib = self.input.design_currents.get(&id);
        let marks: BTreeSet<&str> =
            poles.iter().filter_map(|pole| self.conductors.get(pole)).map(|c| c.mark()).collect();
        Row {
            number: cell(&plate::circuit_label(board, circuit).words()),
            description: match (circuit.description.trim().is_empty(), circuit.kind) {
                (false, _) => cell(&circuit.description),
                (true, Some(kind)) => kind.words().to_string(),
                (true, None) => "not described".to_owned(),
            },
            device: device.map_or("no device".to_owned(), |device| cell(&device_words(device))),
            cable: board.cable_of(circuit).map_or("cable not known".to_owned(), |(_, cable)| cell(&cable_words(cable))),
            neutral: self.terminals.neutral.get(&id).map_or("–".to_owned(), |name| cell(name)),
            earth: self.terminals.earth.get(&id).map_or("–".to_owned(), |names| cell(&names.join(", "))),
            phase: if marks.is_empty() {
                "not known".to_owned()
            } else {
                marks.into_iter().collect::<Vec<_>>().join(" ")
            },
            ib: match ib {
                Some(range) if (range.hi().get() - range.lo().get()).abs() < 0.05 => {
                    format!("{:.1} A", range.hi().get())
                }
                Some(range) => format!("{:.1} to {:.1} A", range.lo().get(), range.hi().get()),
                None => "not known".to_owned(),
            },
            mark,
            verdict: words,
            reason,
            ..Row::default()
        }
    }

    /// Rows of one device: its circuits, or itself as a spare.
    fn device(&self, id: DeviceId, device: &Device, poles: &[PoleAt]) -> Vec<Row> {
        let mut rows: Vec<Row> = self
            .input
            .board
            .live_circuits()
            .filter(|(_, circuit)| circuit.device == Some(id))
            .map(|(circuit_id, circuit)| self.circuit(circuit_id, circuit, Some(device), poles))
            .collect();
        if rows.is_empty() {
            let live = poles.iter().filter_map(|pole| self.conductors.get(pole)).map(|c| c.mark());
            rows.push(Row {
                description: "spare: device without a circuit".to_owned(),
                device: cell(&device_words(device)),
                phase: live.collect::<BTreeSet<_>>().into_iter().collect::<Vec<_>>().join(" "),
                quiet: true,
                ..Row::default()
            });
        }
        rows
    }
}

fn pole_words(poles: &[PoleAt]) -> String {
    poles.iter().map(ToString::to_string).collect::<Vec<_>>().join(" ")
}

fn rows(input: &PaperInput, sheet: &Sheet, occupancy: &Occupancy) -> Vec<Row> {
    let board = input.board;
    let mut rows = Vec::new();
    let mut shown: BTreeSet<DeviceId> = BTreeSet::new();
    if let Some(pattern) = board.enclosure.get().filter(|pattern| pattern.faults().is_empty()) {
        let poles: Vec<PoleAt> = pattern.poles().collect();
        let mut free: Vec<PoleAt> = Vec::new();
        let flush = |free: &mut Vec<PoleAt>, rows: &mut Vec<Row>| {
            if let Some(first) = free.first() {
                let plural = if free.len() == 1 { "one blank".to_owned() } else { format!("{} blanks", free.len()) };
                rows.push(Row {
                    way: first.way.to_string(),
                    poles: pole_words(free),
                    description: format!("free: {plural}"),
                    quiet: true,
                    ..Row::default()
                });
                free.clear();
            }
        };
        for pole in poles {
            let holder = occupancy.poles.get(&pole);
            if holder.is_some() || free.first().is_some_and(|first| first.way != pole.way) {
                flush(&mut free, &mut rows);
            }
            match holder {
                None => free.push(pole),
                Some(id) if shown.insert(*id) => {
                    let Some(device) = board.devices.get(id) else { continue };
                    let taken: Vec<PoleAt> =
                        occupancy.poles.iter().filter(|(_, holder)| *holder == id).map(|(pole, _)| *pole).collect();
                    for mut row in sheet.device(*id, device, &taken) {
                        row.way = pole.way.to_string();
                        row.poles = pole_words(&taken);
                        rows.push(row);
                    }
                }
                Some(_) => {}
            }
        }
        flush(&mut free, &mut rows);
    }
    // Whatever has no pole of its own is still on the chart.
    for (id, device) in board.live_devices().filter(|(id, _)| !shown.contains(id)) {
        let poles: Vec<PoleAt> = device.at.into_iter().collect();
        for mut row in sheet.device(id, device, &poles) {
            row.way = "–".to_owned();
            row.poles = device.at.map_or("no place".to_owned(), |at| format!("{at}, not placed"));
            rows.push(row);
        }
    }
    for (id, circuit) in board.live_circuits().filter(|(_, circuit)| board.device_of(circuit).is_none()) {
        let row = sheet.circuit(id, circuit, None, &[]);
        rows.push(Row { way: "–".to_owned(), poles: "no place".to_owned(), ..row });
    }
    rows
}

/// What is unknown or assumed, circuit by circuit.
fn open(board: &Board) -> Vec<String> {
    let mut all = Vec::new();
    let mut say = |who: &str, fields: &[(&str, Known)]| {
        let parts: Vec<String> =
            [("not known", Known::Unknown), ("assumed", Known::Assumed), ("stated, not checked", Known::Stated)]
                .into_iter()
                .filter_map(|(words, kind)| {
                    let names: Vec<&str> =
                        fields.iter().filter(|(_, known)| *known == kind).map(|(name, _)| *name).collect();
                    (!names.is_empty()).then(|| format!("{words}: {}", names.join(", ")))
                })
                .collect();
        if !parts.is_empty() {
            all.push(format!("{who}. {}.", capital(&parts.join("; "))));
        }
    };
    let supply = &board.supply;
    say(
        "Supply",
        &[
            ("earthing system", supply.system.from.known),
            ("voltage", supply.voltage.from.known),
            ("Ze", supply.ze.from.known),
            ("Ipf", supply.ipf.from.known),
            ("device upstream", supply.upstream.from.known),
            ("incomer arrangement", board.incomer.arrangement.from.known),
            ("incomer rating", board.incomer.rated.from.known),
        ],
    );
    for (_, circuit) in board.live_circuits() {
        let mut fields: Vec<(&str, Known)> = Vec::new();
        match board.device_of(circuit) {
            Some((_, device)) => fields.push(("device rating", device.rated.from.known)),
            None => fields.push(("device", Known::Unknown)),
        }
        match board.cable_of(circuit) {
            Some((_, cable)) => fields.extend([
                ("cores", cable.cores.from.known),
                ("size", cable.size.from.known),
                ("material", cable.material.from.known),
                ("insulation", cable.insulation.from.known),
                ("method", cable.method.from.known),
                ("length", cable.length.from.known),
                ("ambient temperature", cable.ambient.from.known),
                ("grouping", cable.grouped.from.known),
            ]),
            None => fields.push(("cable", Known::Unknown)),
        }
        let load = &circuit.load;
        fields.push(("load", if load.current.is_unknown() { load.power.from.known } else { load.current.from.known }));
        say(&format!("Circuit {}", cell(&plate::circuit_label(board, circuit).words())), &fields);
    }
    all
}

fn terminal_notes(board: &Board, found: &Consequences, terminals: &Terminals) -> Vec<String> {
    let mut notes = Vec::new();
    notes.push(
        match found.neutral {
            NeutralRoute::Direct => {
                "The incoming neutral runs straight to the neutral bar: the incomer does not switch it."
            }
            NeutralRoute::ThroughIncomer => "The incoming neutral runs through the incomer.",
            NeutralRoute::Unknown => "How the incoming neutral runs is not known.",
        }
        .to_owned(),
    );
    if found.direct_neutral_terminal == DirectNeutralTerminal::LeaveEmpty {
        notes.push(
            "Leave the neutral bar's own incoming terminal empty: a neutral there would bypass the incomer.".to_owned(),
        );
    }
    if found.phase_link {
        notes.push("A phase link joins the three busbars: every pole is on the same line.".to_owned());
    }
    if !found.incoming.is_empty() {
        let ends: Vec<String> = found.incoming.iter().map(|(wire, place)| format!("{wire} to {place}")).collect();
        notes.push(format!("Incoming: {}.", ends.join("; ")));
    }
    if let Some(pattern) = board.enclosure.get().filter(|pattern| pattern.faults().is_empty()) {
        let (neutral, earth) = terminal::spare(pattern, terminals);
        let spare = |all: &[String], mark: &str| {
            let own: Vec<&str> = all.iter().filter(|name| name.contains(mark)).map(String::as_str).collect();
            let own = if own.is_empty() { "none".to_owned() } else { own.join(", ") };
            format!("{own}; {} terminals free in all", all.len())
        };
        notes.push(format!("Spare neutral terminals: {}.", spare(&neutral, "NS")));
        notes.push(format!("Spare earth terminals: {}.", spare(&earth, "ES")));
        if found.incomer_blanks > 0 {
            notes.push(match found.incomer_blanks {
                1 => "Beside the incomer one module needs a blank.".to_owned(),
                count => format!("Beside the incomer {count} modules need blanks."),
            });
        }
    }
    notes
}

pub(crate) fn view(input: &PaperInput) -> View {
    let board = input.board;
    let found = consequences(board);
    let pattern = board.enclosure.get().filter(|pattern| pattern.faults().is_empty());
    let occupancy = pattern.map(|pattern| terminal::occupancy(board, pattern)).unwrap_or_default();
    let terminals = pattern.map(|pattern| terminal::terminals(board, pattern)).unwrap_or_default();
    let mut checks: BTreeMap<CircuitId, Vec<&Check>> = BTreeMap::new();
    for check in input.checks {
        if let Subject::Circuit(id) = check.subject {
            checks.entry(id).or_default().push(check);
        }
    }
    let notes = terminal_notes(board, &found, &terminals);
    let mut findings: Vec<String> = input
        .checks
        .iter()
        .filter(|check| check.subject == Subject::Board && check.verdict != Verdict::Holds)
        .map(|check| format!("{}: {}", check.verdict.words(), cell(&check.sentence.words())))
        .collect();
    findings.extend(
        found
            .problems
            .iter()
            .map(|problem| format!("doubt: {}; {}.", cell(&problem.brief()), cell(&problem.remedy.words()))),
    );
    if board.enclosure.get().is_none() {
        findings.push("undecided: the enclosure is not known, so poles and terminals are not shown.".to_owned());
    }
    let sheet = Sheet { input, conductors: found.conductors(), terminals, checks };
    View {
        title: format!("Circuit chart {}", line(&board.reference)),
        site: cell(input.site),
        lack: input.lack(),
        board: cell(&board.reference),
        place: cell(&board.place),
        date: line(input.date),
        facts: facts(board, &found),
        rows: rows(input, &sheet, &occupancy),
        terminals: notes,
        findings,
        open: open(board),
        drawing: drawing::draw(board, &found),
        mark: housing::MARK,
        parts: housing::parts(board).iter().map(Part::of).collect(),
        live: cell(&housing::live_words(board).to_string()),
        signs: housing::legend(),
        labels: found
            .labels
            .iter()
            .map(|label| Label {
                text: cell(&label.text.words()),
                place: cell(&label.place.words()),
                source: cell(&label.source.words()),
            })
            .collect(),
        caution: first_caution(Outlet::CircuitChart),
    }
}
