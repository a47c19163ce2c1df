//! The circuit chart: what hangs on every pole.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;
use survey::arrangement::{Conductor, Consequences, DirectNeutralTerminal, NeutralRoute, consequences};
use survey::drawing::{self, Drawing, PlateEdge};
use survey::field;
use survey::housing::{self, HousingPart, PartState};
use survey::shown::capital;
use survey::terminal::{self, Occupancy, Terminals};
use survey::units::Quantity;
use survey::{
    Amps, Board, Cable, Check, Circuit, CircuitId, CpcForm, Device, DeviceId, Fact, Known, Message, PoleAt, Reading,
    Subject, Verdict, say,
};

use crate::head::{Head, Words, words};
use crate::order::{cores_words, device_words, residual};
use crate::text::{cell, line, number};
use crate::{Kind, PaperInput};

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
            name: cell(&capital(&part.name.words())),
            words: cell(&part.words),
            state: part.state,
        }
    }
}

#[derive(Serialize)]
struct Said {
    name: String,
    value: String,
}

/// What the chart's template prints.
#[derive(Serialize)]
pub(crate) struct View {
    head: Head,
    words: Words,
    facts: Vec<Said>,
    rows: Vec<Row>,
    terminals: Vec<String>,
    findings: Vec<String>,
    /// What nobody measured or read, record by record.
    unread: Vec<String>,
    labels: Vec<Label>,
    /// The board to scale, as on the screen; none where its enclosure is not known.
    drawing: Option<Drawing>,
    /// Names of the gland plates on the drawing.
    plates: Vec<String>,
    /// Largest size of a mark on the drawing, in millimetres of the board.
    mark: [f64; 2],
    parts: Vec<Part>,
    live: String,
    signs: String,
}

/// "16 mm² (read from label)".
fn known<Q: Quantity>(reading: &Reading<Q>) -> Message {
    if reading.is_unknown() {
        say!("not-known")
    } else {
        say!("paper-known", value = reading.said(), known = reading.from.known.words())
    }
}

fn fact<T>(fact: &Fact<T>, words: impl Fn(&T) -> Message) -> Message {
    match fact.get() {
        Some(value) => say!("paper-known", value = words(value), known = fact.from.known.words()),
        None => say!("not-known"),
    }
}

fn kiloamps(reading: &Reading<Amps>) -> Message {
    match reading.single() {
        Some(amps) if amps.get() >= 1000.0 => {
            let value = format!("{} kA", number(amps.get() / 1000.0));
            say!("paper-known", value = value, known = reading.from.known.words())
        }
        _ => known(reading),
    }
}

fn facts(board: &Board, found: &Consequences) -> Vec<Said> {
    let supply = &board.supply;
    let incomer = &board.incomer;
    let said = |name: Message, value: Message| Said { name: cell(&name), value: cell(&value) };
    let phases = match (supply.phases.get(), found.supply) {
        (Some(_), _) => fact(&supply.phases, |phases| phases.words()),
        (None, Some(implied)) => say!("chart-follows", supply = implied.words()),
        (None, None) => say!("not-known"),
    };
    let residual = incomer.residual.single().map(|_| residual(&incomer.residual, incomer.rcd_type.get()));
    let fed_from =
        if supply.fed_from.trim().is_empty() { say!("not-known") } else { Message::plain(supply.fed_from.clone()) };
    vec![
        said(say!("chart-enclosure"), fact(&board.enclosure, |pattern| Message::plain(pattern.name.clone()))),
        said(say!("chart-fed-from"), fed_from),
        said(say!("chart-supply"), phases),
        said(say!("chart-voltage"), known(&supply.voltage)),
        said(say!("chart-earthing"), fact(&supply.system, |system| system.words())),
        said(if board.is_sub_board() { "Zdb".into() } else { "Ze".into() }, known(&supply.ze)),
        said("Ipf".into(), kiloamps(&supply.ipf)),
        said(say!("chart-upstream"), known(&supply.upstream)),
        said(say!("chart-incomer"), fact(&incomer.arrangement, |arrangement| arrangement.words())),
        said(say!("chart-incomer-rated"), Message::listed([known(&incomer.rated)].into_iter().chain(residual))),
        said(say!("chart-colours"), fact(&supply.colours, |colours| colours.words())),
    ]
}

fn cable_words(cable: &Cable) -> Message {
    let construction = cable.construction.get().map_or(say!("chart-construction-unknown"), |words| words.words());
    let method = match cable.method.get() {
        Some(method) => say!("chart-method", method = method.key()),
        None => say!("chart-method-unknown"),
    };
    let length = if cable.length.is_unknown() { say!("chart-length-unknown") } else { cable.length.said() };
    say!(
        "chart-cable-words",
        cores = cores_words(cable),
        construction = construction,
        cpc = cpc_words(cable),
        method = method,
        length = length
    )
}

/// What the protective conductor is: "cpc 1.5 mm²", "cpc armour".
fn cpc_words(cable: &Cable) -> Message {
    match (cable.cpc.get(), cable.cpc_size.is_unknown()) {
        (None, true) => say!("chart-cpc-unknown"),
        (Some(CpcForm::Core), true) => say!("chart-cpc-core"),
        (Some(CpcForm::Core) | None, false) => say!("chart-cpc", cpc = cable.cpc_size.said()),
        (Some(form), true) => say!("chart-cpc", cpc = form.words()),
        (Some(form), false) => say!("chart-cpc-sized", cpc = form.words(), size = cable.cpc_size.said()),
    }
}

/// The verdict of a circuit: the worst of its checks, with the first sentence that is worst.
fn verdict(checks: &[&Check]) -> (&'static str, String, String) {
    let Some(worst) = checks.iter().map(|check| check.verdict).min() else {
        return ("–", cell(&say!("chart-not-checked")), String::new());
    };
    let mark = match worst {
        Verdict::Fails => "✗",
        Verdict::Advised => "~",
        Verdict::Undecided => "?",
        Verdict::Holds => "✓",
    };
    let words = worst.words().to_string();
    if worst == Verdict::Holds {
        return (mark, words, cell(&say!("chart-checks-hold", count = checks.len())));
    }
    let alike: Vec<&&Check> = checks.iter().filter(|check| check.verdict == worst).collect();
    let first = alike.first().map(|check| check.sentence.clone()).unwrap_or_default();
    let more = alike.len().saturating_sub(1);
    let reason = if more == 0 { first } else { say!("chart-and-more", sentence = first, count = more) };
    (mark, words, cell(&reason))
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
            number: cell(&plate::circuit_label(board, circuit)),
            description: match (circuit.description.trim().is_empty(), circuit.kind) {
                (false, _) => cell(&circuit.description),
                (true, Some(kind)) => cell(&kind.words()),
                (true, None) => cell(&say!("chart-not-described")),
            },
            device: cell(&device.map_or(say!("chart-no-device"), device_words)),
            cable: cell(&board.cable_of(circuit).map_or(say!("chart-cable-unknown"), |(_, cable)| cable_words(cable))),
            neutral: self.terminals.neutral.get(&id).map_or("–".to_owned(), cell),
            earth: self.terminals.earth.get(&id).map_or("–".to_owned(), |names| cell(&names.join(", "))),
            phase: if marks.is_empty() {
                cell(&say!("not-known"))
            } else {
                marks.into_iter().collect::<Vec<_>>().join(" ")
            },
            ib: match ib {
                Some(range) if (range.hi().get() - range.lo().get()).abs() < 0.05 => {
                    format!("{:.1} A", range.hi().get())
                }
                Some(range) => {
                    let [least, most] = [range.lo(), range.hi()].map(|end| format!("{:.1}", end.get()));
                    cell(&say!("chart-current-range", least = least, most = most))
                }
                None => cell(&say!("not-known")),
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
                description: cell(&say!("chart-spare")),
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
                rows.push(Row {
                    way: first.way.to_string(),
                    poles: pole_words(free),
                    description: cell(&say!("chart-free", count = free.len())),
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
            let poles = device.at.map(|at| say!("chart-not-placed", pole = at.to_string()));
            row.poles = cell(&poles.unwrap_or(say!("chart-no-place")));
            rows.push(row);
        }
    }
    for (id, circuit) in board.live_circuits().filter(|(_, circuit)| board.device_of(circuit).is_none()) {
        let row = sheet.circuit(id, circuit, None, &[]);
        rows.push(Row { way: "–".to_owned(), poles: cell(&say!("chart-no-place")), ..row });
    }
    rows
}

/// What is unknown or assumed, circuit by circuit.
fn unread(board: &Board) -> Vec<String> {
    let supply = &board.supply;
    let mut all = vec![(
        say!("chart-unread-supply"),
        vec![
            ("/supply/system", supply.system.from.known),
            ("/supply/voltage", supply.voltage.from.known),
            ("/supply/ze", supply.ze.from.known),
            ("/supply/ipf", supply.ipf.from.known),
            ("/supply/upstream", supply.upstream.from.known),
            ("/incomer/arrangement", board.incomer.arrangement.from.known),
            ("/incomer/rated", board.incomer.rated.from.known),
        ],
    )];
    for (_, circuit) in board.live_circuits() {
        let mut fields = vec![match board.device_of(circuit) {
            Some((_, device)) => ("/devices/-/rated", device.rated.from.known),
            None => ("/circuits/-/device", Known::Unknown),
        }];
        match board.cable_of(circuit) {
            Some((_, cable)) => fields.extend([
                ("/cables/-/cores", cable.cores.from.known),
                ("/cables/-/size", cable.size.from.known),
                ("/cables/-/material", cable.material.from.known),
                ("/cables/-/insulation", cable.insulation.from.known),
                ("/cables/-/method", cable.method.from.known),
                ("/cables/-/length", cable.length.from.known),
                ("/cables/-/ambient", cable.ambient.from.known),
                ("/cables/-/grouped", cable.grouped.from.known),
            ]),
            None => fields.push(("/circuits/-/cable", Known::Unknown)),
        }
        let load = &circuit.load;
        let known = if load.current.is_unknown() { load.power.from.known } else { load.current.from.known };
        fields.push(("/circuits/-/load", known));
        all.push((say!("chart-unread-circuit", circuit = plate::circuit_label(board, circuit)), fields));
    }
    all.into_iter().filter_map(|(who, fields)| unread_of(board, who, &fields)).collect()
}

/// A line on one record; none where everything of it was read.
fn unread_of(board: &Board, who: Message, fields: &[(&'static str, Known)]) -> Option<String> {
    let names = |kind| {
        let names = fields.iter().filter(|(_, known)| *known == kind).map(|(path, _)| field::label_on(board, path));
        Some(names.collect::<Vec<_>>()).filter(|names| !names.is_empty())
    };
    let parts = Message::several(
        [
            names(Known::Unknown).map(|fields| say!("chart-fields-unknown", fields = fields)),
            names(Known::Assumed).map(|fields| say!("chart-fields-assumed", fields = fields)),
            names(Known::Stated).map(|fields| say!("chart-fields-stated", fields = fields)),
        ]
        .into_iter()
        .flatten(),
    );
    (!parts.is_empty()).then(|| cell(&say!("chart-unread", who = who, fields = parts)))
}

fn terminal_notes(board: &Board, found: &Consequences, terminals: &Terminals) -> Vec<Message> {
    let mut notes = vec![match found.neutral {
        NeutralRoute::Direct => say!("chart-neutral-direct"),
        NeutralRoute::ThroughIncomer => say!("chart-neutral-through"),
        NeutralRoute::Unknown => say!("chart-neutral-unknown"),
    }];
    if found.direct_neutral_terminal == DirectNeutralTerminal::LeaveEmpty {
        notes.push(say!("chart-leave-empty"));
    }
    if found.phase_link {
        notes.push(say!("chart-phase-link"));
    }
    if !found.incoming.is_empty() {
        let end = |(wire, place): &(_, _)| say!("chart-incoming-end", wire = line(wire), place = line(place));
        notes.push(say!("chart-incoming", ends = found.incoming.iter().map(end).collect::<Vec<_>>()));
    }
    if let Some(pattern) = board.enclosure.get().filter(|pattern| pattern.faults().is_empty()) {
        let (neutral, earth) = terminal::spare(pattern, terminals);
        let spare = |all: &[String], mark: &str| {
            let own: Vec<&str> = all.iter().filter(|name| name.contains(mark)).map(String::as_str).collect();
            if own.is_empty() { say!("chart-none") } else { Message::plain(own.join(", ")) }
        };
        notes.push(say!("chart-spare-neutrals", names = spare(&neutral, "NS"), count = neutral.len()));
        notes.push(say!("chart-spare-earths", names = spare(&earth, "ES"), count = earth.len()));
        if found.incomer_blanks > 0 {
            notes.push(say!("chart-incomer-blanks", count = u32::from(found.incomer_blanks)));
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
    let notes = terminal_notes(board, &found, &terminals).iter().map(cell).collect();
    let mut findings: Vec<Message> = input
        .checks
        .iter()
        .filter(|check| check.subject == Subject::Board && check.verdict != Verdict::Holds)
        .map(|check| say!("paper-finding", verdict = check.verdict.words(), sentence = check.sentence.clone()))
        .collect();
    findings.extend(
        found
            .problems
            .iter()
            .map(|problem| say!("chart-doubt", problem = problem.brief().to_string(), remedy = problem.remedy.clone())),
    );
    if board.enclosure.get().is_none() {
        findings.push(say!("chart-enclosure-unknown"));
    }
    let sheet = Sheet { input, conductors: found.conductors(), terminals, checks };
    let drawing = drawing::draw(board, &found);
    let face = |plate: &PlateEdge| say!("plate-name", face = plate.face.words()).to_string();
    View {
        head: Head::of(input, Kind::CircuitChart),
        words: chart_words(),
        facts: facts(board, &found),
        rows: rows(input, &sheet, &occupancy),
        terminals: notes,
        findings: findings.iter().map(cell).collect(),
        unread: unread(board),
        plates: drawing.iter().flat_map(|drawing| &drawing.plates).map(face).collect(),
        drawing,
        mark: housing::MARK,
        parts: housing::parts(board).iter().map(Part::of).collect(),
        live: cell(&housing::live_words(board)),
        signs: cell(&housing::legend()),
        labels: found
            .labels
            .iter()
            .map(|label| Label {
                text: cell(&label.text.words()),
                place: cell(&label.place.words()),
                source: cell(&label.source.words()),
            })
            .collect(),
    }
}

fn chart_words() -> Words {
    words([
        ("way", say!("chart-way")),
        ("poles", say!("chart-poles")),
        ("circuit", say!("chart-circuit")),
        ("feeds", say!("chart-feeds")),
        ("device", say!("chart-device")),
        ("cable", say!("chart-cable")),
        ("neutral", say!("chart-neutral")),
        ("earth", say!("chart-earth")),
        ("phase", say!("chart-phase")),
        ("checks", say!("chart-checks")),
        ("touch", say!("chart-against-touch")),
        ("mark", say!("chart-mark")),
        ("part", say!("chart-part")),
        ("found", say!("chart-found")),
        ("door", say!("chart-door")),
        ("incomer", say!("chart-drawn-incomer")),
        ("terminals", say!("chart-terminals")),
        ("findings", say!("chart-findings")),
        ("unread", say!("chart-not-read")),
        ("all_read", say!("chart-all-read")),
        ("labels", say!("chart-labels")),
        ("label", say!("chart-label-words")),
        ("place", say!("chart-label-where")),
        ("why", say!("chart-label-why")),
    ])
}
