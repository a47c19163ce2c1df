//! Further checks of a plate: what is left of it, tags, spanners, bends, slots, fill, what runs
//! together, and tops within reach.

use std::collections::{BTreeMap, BTreeSet};

use survey::message::Argument;
use survey::pattern::Face;
use survey::{Band, Cable, CableId, EntryKind, Input, Known, Message, Millimetres, NextReading, Range, Verdict, say};

use crate::bend;
use crate::checks::{List, OURS, share};
use crate::fill::{self, conduit_fill, trunking_fill};
use crate::fitting::fittings;
use crate::hole::Opening;
use crate::setting_out::{SetEntry, SettingOut, live_cables, serves};
use crate::shape::{BODY_GAP, LEAST_SECTION, Shape, TINY, least_metal, weakest};
use crate::solve::Spanner;
use crate::tables::Tables;
use crate::words::{exact, lengths, listed, tenth, tenths, whole};

/// The most comfortable spanner there is room for around an entry, with its neighbours tight.
#[must_use]
pub fn spanner_for(set: &SettingOut, entry: &SetEntry) -> Spanner {
    let body = entry.hole.body(entry.centre);
    let fits = |spanner: Spanner| {
        let gap = spanner.gap(&entry.hole);
        let flange = set.usable.is_none_or(|usable| body.grown(gap - BODY_GAP).inside(usable) >= -TINY);
        flange
            && set
                .entries
                .iter()
                .filter(|other| other.id != entry.id)
                .all(|other| body.gap(other.hole.body(other.centre)) >= gap - TINY)
    };
    [Spanner::Open, Spanner::Tubular].into_iter().find(|spanner| fits(*spanner)).unwrap_or(Spanner::Thin)
}

impl List<'_> {
    pub(crate) fn section(&mut self) {
        let shapes: Vec<Shape> = self.set.entries.iter().map(|entry| entry.hole.opening.shape(entry.centre)).collect();
        let Some((left, line)) = weakest(&shapes, self.set.outline) else { return };
        let percent = |value: f64| tenth(value * 100.0);
        let verdict = if left < LEAST_SECTION - TINY { Verdict::Fails } else { Verdict::Holds };
        let sentence = say!(
            "plate-section",
            verdict = verdict,
            left = percent(left),
            at = whole(line.at),
            edge = Argument::Choice(line.edge),
        );
        let inequality = say!("plate-section-relation", left = percent(left), least = percent(LEAST_SECTION));
        self.push("plate-section", verdict, OURS, sentence, inequality).margin =
            share(left * 100.0, LEAST_SECTION * 100.0);
    }

    pub(crate) fn spanners(&mut self) {
        let mut by: BTreeMap<Spanner, Vec<String>> = BTreeMap::new();
        for entry in self.set.entries.iter().filter(|entry| !entry.existing && entry.hole.across_flats.is_some()) {
            by.entry(spanner_for(self.set, entry)).or_default().push(entry.label.clone());
        }
        if by.is_empty() {
            return;
        }
        let how: Vec<Message> = by
            .iter()
            .rev()
            .map(|(spanner, labels)| {
                say!("plate-spanner-with", entries = labels.join(", "), spanner = Argument::Choice(spanner.key()))
            })
            .collect();
        self.push(
            "plate-spanner",
            Verdict::Holds,
            say!("plate-clause-spanner"),
            say!("plate-spanner", how = how),
            Message::default(),
        );
    }

    pub(crate) fn tags(&mut self) {
        let set = self.set;
        let wanted = || set.entries.iter().filter(|entry| entry.hole.tag.is_some() && !entry.existing);
        let without: Vec<&SetEntry> = wanted().filter(|entry| entry.tag.is_none()).collect();
        if wanted().next().is_none() {
            return;
        }
        if without.is_empty() {
            self.push("plate-tag", Verdict::Holds, OURS, say!("plate-tag-holds"), Message::default());
            return;
        }
        let labels = without.iter().map(|entry| entry.label.as_str()).collect::<Vec<_>>().join(", ");
        let path = self.entry_path(without[0], "at");
        let check = self.push(
            "plate-tag",
            Verdict::Undecided,
            OURS,
            say!("plate-tag", entries = labels.clone()),
            Message::default(),
        );
        check.next =
            vec![NextReading { path: path.into(), what: say!("plate-tag-ask", entries = labels), settles: 1.0 }];
    }

    pub(crate) fn bends(&mut self, tables: &Tables) {
        const CLAUSE: Message = Message::bare("plate-clause-bend");
        let Some(plate) = self.board.plates.get(&self.plate) else { return };
        let space = self.space;
        let path = format!("/plates/{}/wiring_depth", self.plate);
        let mut proved = 0;
        for entry in &self.set.entries {
            let Some(record) = plate.entries.get(&entry.id) else { continue };
            let cables: Vec<CableId> = live_cables(self.board, record).collect();
            let worst = cables
                .iter()
                .filter_map(|id| self.board.cables.get(id))
                .filter_map(|cable| bend::behind(cable, record, tables))
                .max_by(|a, b| a.depth().hi().get().total_cmp(&b.depth().hi().get()));
            let Some(bend) = worst else { continue };
            let half = bend.diameter.hi().get() / 2.0;
            let ends: Vec<_> = cables.iter().filter_map(|id| space.targets.get(id).copied()).collect();
            // Straight over its terminal a cable needs no bend; of several, all must end there.
            if !ends.is_empty() && ends.iter().all(|target| (target.x - entry.centre[0]).abs() <= half) {
                proved += 1;
                continue;
            }
            let (depth, known, what) = match plate.wiring_depth.range() {
                Some(depth) => (depth, plate.wiring_depth.from.known, "far-side"),
                None => match space.nearest(entry.centre[0] - half, entry.centre[0] + half) {
                    Some(part) => (Range::point(Millimetres::new(part.depth)), Known::Assumed, part.what),
                    None => continue,
                },
            };
            let need = bend.depth();
            let verdict = if need.hi().get() <= depth.lo().get() + TINY {
                proved += 1;
                continue;
            } else if need.lo().get() > depth.hi().get() + TINY && known != Known::Assumed {
                Verdict::Fails
            } else {
                Verdict::Undecided
            };
            let sentence = say!(
                "plate-bend",
                entry = entry.label.clone(),
                factor = exact(bend.factor),
                diameter = lengths(bend.diameter),
                need = lengths(need),
                depth = lengths(depth),
                behind = Argument::Choice(what),
            );
            let inequality = say!("plate-bend-relation", need = lengths(need), depth = lengths(depth));
            let inputs = vec![
                Input {
                    path: path.clone().into(),
                    label: say!("plate-bend-depth"),
                    value: say!("plate-length", value = lengths(depth)),
                    known,
                },
                Input {
                    path: format!("/cables/{}/diameter", cables.first().map(ToString::to_string).unwrap_or_default())
                        .into(),
                    label: say!("plate-gland-diameter"),
                    value: say!("plate-length", value = lengths(bend.diameter)),
                    known: bend.known,
                },
            ];
            let next = NextReading { path: path.clone().into(), what: say!("plate-bend-ask"), settles: 0.7 };
            let check = self.push("plate-bend", verdict, CLAUSE, sentence, inequality);
            check.inputs = inputs.into();
            if verdict == Verdict::Undecided {
                check.next = vec![next];
            }
        }
        if proved > 0 && !self.checks.iter().any(|check| &*check.rule == "plate-bend") {
            self.push("plate-bend", Verdict::Holds, CLAUSE, say!("plate-bend-holds"), Message::default());
        }
    }

    pub(crate) fn slots(&mut self) {
        let set = self.set;
        for slot in &set.slots {
            let [a, b] = slot.ends;
            let path = format!("/plates/{}/slots/{}/width", self.plate, slot.id);
            let beside = slot.width.unwrap_or(0.0) / 2.0 + least_metal(set.thickness);
            let third = set.entries.iter().find(|entry| {
                entry.label != slot.from
                    && entry.label != slot.to
                    && entry.hole.opening.shape(entry.centre).to_segment(a, b) < beside - TINY
            });
            let (from, to) = (slot.from.clone(), slot.to.clone());
            let verdict = match (third, slot.width) {
                (Some(_), _) => Verdict::Fails,
                (None, None) => Verdict::Undecided,
                (None, Some(_)) => Verdict::Holds,
            };
            let sentence = match third {
                Some(third) => say!("plate-slot-near", from = from, to = to, entry = third.label.clone()),
                None => {
                    let width = tenth(slot.width.unwrap_or(0.0));
                    say!("plate-slot", verdict = verdict, from = from, to = to, width = width)
                }
            };
            let check = self.push("plate-slot", verdict, OURS, sentence, Message::default());
            if verdict == Verdict::Undecided {
                let what = say!("plate-slot-ask", from = slot.from.clone(), to = slot.to.clone());
                check.next = vec![NextReading { path: path.into(), what, settles: 1.0 }];
            }
        }
    }

    fn record(&self, entry: &SetEntry) -> Option<&survey::Entry> {
        self.board.plates.get(&self.plate)?.entries.get(&entry.id)
    }

    fn through(&self, entry: &SetEntry) -> Vec<(CableId, &Cable)> {
        let ids: Vec<CableId> =
            self.record(entry).map(|record| live_cables(self.board, record).collect()).unwrap_or_default();
        ids.into_iter().filter_map(|id| Some((id, self.board.cables.get(&id)?))).collect()
    }

    pub(crate) fn fill(&mut self, tables: &Tables) {
        const TERMS: Message = Message::bare("plate-clause-fill");
        let set = self.set;
        for entry in &set.entries {
            let cables = self.through(entry);
            let singles =
                cables.iter().any(|(_, cable)| cable.construction.get() == Some(&survey::Construction::SingleCore));
            if cables.len() < 2 && !singles {
                continue;
            }
            let list: Vec<&Cable> = cables.iter().map(|(_, cable)| *cable).collect();
            let bore = fittings(entry.kind, &entry.size, tables).and_then(|fittings| fittings.bore);
            let record = self.record(entry);
            let run = fill::Run {
                length: record.and_then(|record| record.run_length.range()).map(|run| (run.lo().get(), run.hi().get())),
                bends: record.and_then(|record| record.run_bends.get().copied()),
            };
            let size = crate::hole::bare(&entry.size, false);
            let found = match (entry.kind, entry.hole.opening) {
                (EntryKind::Conduit, _) => conduit_fill(&size, bore, &list, run, tables),
                // A bush is a way through the plate alone.
                (EntryKind::Bush, _) => {
                    let through = fill::Run { length: Some((0.0, 0.0)), bends: Some(0) };
                    conduit_fill(&size, bore, &list, through, tables)
                }
                (EntryKind::FlexibleConduit, _) => conduit_fill("", bore, &list, run, tables),
                (EntryKind::TrunkingCutOut, Opening::Slot { width, height }) => {
                    // What is to be kept free is no room for what is there.
                    let free = record.and_then(|record| record.growth.range()).map_or(0.0, |share| share.hi().get());
                    trunking_fill(width, height, &list, tables)
                        .map(|found| [fill::Fill { room: found.room * (1.0 - free), ..found }; 2])
                }
                _ => continue,
            };
            let path = format!("/cables/{}/diameter", cables.first().map(|(id, _)| id.to_string()).unwrap_or_default());
            let Some([best, worst]) = found else {
                let sentence = say!("plate-fill-unknown", entry = entry.label.clone());
                let check = self.push("plate-fill", Verdict::Undecided, TERMS, sentence, Message::default());
                check.next = vec![NextReading {
                    path: path.into(),
                    what: say!("plate-fill-ask", entry = entry.label.clone()),
                    settles: 1.0,
                }];
                continue;
            };
            let verdict = if best.used.1 <= best.room && worst.used.1 <= worst.room {
                Verdict::Holds
            } else if best.used.0 > best.room && worst.used.0 > worst.room {
                Verdict::Fails
            } else {
                Verdict::Undecided
            };
            if verdict == Verdict::Undecided && best != worst {
                let sentence = Message::said(
                    if worst.room > 0.0 { "plate-fill-run" } else { "plate-fill-beyond" },
                    [
                        ("entry", entry.label.clone().into()),
                        ("best", tenth(best.used.1)),
                        ("best_room", tenth(best.room)),
                        ("worst", tenth(worst.used.1)),
                        ("worst_room", tenth(worst.room)),
                        ("ask", say!("plate-fill-run-ask").into()),
                    ],
                );
                let inequality = say!("plate-fill-run-relation", used = tenth(worst.used.1), room = tenth(worst.room));
                let plate = self.plate;
                let check = self.push("plate-fill", verdict, TERMS, sentence, inequality);
                let field = if run.length.is_none() { "run_length" } else { "run_bends" };
                check.next = vec![NextReading {
                    path: format!("/plates/{plate}/entries/{}/{field}", entry.id).into(),
                    what: say!("plate-fill-run-ask"),
                    settles: 1.0,
                }];
                continue;
            }
            let fill::Fill { used: (lo, hi), room } = worst;
            let used = if (hi - lo).abs() < 0.05 { tenth(hi) } else { tenths(lo, hi) };
            let label = entry.label.clone();
            let sentence =
                say!("plate-fill", verdict = verdict, entry = label, used = used.clone(), room = tenth(room));
            let inequality = say!("plate-fill-relation", used = used, room = tenth(room));
            let check = self.push("plate-fill", verdict, TERMS, sentence, inequality);
            let part = |value: f64| (room - value) / room.max(1e-9);
            check.margin = Some([part(hi), part(lo)]);
            if verdict == Verdict::Undecided {
                check.next = vec![NextReading {
                    path: path.into(),
                    what: say!("plate-fill-ask", entry = entry.label.clone()),
                    settles: 1.0,
                }];
            }
        }
    }

    pub(crate) fn together(&mut self) {
        let set = self.set;
        for entry in &set.entries {
            let cables = self.through(entry);
            let band = |cable: &Cable| cable.band.get().copied().unwrap_or(Band::Power);
            let bands: BTreeSet<Band> = cables.iter().map(|(_, cable)| band(cable)).collect();
            if bands.len() < 2 {
                continue;
            }
            let path = format!("/cables/{}/band", cables[0].0);
            let (verdict, clause, id) = if bands.contains(&Band::Fire) {
                (Verdict::Fails, say!("plate-clause-fire"), "plate-segregation-fire")
            } else if bands.contains(&Band::Power) {
                (Verdict::Undecided, say!("plate-clause-bands"), "plate-segregation")
            } else {
                continue;
            };
            let words = bands.iter().map(|band| band.words());
            let words = words.reduce(|before, last| say!("circuits-and", before = before, last = last));
            let whom = listed(cables.iter().map(|(id, _)| serves(self.board, *id)));
            let sentence = Message::said(
                id,
                [
                    ("entry", entry.label.clone().into()),
                    ("bands", words.unwrap_or_default().into()),
                    ("whom", whom.into()),
                ],
            );
            let check = self.push("plate-segregation", verdict, clause, sentence, Message::default());
            if verdict == Verdict::Undecided {
                check.next = vec![NextReading {
                    path: path.into(),
                    what: say!("plate-segregation-ask", entry = entry.label.clone()),
                    settles: 1.0,
                }];
            }
        }
    }

    pub(crate) fn top(&mut self) {
        const CLAUSE: Message = Message::bare("plate-clause-top");
        let set = self.set;
        if set.face != Face::Top || set.entries.is_empty() {
            return;
        }
        let open: Vec<&SetEntry> = set
            .entries
            .iter()
            .filter(|entry| matches!(entry.kind, EntryKind::TrunkingCutOut | EntryKind::Bush))
            .collect();
        if open.is_empty() {
            self.push("plate-top", Verdict::Holds, CLAUSE, say!("plate-top-holds"), Message::default());
            return;
        }
        let labels = open.iter().map(|entry| entry.label.as_str()).collect::<Vec<_>>().join(", ");
        let path = self.entry_path(open[0], "kind");
        let check = self.push(
            "plate-top",
            Verdict::Undecided,
            CLAUSE,
            say!("plate-top", entries = labels.clone()),
            Message::default(),
        );
        check.next =
            vec![NextReading { path: path.into(), what: say!("plate-top-ask", entries = labels), settles: 1.0 }];
    }
}
