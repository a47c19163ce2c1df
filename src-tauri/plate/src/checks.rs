//! The checks of a plate.

use std::collections::{BTreeMap, BTreeSet};

use survey::message::Argument;
use survey::pattern::{Point, Rect};
use survey::{
    Board, CableId, Check, Construction, Entry, EntryId, EntryKind, Input, Inputs, Known, Message, NextReading,
    PlateId, PlateMaterial, Subject, Verdict, say,
};

use crate::gland::{self, Fit};
use crate::hole::Opening;
use crate::place::room;
use crate::setting_out::{NotReady, SetEntry, SettingOut, live_cables, serves, setting_out};
use crate::shape::{BODY_GAP, EDGE_WITHOUT_USABLE, LEAST_METAL, Shape, TINY};
use crate::space::{WiringSpace, wiring_space};
use crate::tables::{Tables, ferrous};
use crate::words::{exact, lengths, tenth};

pub(crate) const OURS: Message = Message::bare("plate-clause-ours");

/// Every check of a plate, in a fixed order. A rule that nothing breaks is one record that holds; a
/// rule that is broken names each entry with its worst neighbour only.
#[must_use]
pub fn check_plate(board: &Board, plate: PlateId, tables: &Tables) -> Vec<Check> {
    check_set(board, plate, &setting_out(board, plate, tables), &wiring_space(board, plate), tables)
}

/// The same of a plate that is set out already, as [`setting_out`] does it, and whose [`wiring_space`] is known.
#[must_use]
pub fn check_set(
    board: &Board,
    plate: PlateId,
    set: &Result<SettingOut, NotReady>,
    space: &WiringSpace,
    tables: &Tables,
) -> Vec<Check> {
    let set = match set {
        Ok(set) => set,
        Err(NotReady::NoPlate(_)) => return Vec::new(),
        Err(NotReady::NoSize { field, value, .. }) => {
            return vec![no_size(plate, field, value)];
        }
    };
    let mut list = List { board, plate, set, space, checks: Vec::new() };
    list.numbers();
    list.unplaced();
    list.inside();
    list.keep_outs();
    list.apart();
    list.metal();
    list.section();
    list.spanners();
    list.tags();
    list.slots();
    list.openings();
    list.top();
    list.single_core();
    list.together();
    list.glands(tables);
    list.bends(tables);
    list.fill(tables);
    list.checks
}

fn no_size(plate: PlateId, field: &'static str, value: &Message) -> Check {
    let path = format!("/plates/{plate}/{field}");
    let side = || Argument::Choice(field);
    Check {
        rule: "plate-size".into(),
        subject: Subject::Plate(plate),
        verdict: Verdict::Undecided,
        sentence: say!("plate-size", side = side(), value = value.clone()),
        inequality: Message::default(),
        clause: OURS,
        margin: None,
        inputs: vec![Input {
            path: path.clone().into(),
            label: say!("plate-size-label", side = side()),
            value: value.clone(),
            known: Known::Unknown,
        }]
        .into(),
        next: vec![NextReading { path: path.into(), what: say!("plate-size-ask", side = side()), settles: 1.0 }],
        tables: Message::default(),
    }
}

pub(crate) struct List<'a> {
    pub board: &'a Board,
    pub plate: PlateId,
    pub set: &'a SettingOut,
    pub space: &'a WiringSpace,
    pub checks: Vec<Check>,
}

/// Share of a limit by which a distance keeps it; negative breaks it.
pub(crate) fn share(value: f64, limit: f64) -> Option<[f64; 2]> {
    let margin = (value - limit) / limit.max(1.0);
    Some([margin, margin])
}

/// A place of a plate in words: the corner its dimensions run from is another matter.
#[must_use]
pub fn from_left_rear([x, y]: Point) -> Message {
    say!("plate-place", x = tenth(x), y = tenth(y))
}

/// A kind of entry with its trade size: "20S armoured-cable gland".
#[must_use]
pub fn sized(size: &str, kind: Option<EntryKind>) -> Message {
    let kind = kind.map_or(say!("plate-some-entry"), EntryKind::words);
    if size.is_empty() { kind } else { say!("plate-sized", size = size.to_owned(), kind = kind) }
}

impl List<'_> {
    /// Two entries of one number: on the plate nobody could tell which of them is meant.
    fn numbers(&mut self) {
        let Some(plate) = self.board.plates.get(&self.plate) else { return };
        let numbers = plate.entry_numbers();
        let mut same: BTreeMap<u32, Vec<(EntryId, &Entry)>> = BTreeMap::new();
        for (id, entry) in plate.entries.iter().filter(|(_, entry)| !entry.removed) {
            same.entry(numbers.get(id).copied().unwrap_or_default()).or_default().push((*id, entry));
        }
        for (number, entries) in same.into_iter().filter(|(_, entries)| entries.len() > 1) {
            let named: Vec<Message> = entries
                .iter()
                .map(|(_, entry)| {
                    let what = sized(entry.size.trim(), entry.kind);
                    let (serves, _) = crate::setting_out::content(self.board, entry);
                    match entry.at.map(from_left_rear) {
                        Some(place) => say!("entry-number-placed", what = what, place = place, serves = serves),
                        None => say!("entry-number-unplaced", what = what, serves = serves),
                    }
                })
                .collect();
            let entry = crate::setting_out::entry_label(number);
            let sentence = say!("entry-number", entry = entry, count = entries.len(), entries = named);
            let inputs: Vec<Input> = entries
                .iter()
                .map(|(id, entry)| Input {
                    path: format!("/plates/{}/entries/{id}/number", self.plate).into(),
                    label: say!("entry-number-label", kind = sized("", entry.kind)),
                    value: number.to_string().into(),
                    known: Known::Decided,
                })
                .collect();
            let inequality = say!("entry-number-relation", count = entries.len(), number = number.to_string());
            let clause = say!("plate-clause-numbers");
            self.push("entry-number", Verdict::Fails, clause, sentence, inequality).inputs = inputs.into();
        }
    }

    pub(crate) fn entry_path(&self, entry: &SetEntry, field: &str) -> String {
        format!("/plates/{}/entries/{}/{field}", self.plate, entry.id)
    }

    fn place(&self, entry: &SetEntry) -> Input {
        Input {
            path: self.entry_path(entry, "at").into(),
            label: say!("plate-entry-place", entry = entry.label.clone()),
            value: from_left_rear(entry.centre),
            known: if entry.existing { Known::Measured } else { Known::Decided },
        }
    }

    pub(crate) fn push(
        &mut self,
        rule: &'static str,
        verdict: Verdict,
        clause: Message,
        sentence: Message,
        inequality: Message,
    ) -> &mut Check {
        self.checks.push(Check {
            rule: rule.into(),
            subject: Subject::Plate(self.plate),
            verdict,
            sentence,
            inequality,
            clause,
            margin: None,
            inputs: Inputs::default(),
            next: Vec::new(),
            tables: Message::default(),
        });
        let last = self.checks.len() - 1;
        &mut self.checks[last]
    }

    fn unplaced(&mut self) {
        for lacking in &self.set.unplaced {
            let path = format!("/plates/{}/entries/{}", self.plate, lacking.id);
            let check = self.push(
                "plate-entry",
                Verdict::Undecided,
                OURS,
                say!("plate-entry", entry = lacking.label.clone(), why = lacking.why.clone()),
                Message::default(),
            );
            check.next = vec![NextReading {
                path: path.into(),
                what: say!("plate-entry-ask", entry = lacking.label.clone(), why = lacking.why.clone()),
                settles: 1.0,
            }];
        }
    }

    fn inside(&mut self) {
        let set = self.set;
        if set.entries.is_empty() {
            return;
        }
        let mut broken = false;
        for entry in &set.entries {
            let body = entry.hole.body(entry.centre);
            let room = room(set, entry.hole.opening.shape([0.0, 0.0]), entry.hole.body([0.0, 0.0]));
            let distance = Shape::circle(entry.centre, 0.0).inside(room);
            if distance >= -TINY {
                continue;
            }
            broken = true;
            let (label, out) = (entry.label.clone(), tenth(-distance));
            let width = tenth(2.0 * (body.half[0] + body.radius));
            let (sentence, clause) = match set.usable {
                Some(_) => (say!("plate-inside-usable", entry = label, out = out, width = width), OURS),
                None => {
                    let edge = exact(EDGE_WITHOUT_USABLE);
                    let sentence = say!("plate-inside-edge", entry = label, out = out, edge = edge, width = width);
                    (sentence, say!("plate-clause-edge"))
                }
            };
            let inputs = vec![self.place(entry)];
            let inequality = say!("plate-inside-relation", distance = tenth(distance));
            let check = self.push("plate-inside", Verdict::Fails, clause, sentence, inequality);
            check.margin = share(distance, 0.0);
            check.inputs = inputs.into();
        }
        if !broken {
            let verdict = if set.usable.is_some() { Verdict::Holds } else { Verdict::Undecided };
            let path = format!("/plates/{}/usable", self.plate);
            let sentence = say!("plate-inside", verdict = verdict);
            let check = self.push("plate-inside", verdict, OURS, sentence, Message::default());
            if verdict == Verdict::Undecided {
                check.next = vec![NextReading { path: path.into(), what: say!("plate-inside-ask"), settles: 1.0 }];
            }
        }
    }

    fn keep_outs(&mut self) {
        let set = self.set;
        let mut broken = false;
        for entry in &set.entries {
            let body = entry.hole.body(entry.centre);
            let worst = set
                .keep_outs
                .iter()
                .map(|rect| (body.gap(Shape::of(*rect)), *rect))
                .min_by(|a, b| a.0.total_cmp(&b.0))
                .filter(|(gap, _)| *gap < -TINY);
            let Some((gap, Rect { x, y, .. })) = worst else { continue };
            broken = true;
            let inputs = vec![self.place(entry)];
            let check =
                self.push(
                    "plate-keep-out",
                    Verdict::Fails,
                    OURS,
                    say!(
                        "plate-keep-out",
                        entry = entry.label.clone(),
                        into = tenth(-gap),
                        place = from_left_rear([x, y]),
                    ),
                    say!("plate-keep-out-relation", gap = tenth(gap)),
                );
            check.inputs = inputs.into();
        }
        if !broken && !set.keep_outs.is_empty() && !set.entries.is_empty() {
            self.push("plate-keep-out", Verdict::Holds, OURS, say!("plate-keep-out-holds"), Message::default());
        }
    }

    /// Runs over each entry with the neighbour for which `distance` is least short of `limit`.
    fn neighbours(
        &self,
        shape: impl Fn(&SetEntry) -> Shape,
        limit: f64,
        skip: impl Fn(&SetEntry, &SetEntry) -> bool,
    ) -> Vec<(usize, usize, f64)> {
        let shapes: Vec<Shape> = self.set.entries.iter().map(shape).collect();
        let mut worst: BTreeMap<usize, (usize, f64)> = BTreeMap::new();
        for a in 0..shapes.len() {
            for b in a + 1..shapes.len() {
                let gap = shapes[a].gap(shapes[b]);
                if gap >= limit - TINY || skip(&self.set.entries[a], &self.set.entries[b]) {
                    continue;
                }
                let found = worst.entry(a).or_insert((b, gap));
                if gap < found.1 {
                    *found = (b, gap);
                }
            }
        }
        worst.into_iter().map(|(a, (b, gap))| (a, b, gap)).collect()
    }

    fn apart(&mut self) {
        let set = self.set;
        // Two holes that are there already stand where they stand; `metal` still speaks of them.
        let found = self.neighbours(|entry| entry.hole.body(entry.centre), BODY_GAP, |a, b| a.existing && b.existing);
        for &(a, b, gap) in &found {
            let (a, b) = (&set.entries[a], &set.entries[b]);
            let (one, other) = (a.label.clone(), b.label.clone());
            let sentence = if gap < 0.0 {
                say!("plate-clearance-foul", one = one, other = other, over = tenth(-gap))
            } else {
                say!(
                    "plate-clearance",
                    one = one,
                    other = other,
                    gap = tenth(gap),
                    least = exact(BODY_GAP),
                    by = tenth(((BODY_GAP - gap) * 10.0).ceil() / 10.0),
                )
            };
            let inputs = vec![self.place(a), self.place(b)];
            let check = self.push(
                "plate-clearance",
                Verdict::Fails,
                OURS,
                sentence,
                say!("plate-clearance-relation", gap = tenth(gap), least = exact(BODY_GAP)),
            );
            check.margin = share(gap, BODY_GAP);
            check.inputs = inputs.into();
        }
        if found.is_empty() && set.entries.len() > 1 {
            self.push(
                "plate-clearance",
                Verdict::Holds,
                OURS,
                say!("plate-clearance-holds", least = exact(BODY_GAP)),
                Message::default(),
            );
        }
    }

    fn metal(&mut self) {
        let set = self.set;
        let thickness = set.thickness.unwrap_or(0.0);
        let least = LEAST_METAL.max(1.5 * thickness);
        let found = self.neighbours(|entry| entry.hole.opening.shape(entry.centre), least, |_, _| false);
        for &(a, b, gap) in &found {
            let (a, b) = (&set.entries[a], &set.entries[b]);
            let (one, other) = (a.label.clone(), b.label.clone());
            let sentence = if gap < 0.0 {
                say!("plate-metal-overlap", one = one, other = other, over = tenth(-gap))
            } else {
                say!("plate-metal", gap = tenth(gap), one = one, other = other, least = tenth(least))
            };
            let inputs = vec![self.place(a), self.place(b)];
            let check = self.push(
                "plate-metal",
                Verdict::Fails,
                say!("plate-clause-metal"),
                sentence,
                say!("plate-metal-relation", gap = tenth(gap), least = tenth(least)),
            );
            check.margin = share(gap, least);
            check.inputs = inputs.into();
        }
        if found.is_empty() && set.entries.len() > 1 {
            self.push(
                "plate-metal",
                Verdict::Holds,
                say!("plate-clause-metal"),
                say!("plate-metal-holds", least = tenth(least)),
                Message::default(),
            );
        }
    }

    fn openings(&mut self) {
        const CLAUSE: Message = Message::bare("plate-clause-opening");
        let set = self.set;
        let mut open = 0;
        for entry in set.entries.iter().filter(|entry| entry.kind != EntryKind::Blanked && entry.cable.is_none()) {
            let removed = self
                .board
                .plates
                .get(&self.plate)
                .and_then(|plate| plate.entries.get(&entry.id))
                .is_some_and(|record| record.cable.is_some());
            open += 1;
            let path = self.entry_path(entry, "cable");
            let label = entry.label.clone();
            let (verdict, sentence) = if removed {
                (Verdict::Fails, say!("plate-opening-removed", entry = label))
            } else {
                (Verdict::Undecided, say!("plate-opening", entry = label))
            };
            let check = self.push("plate-opening", verdict, CLAUSE, sentence, Message::default());
            if verdict == Verdict::Undecided {
                check.next = vec![NextReading {
                    path: path.into(),
                    what: say!("plate-opening-ask", entry = entry.label.clone()),
                    settles: 1.0,
                }];
            }
        }
        if open == 0 && !set.entries.is_empty() {
            self.push("plate-opening", Verdict::Holds, CLAUSE, say!("plate-opening-holds"), Message::default());
        }
    }

    fn single_core(&mut self) {
        const CLAUSE: Message = Message::bare("plate-clause-single-core");
        let set = self.set;
        let mut by_cable: BTreeMap<CableId, Vec<&SetEntry>> = BTreeMap::new();
        for entry in &set.entries {
            let record = self.board.plates.get(&self.plate).and_then(|plate| plate.entries.get(&entry.id));
            for id in record.into_iter().flat_map(|record| live_cables(self.board, record)) {
                by_cable.entry(id).or_default().push(entry);
            }
        }
        // Holes joined by slots are one opening.
        let mut joined: BTreeMap<&str, &str> =
            set.entries.iter().map(|entry| (entry.label.as_str(), entry.label.as_str())).collect();
        for slot in set.slots.iter().filter(|slot| slot.width.is_some()) {
            if let (Some(&from), Some(&to)) = (joined.get(slot.from.as_str()), joined.get(slot.to.as_str())) {
                joined.values_mut().filter(|name| **name == from).for_each(|name| *name = to);
            }
        }
        let material = set.material;
        let shown = material.map_or(say!("not-known"), PlateMaterial::words);
        let known = self.board.plates.get(&self.plate).map_or(Known::Unknown, |plate| plate.material.from.known);
        for (id, entries) in by_cable {
            let single = self
                .board
                .cables
                .get(&id)
                .is_some_and(|cable| cable.construction.get() == Some(&Construction::SingleCore));
            if !single {
                continue;
            }
            // A gland takes one core, so the rest of the circuit passes elsewhere; conduit, bush and
            // trunking take the circuit whole.
            let parted = entries.len() > 1
                || entries
                    .iter()
                    .any(|entry| matches!(entry.kind, EntryKind::ArmouredGland | EntryKind::CompressionGland));
            let labels = entries.iter().map(|entry| entry.label.as_str()).collect::<Vec<_>>().join(", ");
            let whom = serves(self.board, id);
            let one: BTreeSet<&str> =
                entries.iter().filter_map(|entry| joined.get(entry.label.as_str()).copied()).collect();
            let slotted = entries.len() > 1 && one.len() == 1;
            let (verdict, id) = match (parted && !slotted, material.and_then(ferrous), material) {
                (false, ..) if slotted => (Verdict::Holds, "plate-ferrous-slotted"),
                (false, ..) => (Verdict::Holds, "plate-ferrous-one"),
                (true, Some(true), _) => (Verdict::Fails, "plate-ferrous-steel"),
                (true, Some(false), _) => (Verdict::Holds, "plate-ferrous-other"),
                (true, None, Some(_)) => (Verdict::Undecided, "plate-ferrous-maybe"),
                (true, None, None) => (Verdict::Undecided, "plate-ferrous-unknown"),
            };
            let sentence = Message::said(
                id,
                [("entries", labels.into()), ("whom", whom.into()), ("material", shown.clone().into())],
            );
            let path = format!("/plates/{}/material", self.plate);
            let check = self.push("plate-ferrous", verdict, CLAUSE, sentence, Message::default());
            check.inputs = vec![Input {
                path: path.clone().into(),
                label: say!("plate-ferrous-label"),
                value: shown.clone(),
                known,
            }]
            .into();
            if verdict == Verdict::Undecided {
                check.next = vec![NextReading { path: path.into(), what: say!("plate-ferrous-ask"), settles: 1.0 }];
            }
        }
    }

    fn glands(&mut self, tables: &Tables) {
        const CLAUSE: Message = Message::bare("plate-clause-gland");
        let set = self.set;
        for entry in &set.entries {
            let Some((id, cable)) = entry.cable.and_then(|id| self.board.cables.get(&id).map(|cable| (id, cable)))
            else {
                continue;
            };
            let armoured = cable.construction.get() == Some(&Construction::Armoured);
            let label = entry.label.clone();
            match entry.kind {
                EntryKind::ArmouredGland if cable.construction.get().is_some() && !armoured => {
                    let words = cable.construction.get().map(|construction| construction.words()).unwrap_or_default();
                    // A single core may be wire-armoured too; the model does not tell.
                    if cable.construction.get() != Some(&Construction::SingleCore) {
                        let sentence = say!("plate-gland-not-armoured", entry = label, construction = words);
                        self.push("plate-gland", Verdict::Fails, CLAUSE, sentence, Message::default());
                        continue;
                    }
                }
                EntryKind::CompressionGland if armoured => {
                    let sentence = say!("plate-gland-armoured", entry = label);
                    self.push("plate-gland", Verdict::Fails, CLAUSE, sentence, Message::default());
                    continue;
                }
                EntryKind::ArmouredGland | EntryKind::CompressionGland => {}
                _ => continue,
            }
            let (under, over, known) = gland::cable_diameters(cable, tables);
            let path = format!("/cables/{id}/diameter");
            let Some(over) = over else {
                let sentence = say!("plate-gland-unmeasured", entry = label);
                let check = self.push("plate-gland", Verdict::Undecided, CLAUSE, sentence, Message::default());
                check.next = vec![NextReading { path: path.into(), what: say!("plate-gland-ask"), settles: 1.0 }];
                continue;
            };
            let (fit, candidates) = if entry.kind == EntryKind::ArmouredGland {
                let wanted = entry.size.trim().to_ascii_uppercase();
                let fit = tables
                    .glands
                    .iter()
                    .find(|gland| gland.size == wanted)
                    .map(|gland| gland::armoured_fit(gland, under, over).0);
                (fit, gland::choose_gland(under, over, tables))
            } else {
                let fit = match entry.hole.opening {
                    Opening::Round { diameter } => tables
                        .plastic
                        .iter()
                        .find(|gland| {
                            tables.thread(&gland.thread).is_some_and(|thread| {
                                diameter >= thread.hole_min_mm - TINY && diameter <= thread.hole_max_mm + TINY
                            })
                        })
                        .map(|gland| gland::compression_fit(gland, over).0),
                    Opening::Slot { .. } => None,
                };
                (fit, gland::choose_compression_gland(over, tables))
            };
            let Some(fit) = fit else { continue };
            let better = candidates.iter().find(|one| one.size != entry.size.trim()).map_or_else(
                || say!("plate-gland-none"),
                |one| say!("plate-gland-size", size = one.size.clone(), fit = Argument::Choice(one.fit.key())),
            );
            let diameters = match under {
                Some(under) if entry.kind == EntryKind::ArmouredGland => {
                    say!("plate-gland-both", under = lengths(under), over = lengths(over))
                }
                _ => say!("plate-gland-overall", over = lengths(over)),
            };
            let verdict = match fit {
                Fit::Fits => Verdict::Holds,
                Fit::Edge => Verdict::Undecided,
                Fit::No => Verdict::Fails,
            };
            let size = entry.size.trim().to_owned();
            let sentence = say!(
                "plate-gland",
                verdict = verdict,
                entry = label,
                size = size,
                diameters = diameters,
                better = better,
            );
            let inputs = vec![Input {
                path: path.clone().into(),
                label: say!("plate-gland-diameter"),
                value: say!("plate-length", value = lengths(over)),
                known,
            }];
            let check = self.push("plate-gland", verdict, CLAUSE, sentence, Message::default());
            check.inputs = inputs.into();
            if verdict == Verdict::Undecided {
                let mut next = vec![NextReading { path: path.into(), what: say!("plate-gland-ask"), settles: 0.5 }];
                if entry.kind == EntryKind::ArmouredGland {
                    next.push(NextReading {
                        path: format!("/cables/{id}/bedding_diameter").into(),
                        what: say!("plate-gland-ask-bedding"),
                        settles: 0.5,
                    });
                }
                check.next = next;
            }
        }
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;
    use survey::pattern::{Face, Point};
    use survey::{
        BoardId, Cable, Circuit, CircuitId, Entry, EntryId, Fact, Millimetres, Plate, Provenance, Reading, SiteId,
    };

    fn known<T>(value: T) -> Fact<T> {
        Fact::of(value, Provenance::new(Known::Label))
    }

    fn mm(value: f64) -> Reading<Millimetres> {
        Reading::of(Millimetres::new(value), Provenance::new(Known::Measured))
    }

    fn id(number: usize) -> uuid::Uuid {
        uuid::Uuid::from_u128(number as u128)
    }

    /// A board with one steel plate, its usable part 10 mm in from all sides.
    pub(crate) fn plate_board(width: f64, depth: f64) -> (Board, PlateId) {
        let mut board = Board::new(BoardId(id(1)), SiteId(id(2)), "T-DB1");
        let plate = PlateId(id(3));
        board.plates.insert(
            plate,
            Plate {
                face: Face::Bottom,
                width: mm(width),
                depth: mm(depth),
                thickness: mm(2.0),
                material: known(PlateMaterial::Steel),
                usable: Some(Rect::new(10.0, 10.0, width - 20.0, depth - 20.0)),
                ..Plate::default()
            },
        );
        (board, plate)
    }

    pub(crate) fn entry(board: &mut Board, plate: PlateId, kind: EntryKind, size: &str, at: Point) -> EntryId {
        let plate = board.plates.get_mut(&plate).unwrap();
        let entry = EntryId(id(100 + plate.entries.len()));
        plate
            .entries
            .insert(entry, Entry { kind: Some(kind), size: size.to_owned(), at: Some(at), ..Entry::default() });
        entry
    }

    fn cable(board: &mut Board, number: usize, construction: Construction, cores: u8, size: f64) -> CableId {
        let cable = CableId(id(1000 + number));
        board.cables.insert(
            cable,
            Cable {
                construction: known(construction),
                cores: known(cores),
                size: Reading::of(survey::SquareMillimetres::new(size), Provenance::new(Known::Label)),
                ..Cable::default()
            },
        );
        board.circuits.insert(
            CircuitId(id(1000 + number)),
            Circuit { number: format!("{number}"), cable: Some(cable), ..Circuit::default() },
        );
        cable
    }

    fn give(board: &mut Board, plate: PlateId, entry: EntryId, cable: CableId) {
        board.plates.get_mut(&plate).unwrap().entries.get_mut(&entry).unwrap().cable = Some(cable);
    }

    fn verdicts(board: &Board, plate: PlateId, rule: &str) -> Vec<Verdict> {
        check_plate(board, plate, Tables::shipped())
            .into_iter()
            .filter(|check| check.rule == rule)
            .map(|check| check.verdict)
            .collect()
    }

    #[test]
    fn neighbours_need_half_of_both_bodies_and_the_gap() {
        // Published spacing of two size 32 glands: half of 50.5 each and 3 mm, 53.5.
        for (apart, verdict) in [(53.5, Verdict::Holds), (53.4, Verdict::Fails)] {
            let (mut board, plate) = plate_board(300.0, 120.0);
            entry(&mut board, plate, EntryKind::ArmouredGland, "32", [60.0, 60.0]);
            entry(&mut board, plate, EntryKind::ArmouredGland, "32", [60.0 + apart, 60.0]);
            assert_eq!(verdicts(&board, plate, "plate-clearance"), [verdict], "{apart}");
            assert_eq!(verdicts(&board, plate, "plate-metal"), [Verdict::Holds]);
        }
    }

    #[test]
    fn overlap_edge_and_keep_out_are_named() {
        let (mut board, plate) = plate_board(300.0, 120.0);
        entry(&mut board, plate, EntryKind::Conduit, "20", [100.0, 60.0]);
        entry(&mut board, plate, EntryKind::Conduit, "20", [115.0, 60.0]);
        entry(&mut board, plate, EntryKind::Conduit, "20", [20.0, 60.0]);
        board.plates.get_mut(&plate).unwrap().keep_outs.push(Rect::new(80.0, 40.0, 10.0, 10.0));
        let checks = check_plate(&board, plate, Tables::shipped());
        let fails = |rule: &str| checks.iter().find(|check| check.rule == rule && check.verdict == Verdict::Fails);
        assert!(fails("plate-metal").unwrap().sentence.contains("E1 and E2 overlap by 5.4 mm"), "{checks:#?}");
        assert!(fails("plate-inside").unwrap().sentence.words().starts_with("E3 reaches 5 mm outside"), "{checks:#?}");
        assert!(fails("plate-keep-out").unwrap().sentence.words().starts_with("E1 "), "{checks:#?}");
    }

    #[test]
    fn two_entries_of_one_number_are_both_named() {
        let (mut board, plate) = plate_board(300.0, 120.0);
        entry(&mut board, plate, EntryKind::Conduit, "20", [100.0, 60.0]);
        entry(&mut board, plate, EntryKind::Conduit, "25", [180.0, 60.0]);
        assert_eq!(verdicts(&board, plate, "entry-number"), []);
        for entry in board.plates.get_mut(&plate).unwrap().entries.values_mut() {
            entry.number = Some(4);
        }
        let checks = check_plate(&board, plate, Tables::shipped());
        let found = checks.iter().find(|check| check.rule == "entry-number").unwrap();
        assert_eq!((found.verdict, found.inputs.len()), (Verdict::Fails, 2));
        assert!(
            found
                .sentence
                .words()
                .starts_with("E4 is the number of 2 entries: 20 conduit at 100 mm from the left, 60 mm from the rear"),
            "{found:?}"
        );
        assert!(found.sentence.contains("25 conduit at 180 mm from the left, 60 mm from the rear"), "{found:?}");
        // One that is removed may be brought back, but is not on the plate.
        board.plates.get_mut(&plate).unwrap().entries.values_mut().next().unwrap().removed = true;
        assert_eq!(verdicts(&board, plate, "entry-number"), []);
    }

    /// The standard's clause and its published remedies: one opening, or a non-ferrous plate.
    #[test]
    fn single_cores_apart_fail_in_steel_only() {
        for (material, kind, verdict) in [
            (Some(PlateMaterial::Steel), EntryKind::CompressionGland, Verdict::Fails),
            (Some(PlateMaterial::Aluminium), EntryKind::CompressionGland, Verdict::Holds),
            (Some(PlateMaterial::StainlessSteel), EntryKind::CompressionGland, Verdict::Undecided),
            (None, EntryKind::CompressionGland, Verdict::Undecided),
            (Some(PlateMaterial::Steel), EntryKind::Conduit, Verdict::Holds),
        ] {
            let (mut board, plate) = plate_board(300.0, 120.0);
            board.plates.get_mut(&plate).unwrap().material = material.map_or_else(Fact::default, known);
            let cable = cable(&mut board, 7, Construction::SingleCore, 1, 25.0);
            let entry = entry(&mut board, plate, kind, "25", [60.0, 60.0]);
            give(&mut board, plate, entry, cable);
            assert_eq!(verdicts(&board, plate, "plate-ferrous"), [verdict], "{material:?} {kind:?}");
        }
    }

    #[test]
    fn a_gland_is_proved_by_a_measured_cable_only() {
        let (mut board, plate) = plate_board(300.0, 120.0);
        let cable = cable(&mut board, 5, Construction::Armoured, 4, 16.0);
        let gland = entry(&mut board, plate, EntryKind::ArmouredGland, "25", [60.0, 60.0]);
        give(&mut board, plate, gland, cable);
        // 23.4 mm, 5 % either way: 24.6 is still inside 18.2 to 26, as is 16.2 to 17.9 in 13 to 20.
        assert_eq!(verdicts(&board, plate, "plate-gland"), [Verdict::Holds]);
        board.plates.get_mut(&plate).unwrap().entries.get_mut(&gland).unwrap().size = "20".to_owned();
        assert_eq!(verdicts(&board, plate, "plate-gland"), [Verdict::Fails]);
        let record = board.cables.get_mut(&cable).unwrap();
        record.cores = known(5);
        record.size = Reading::of(survey::SquareMillimetres::new(4.0), Provenance::new(Known::Label));
        // 17.8 overall is well inside size 20, 13.0 under the armour within 5 % is not.
        assert_eq!(verdicts(&board, plate, "plate-gland"), [Verdict::Holds]);
        board.cables.get_mut(&cable).unwrap().bedding_diameter = mm(14.2);
        assert_eq!(verdicts(&board, plate, "plate-gland"), [Verdict::Undecided]);
    }

    #[test]
    fn an_opening_whose_cable_is_gone_fails_and_one_without_a_name_asks() {
        let (mut board, plate) = plate_board(300.0, 120.0);
        let gone = cable(&mut board, 5, Construction::Multicore, 3, 2.5);
        let one = entry(&mut board, plate, EntryKind::Conduit, "20", [60.0, 60.0]);
        give(&mut board, plate, one, gone);
        entry(&mut board, plate, EntryKind::Blanked, "M20", [110.0, 60.0]);
        assert_eq!(verdicts(&board, plate, "plate-opening"), [Verdict::Holds]);
        board.cables.get_mut(&gone).unwrap().removed = true;
        entry(&mut board, plate, EntryKind::Conduit, "20", [160.0, 60.0]);
        assert_eq!(verdicts(&board, plate, "plate-opening"), [Verdict::Fails, Verdict::Undecided]);
    }

    #[test]
    fn hostile_numbers_and_a_thousand_entries_give_an_answer() {
        let (mut board, plate) = plate_board(300.0, 120.0);
        for (size, at) in
            [("25", [f64::NAN, 0.0]), ("25", [f64::INFINITY, 1e300]), ("", [10.0, 10.0]), ("🦆", [10.0, 10.0])]
        {
            entry(&mut board, plate, EntryKind::Conduit, size, at);
        }
        for index in 0..1000 {
            entry(&mut board, plate, EntryKind::Conduit, "25", [f64::from(index % 7), 60.0]);
        }
        let checks = check_plate(&board, plate, Tables::shipped());
        assert!(checks.len() < 6000);
        assert_eq!(setting_out(&board, plate, Tables::shipped()).unwrap().unplaced.len(), 4);
        board.plates.get_mut(&plate).unwrap().width = Reading::unknown();
        assert_eq!(check_plate(&board, plate, Tables::shipped()).len(), 1);
    }
}
