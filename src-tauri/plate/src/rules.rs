//! Further checks of a plate: what is left of it, tags, spanners, bends, slots, fill, what runs
//! together, and tops within reach.

use std::collections::{BTreeMap, BTreeSet};

use survey::pattern::Face;
use survey::{Band, Cable, CableId, EntryKind, Input, Known, Millimetres, NextReading, Range, Verdict};

use crate::bend;
use crate::checks::{List, OURS, mm, share};
use crate::fill::{self, conduit_fill, trunking_fill};
use crate::fitting::fittings;
use crate::gland::shown;
use crate::hole::Opening;
use crate::setting_out::{SetEntry, SettingOut, live_cables, serves};
use crate::shape::{BODY_GAP, LEAST_SECTION, Shape, TINY, least_metal, weakest};
use crate::solve::Spanner;
use crate::tables::Tables;

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
        let percent = |value: f64| mm(value * 100.0);
        let (verdict, sentence) = if left < LEAST_SECTION - TINY {
            (
                Verdict::Fails,
                format!(
                    "Only {} % of the plate is left along the line {line}: it will bend under its cables. Spread the entries, or stiffen the plate.",
                    percent(left)
                ),
            )
        } else {
            (Verdict::Holds, format!("{} % of the plate or more is left along every line across it.", percent(left)))
        };
        let inequality = format!("metal left {} % ≥ {} %", percent(left), percent(LEAST_SECTION));
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
        let words: Vec<String> = by
            .iter()
            .rev()
            .map(|(spanner, labels)| {
                let article = if spanner.words().starts_with('o') { "an" } else { "a" };
                format!("{} with {article} {}", labels.join(", "), spanner.words())
            })
            .collect();
        self.push(
            "plate-spanner",
            Verdict::Holds,
            "spanner heads 2.1 and 1.4 times the flats, from memory, not checked",
            format!("Tighten {}.", words.join("; ")),
            String::new(),
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
            self.push(
                "plate-tag",
                Verdict::Holds,
                OURS,
                "The ear of every earth tag finds room beside its gland.".to_owned(),
                String::new(),
            );
            return;
        }
        let labels = without.iter().map(|entry| entry.label.as_str()).collect::<Vec<_>>().join(", ");
        let path = self.entry_path(without[0], "at");
        let check = self.push(
            "plate-tag",
            Verdict::Undecided,
            OURS,
            format!(
                "{labels}: no room for the ear of an earth tag. Use an earthing locknut with a terminal, or move it."
            ),
            String::new(),
        );
        check.next = vec![NextReading {
            path: path.into(),
            what: format!("decide on earthing locknuts for {labels}, or move them").into(),
            settles: 1.0,
        }];
    }

    pub(crate) fn bends(&mut self, tables: &Tables) {
        const CLAUSE: &str = "IEC 60364-5-52 clause 522.8.3; radii of the guide to BS 7671, see bend_radius.csv";
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
                Some(depth) => (depth, plate.wiring_depth.from.known, "far side of the wiring space"),
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
            let sentence = format!(
                "{}: a bend of {} times {} takes {} behind the plate, and there is {} to the {what}. Move it over its way, or measure the depth.",
                entry.label,
                bend.factor,
                shown(bend.diameter),
                shown(need),
                shown(depth)
            );
            let inequality = format!("depth for the bend {} ≤ {}", shown(need), shown(depth));
            let inputs = vec![
                Input {
                    path: path.clone().into(),
                    label: "depth of the wiring space".into(),
                    value: shown(depth).into(),
                    known,
                },
                Input {
                    path: format!("/cables/{}/diameter", cables.first().map(ToString::to_string).unwrap_or_default())
                        .into(),
                    label: "cable diameter".into(),
                    value: shown(bend.diameter).into(),
                    known: bend.known,
                },
            ];
            let next = NextReading {
                path: path.clone().into(),
                what: "measure the free depth behind the plate".into(),
                settles: 0.7,
            };
            let check = self.push("plate-bend", verdict, CLAUSE, sentence, inequality);
            check.inputs = inputs.into();
            if verdict == Verdict::Undecided {
                check.next = vec![next];
            }
        }
        if proved > 0 && !self.checks.iter().any(|check| &*check.rule == "plate-bend") {
            self.push(
                "plate-bend",
                Verdict::Holds,
                CLAUSE,
                "Every cable whose diameter is known has the depth for its bend.".to_owned(),
                String::new(),
            );
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
            let (verdict, sentence) = match (third, slot.width) {
                (Some(third), _) => (
                    Verdict::Fails,
                    format!(
                        "The slot from {} to {} runs too near to {}. Move one of them.",
                        slot.from, slot.to, third.label
                    ),
                ),
                (None, None) => (
                    Verdict::Undecided,
                    format!("The width of the slot from {} to {} is not known.", slot.from, slot.to),
                ),
                (None, Some(width)) => (
                    Verdict::Holds,
                    format!(
                        "The slot from {} to {}, {} mm wide, is clear of other holes. Fill it with insulating sealant.",
                        slot.from,
                        slot.to,
                        mm(width)
                    ),
                ),
            };
            let check = self.push("plate-slot", verdict, OURS, sentence, String::new());
            if verdict == Verdict::Undecided {
                let what = format!("give the width of the slot from {} to {}", slot.from, slot.to);
                check.next = vec![NextReading { path: path.into(), what: what.into(), settles: 1.0 }];
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
        const TERMS: &str = "terms method and 45 % space factor, guidance to BS 7671 (on-site guide)";
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
                let check = self.push(
                    "plate-fill",
                    Verdict::Undecided,
                    TERMS,
                    format!(
                        "{}: how full it is cannot be told before its cables' sizes or diameters are known.",
                        entry.label
                    ),
                    String::new(),
                );
                check.next = vec![NextReading {
                    path: path.into(),
                    what: format!("measure the cables through {}", entry.label).into(),
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
                let ask = "measure the run of the conduit to the next box and count its bends";
                let sentence = format!(
                    "{}: straight and short its cables take {} of {}; in a long run with bends {} of {}{}. To settle it, {ask}.",
                    entry.label,
                    mm(best.used.1),
                    mm(best.room),
                    mm(worst.used.1),
                    mm(worst.room),
                    if worst.room > 0.0 { "" } else { ", beyond the tables: a draw box belongs into it" }
                );
                let inequality = format!("cables {} ≤? room {}", mm(worst.used.1), mm(worst.room));
                let plate = self.plate;
                let check = self.push("plate-fill", verdict, TERMS, sentence, inequality);
                let field = if run.length.is_none() { "run_length" } else { "run_bends" };
                check.next = vec![NextReading {
                    path: format!("/plates/{plate}/entries/{}/{field}", entry.id).into(),
                    what: ask.into(),
                    settles: 1.0,
                }];
                continue;
            }
            let fill::Fill { used: (lo, hi), room } = worst;
            let used = if (hi - lo).abs() < 0.05 { mm(hi) } else { format!("{} to {}", mm(lo), mm(hi)) };
            let sentence = match verdict {
                Verdict::Holds => format!("{}: its cables take {used} of {}.", entry.label, mm(room)),
                Verdict::Fails | Verdict::Advised => format!(
                    "{}: its cables take {used}, and there is room for {}. Use a larger size.",
                    entry.label,
                    mm(room)
                ),
                Verdict::Undecided => format!("{}: its cables take {used} of {}: measure them.", entry.label, mm(room)),
            };
            let check = self.push("plate-fill", verdict, TERMS, sentence, format!("cables {used} ≤ room {}", mm(room)));
            let part = |value: f64| (room - value) / room.max(1e-9);
            check.margin = Some([part(hi), part(lo)]);
            if verdict == Verdict::Undecided {
                check.next = vec![NextReading {
                    path: path.into(),
                    what: format!("measure the cables through {}", entry.label).into(),
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
            let words = bands.iter().map(|band| band.words().to_string()).collect::<Vec<_>>().join(" and ");
            let whom: Vec<String> = cables.iter().map(|(id, _)| serves(self.board, *id)).collect();
            let path = format!("/cables/{}/band", cables[0].0);
            let (verdict, clause, sentence) = if bands.contains(&Band::Fire) {
                (
                    Verdict::Fails,
                    "IEC 60364-5-56 clause 560.7, from memory",
                    format!(
                        "{} takes {words} ({}): fire and emergency circuits run by themselves. Use another opening.",
                        entry.label,
                        whom.join(", ")
                    ),
                )
            } else if bands.contains(&Band::Power) {
                (
                    Verdict::Undecided,
                    "IEC 60364-5-52 clause 528.1",
                    format!(
                        "{} takes {words} ({}): they may run together only where every cable is insulated for the highest voltage present, or a partition parts them.",
                        entry.label,
                        whom.join(", ")
                    ),
                )
            } else {
                continue;
            };
            let check = self.push("plate-segregation", verdict, clause, sentence, String::new());
            if verdict == Verdict::Undecided {
                check.next = vec![NextReading {
                    path: path.into(),
                    what: format!("find the insulation voltage of the cables through {}, or part them", entry.label)
                        .into(),
                    settles: 1.0,
                }];
            }
        }
    }

    pub(crate) fn top(&mut self) {
        const CLAUSE: &str = "IEC 60364-4-41 annex A.2: on a top within reach IPXXD or IP4X, no gap of 1 mm";
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
            self.push(
                "plate-top",
                Verdict::Holds,
                CLAUSE,
                "The entries of the top plate close it once tightened: fit the IP washers.".to_owned(),
                String::new(),
            );
            return;
        }
        let labels = open.iter().map(|entry| entry.label.as_str()).collect::<Vec<_>>().join(", ");
        let path = self.entry_path(open[0], "kind");
        let check = self.push(
            "plate-top",
            Verdict::Undecided,
            CLAUSE,
            format!("{labels}: an open bush or cut-out in the top lets a wire of 1 mm in. Seal it around its cables, or enter from below."),
            String::new(),
        );
        check.next = vec![NextReading {
            path: path.into(),
            what: format!("see that {labels} is sealed to IP4X").into(),
            settles: 1.0,
        }];
    }
}
