//! The rules every circuit is held to, one entry each: a new rule is a new entry.

use std::sync::Arc;

use smallvec::SmallVec;
use survey::message::Symbols;
use survey::range::Span;
use survey::sketch::Sketches;
use survey::{Argument, Check, DeviceKind, Inputs, LoadKind, Message, NextReading, Subject, Verdict, YesNo, say};

use crate::case::{self, Case, Gap};
use crate::fault_loop::{self, EndedBy};
use crate::field::{BACKED_UP, BREAKING, Field, IPF, RATED, UPSTREAM_RESIDUAL, ZS};
use crate::source::{Common, Source};
use crate::tables::trace;
use crate::verdict::{self, Evaluate, Outcome, Wanted};
use crate::{before, cable, demand, device, energy, harmonic, residual as residual_form, shown, volt_drop};

mod fault;
mod load;
mod neutral;
mod residual;

/// A rule: a value that must not exceed a limit.
struct Rule {
    /// Its key in check records.
    name: &'static str,
    /// Standard and clause.
    clause: fn(&Case) -> Message,
    /// Symbols of value and limit.
    symbols: Symbols,
    /// Unit shown, and what one of it is in the rule's own numbers.
    unit: &'static str,
    scale: f64,
    /// The cable's size decides it.
    on_size: bool,
    /// It is a recommendation: beyond it no requirement is broken.
    advice: fn(&Case) -> bool,
    /// False where the rule has nothing to say.
    applies: fn(&Case) -> bool,
    /// Works out the numbers.
    evaluate: Evaluate,
    /// The sentence for a verdict with numbers.
    say: fn(&Said) -> Message,
}

/// Symbols of value and limit.
const fn symbols(value: Message, limit: Message) -> Symbols {
    [Argument::Message(value), Argument::Message(limit)]
}

/// What a sentence is made from.
struct Said<'a, 'b> {
    case: &'a Case<'b>,
    outcome: Outcome,
    verdict: Verdict,
    compared: &'a Compared,
}

impl Said<'_, '_> {
    /// The sentence of this name, with verdict, value and limit in it.
    fn say(&self, id: &'static str) -> Message {
        self.say_with(id, [])
    }

    /// The same with one or two things more in it.
    fn say_with<const N: usize>(&self, id: &'static str, more: [(&'static str, Argument); N]) -> Message {
        self.compared.clone().said(id, self.verdict, more)
    }

    fn value(&self) -> Argument {
        self.compared.value.clone()
    }

    /// The most that the value may be.
    fn most(&self) -> Argument {
        match self.compared.value {
            Argument::Span { span, unit, .. } => Argument::number(span.hi, unit),
            _ => self.value(),
        }
    }
}

/// The rules in the order their checks are listed.
const GROUPS: &[&[Rule]] = &[RULES, neutral::RULES, fault::RULES, residual::RULES, load::RULES];

fn rules() -> impl Iterator<Item = &'static Rule> {
    GROUPS.iter().copied().flatten()
}

/// Stands for the unit of a rule that compares types of RCDs by their order; never shown itself.
const RCD_TYPE: &str = "rcd-type";

const RULES: &[Rule] = &[
    Rule {
        name: "device-current",
        clause: |case| match device::carries(case) {
            Ok(carries) if carries != device::overcurrent_rating(case).unwrap_or(carries) => {
                say!("device-current-warm-clause")
            }
            _ => say!("device-current-clause"),
        },
        symbols: symbols(Message::fixed("Ib"), Message::fixed("In")),
        unit: "A",
        scale: 1.0,
        on_size: false,
        advice: |_| false,
        applies: loaded,
        evaluate: |case| {
            let limit = device::carries(case)?;
            demand::agreed(case)?;
            Ok(Outcome { value: case.of_a_pole(demand::draw(case)?.current.numbers()), limit })
        },
        say: |said| {
            if said.case.linked() {
                return said.say("device-current-linked");
            }
            match warm(said.case).filter(|_| said.verdict == Verdict::Undecided) {
                Some(inside) => said.say_with("device-current-warm", [("inside", inside)]),
                None => said.say("device-current"),
            }
        },
    },
    Rule {
        name: "cable-current",
        clause: |_| say!("cable-current-clause"),
        symbols: symbols(Message::fixed("In"), Message::fixed("Iz")),
        unit: "A",
        scale: 1.0,
        on_size: true,
        advice: |_| false,
        applies: not_ring,
        evaluate: |case| {
            let value = before::overcurrent_rating(case)?;
            let limit = cable::carried(case)?.numbers();
            radial_or_ring(case, Outcome { value, limit }, limit)
        },
        say: |said| {
            let lies = match harmonic::factor(said.case) {
                Ok(factor) if factor.lo < 1.0 => say!("cable-lies-with-harmonics"),
                _ => say!("cable-lies"),
            };
            let alone = before::alone(said.case);
            let device = if alone { say!("cable-device-upstream") } else { say!("cable-device") };
            let sentence = said.say_with("cable-current", [("lies", lies.into()), ("device", device.into())]);
            match alone && said.verdict == Verdict::Fails {
                true => Message::several([sentence, say!("no-overcurrent-device")]),
                false => sentence,
            }
        },
    },
    Rule {
        name: "overload-trip",
        clause: |_| say!("overload-trip-clause"),
        symbols: symbols(Message::fixed("I2"), Message::fixed("1.45 Iz")),
        unit: "A",
        scale: 1.0,
        on_size: true,
        advice: |_| false,
        applies: not_ring,
        evaluate: |case| {
            let value = device::conventional(case)?;
            let carried = cable::carried(case)?.numbers();
            radial_or_ring(case, Outcome { value, limit: carried * Span::point(1.45) }, carried)
        },
        say: |said| said.say("overload-trip"),
    },
    Rule {
        name: "volt-drop",
        clause: |_| say!("volt-drop-clause"),
        symbols: symbols(Message::fixed("ΔU"), say!("symbol-limit")),
        unit: "%",
        scale: 0.01,
        on_size: true,
        advice: |_| true,
        applies: |_| true,
        evaluate: |case| {
            let value = volt_drop::total(case)?;
            Ok(Outcome { value, limit: volt_drop::limit(case).ok_or(Gap::Missing(Field::Kind))? })
        },
        say: |said| {
            let lost = match volt_drop::volts(said.case, said.outcome.value) {
                Some(volts) => say!("volt-drop-in-volts", value = said.value(), volts = (volts, "V")).into(),
                None => said.value(),
            };
            said.say_with("volt-drop", [("lost", lost)])
        },
    },
    Rule {
        name: "fault-loop",
        clause: fault_clause,
        symbols: symbols(Message::fixed("Zs"), Message::fixed("Zs max")),
        unit: "Ω",
        scale: 1.0,
        on_size: true,
        advice: |_| false,
        // Where the loop or a TT system's electrode was measured, a calculation that lacks a reading adds nothing.
        applies: |case| {
            !((measured(case) || fault::by_electrode(case)) && matches!(loop_outcome(case), Err(Gap::Missing(_))))
        },
        evaluate: loop_outcome,
        say: |said| {
            let sentence = said.say_with("fault-loop", [("by", ended_by(said.case).into())]);
            match said.verdict == Verdict::Fails && residual_form::blinded_by_another(said.case).is_some() {
                true => Message::several([sentence, say!("fault-loop-blind")]),
                false => sentence,
            }
        },
    },
    Rule {
        name: "fault-loop-measured",
        clause: |_| say!("fault-loop-measured-clause"),
        symbols: symbols(Message::fixed("Zs"), Message::fixed("0.8 Zs max")),
        unit: "Ω",
        scale: 1.0,
        on_size: false,
        // A loop above the limit itself opens nothing in time; the share for warmth is a rule of thumb.
        advice: |case| {
            let measured = case.slots.span(ZS.field);
            let limit = fault_loop::limit(case).ok();
            measured.zip(limit).is_some_and(|(measured, (limit, _))| measured.lo <= limit.hi)
        },
        applies: measured,
        evaluate: |case| {
            fault_loop::earthed(case)?;
            let value = case.get(ZS)?.numbers();
            let line = fault_loop::line_alone(case);
            if let Some(line) = line.filter(|line| value.hi < *line) {
                let why = say!("zs-below-line", read = (value, "Ω"), line = (line, "Ω"));
                return Err(Gap::Unfit(Field::Zs, why));
            }
            if case.systems == [survey::EarthingSystem::Tt]
                && let Some(electrode) = case.given(crate::field::ELECTRODE)?
                && value.hi < electrode.numbers().lo
            {
                return Err(Gap::Unfit(Field::Zs, say!("zs-below-electrode")));
            }
            let (limit, _) = fault_loop::limit(case)?;
            Ok(Outcome { value, limit: limit * Span::point(fault_loop::COLD_SHARE) })
        },
        say: |said| said.say("fault-loop-measured"),
    },
    Rule {
        name: "breaking-capacity",
        clause: |_| say!("breaking-capacity-clause"),
        symbols: symbols(Message::fixed("Ipf"), Message::fixed("Icn")),
        unit: "kA",
        scale: 1000.0,
        on_size: false,
        advice: |_| false,
        applies: |case| case.device_kind.is_none_or(DeviceKind::opens_on_overcurrent),
        evaluate: |case| {
            let limit = case.get(BREAKING)?.numbers();
            if let Some(least) = before::least_fault(case)?.filter(|least| *least > limit.hi) {
                return backed_up(case, Outcome { value: Span::point(least), limit });
            }
            let outcome = backed_up(case, Outcome { value: case.get(IPF)?.numbers(), limit })?;
            undenied(case, outcome, IPF.field)?;
            if case.direct() {
                match case.dc_rated() {
                    [YesNo::Yes] => {}
                    [YesNo::No] => return Ok(Outcome { limit: Span::point(0.0), ..outcome }),
                    _ => return Err(Gap::Unfit(Field::DcRated, say!("breaking-direct-unread"))),
                }
            }
            // A second fault on another line puts the voltage between lines on one pole: what the
            // device breaks at its own voltage says nothing of that.
            if case.systems() == [survey::EarthingSystem::It] && outcome.verdict() == Verdict::Holds {
                match case.for_it() {
                    [YesNo::Yes] => {}
                    [YesNo::No] => return Ok(Outcome { limit: Span::point(0.0), ..outcome }),
                    _ => return Err(Gap::Unfit(Field::ForIt, say!("breaking-it-unread"))),
                }
            }
            Ok(outcome)
        },
        say: |said| match said.verdict {
            Verdict::Fails if said.outcome.limit.hi == 0.0 && said.case.direct() => said.say("breaking-direct"),
            Verdict::Fails if said.outcome.limit.hi == 0.0 => said.say("breaking-it"),
            _ => said.say("breaking-capacity"),
        },
    },
    Rule {
        name: "line-energy",
        clause: |_| say!("line-energy-clause"),
        symbols: symbols(Message::fixed("√(I²t)/k"), Message::fixed("S")),
        unit: "mm²",
        scale: 1.0,
        on_size: true,
        advice: |_| false,
        applies: |_| true,
        evaluate: energy::line,
        say: |said| said.say_with("line-energy", [("most", said.most())]),
    },
    Rule {
        name: "cpc-energy",
        clause: |_| say!("cpc-energy-clause"),
        symbols: symbols(say!("symbol-s-needed"), Message::fixed("S")),
        unit: "mm²",
        scale: 1.0,
        on_size: true,
        advice: |_| false,
        applies: |_| true,
        evaluate: energy::protective,
        say: |said| match said.verdict == Verdict::Holds && energy::by_table(said.case) {
            true => said.say_with("cpc-energy-by-table", [("most", said.most())]),
            false => said.say_with("cpc-energy", [("most", said.most())]),
        },
    },
    Rule {
        name: "socket-rcd",
        clause: |case| match case.kinds {
            [LoadKind::VehicleCharging] => {
                say!("socket-rcd-charging-clause")
            }
            _ => say!("socket-rcd-clause"),
        },
        symbols: symbols(Message::fixed("IΔn"), say!("symbol-limit")),
        unit: "mA",
        scale: 0.001,
        on_size: false,
        // On construction sites reduced low voltage stands in for the RCD of socket-outlets: IEC 60364-7-704,
        // 704.410.3.10 (from memory).
        advice: |case| case.reduced == [YesNo::Yes],
        applies: |case| {
            // Of a larger device the socket-outlets may still be of 32 A or less; larger than 63 A they are made apart.
            let of = if case.device_kind == Some(DeviceKind::AdjustableBreaker) { Field::Ir } else { Field::Rated };
            let rated = case.slots.span(of);
            match case.kinds {
                [LoadKind::Sockets] => rated.is_none_or(|rated| rated.lo <= 63.0),
                [LoadKind::VehicleCharging] => true,
                _ => false,
            }
        },
        evaluate: |case| {
            let rated = (case.kinds(), device::setting(case)?).1;
            let none = Span::point(f64::INFINITY);
            // An RCD upstream of the board watches all of it.
            let upstream = match case.upstream_rcd {
                true => match (case.get(UPSTREAM_RESIDUAL)?.numbers(), case.blinded(2)) {
                    (_, [YesNo::Yes]) => None,
                    (rated, [YesNo::No]) => Some(rated),
                    (rated, _) => Some(Span { hi: f64::INFINITY, ..rated }),
                },
                false => None,
            };
            let found = device::smaller([device::residual(case)?, upstream]);
            let value = found.unwrap_or(none);
            if value.hi.is_infinite() && value.lo <= ADDITIONAL {
                return Err(device::perhaps_blind(case));
            }
            if value.lo > ADDITIONAL && case.reduced().len() > 1 {
                return Err(Gap::Unfit(Field::Reduced, say!("socket-rcd-reduced-unread")));
            }
            residual_form::for_direct(case)?;
            // The clause of charging points asks for type A at least, and for one that smooth d.c. does not blind.
            let seeing = device::smaller([device::least(device::seeing(case)?), upstream]).unwrap_or(none);
            if matches!(case.kinds, [LoadKind::VehicleCharging]) && value.lo <= ADDITIONAL && seeing.hi > ADDITIONAL {
                let gap = residual_form::wrong_type_gap(case).filter(|_| seeing.lo > ADDITIONAL);
                return Err(gap.unwrap_or_else(|| device::perhaps_blind(case)));
            }
            if matches!(case.kinds, [LoadKind::VehicleCharging])
                && case.points_share
                && !matches!(case.device_kind, Some(DeviceKind::Rcbo | DeviceKind::Rcd))
                && value.lo <= ADDITIONAL
            {
                return Err(Gap::Unfit(Field::Residual, say!("socket-rcd-points-share")));
            }
            if case.incomer_in_doubt && value.lo > ADDITIONAL && matches!(case.feed, Ok(case::Feed::OneLine(_))) {
                return Err(Gap::Unfit(Field::IncomerResidual, say!("two-poles-of-three")));
            }
            let own = matches!(case.device_kind, Some(DeviceKind::Rcbo | DeviceKind::Rcd));
            if own && case.delays == [survey::RcdDelay::S] && value.hi <= ADDITIONAL {
                return Err(Gap::Unfit(Field::Delay, say!("socket-rcd-delayed")));
            }
            if rated.lo > 32.0 && value.lo > ADDITIONAL && matches!(case.kinds, [LoadKind::Sockets]) {
                return Err(Gap::Unfit(Field::Kind, say!("socket-rcd-rating-unread")));
            }
            Ok(Outcome { value, limit: Span::point(ADDITIONAL) })
        },
        say: |said| {
            let what = match said.case.kinds {
                [LoadKind::VehicleCharging] => say!("charging-point"),
                _ => say!("socket-outlets"),
            };
            let none = said.verdict == Verdict::Fails && said.outcome.value.lo.is_infinite();
            let what = [("what", what.into())];
            match none {
                true if residual_form::blinded_by_another(said.case).is_some() => {
                    said.say_with("socket-rcd-blind", what)
                }
                true => said.say_with("socket-rcd-none", what),
                false => said.say_with("socket-rcd", what),
            }
        },
    },
];

/// The air around a device, where that is warmer than it is made for.
fn warm(case: &Case) -> Option<Argument> {
    let inside = case.slots.span(Field::Inside)?;
    (inside.hi > crate::temperature::DEVICES).then(|| Argument::number(inside.hi, "°C"))
}

/// A surge-protective device carries no load: nothing overloads what leads to it (IEC 60364-5-53, 534).
fn loaded(case: &Case) -> bool {
    case.device_kind != Some(DeviceKind::Spd)
}

fn not_ring(case: &Case) -> bool {
    case.rings.contains(&YesNo::No) && loaded(case)
}

/// Least that a ring's cable must carry as it lies, A, under a device of 30 or 32 A: BS 7671, 433.1.204, from memory.
pub(crate) const RING_CARRIES: f64 = 20.0;

/// What a radial fails a ring may bear: where nobody looked which it is, that is to be looked at.
fn radial_or_ring(case: &Case, outcome: Outcome, carried: Span) -> Result<Outcome, Gap> {
    if case.rings().len() > 1 && outcome.verdict() != Verdict::Holds && carried.hi >= RING_CARRIES {
        return Err(Gap::Unfit(Field::Ring, say!("ring-or-radial", carried = (carried, "A"))));
    }
    Ok(outcome)
}

/// What a device breaks with the one upstream: IEC 60364-4-43, 434.5.1 and 536.4 of BS 7671 (from memory). Only
/// makers' tables tell it.
fn backed_up(case: &Case, alone: Outcome) -> Result<Outcome, Gap> {
    if alone.verdict() == Verdict::Holds || !case.behind_overcurrent {
        return Ok(alone);
    }
    match case.given(BACKED_UP)? {
        Some(together) if together.numbers().hi > alone.limit.hi && !case.upstream_read => {
            Err(Gap::Unfit(Field::BackedUp, say!("backed-up-unread")))
        }
        Some(together) => {
            let together = together.numbers();
            let limit = Span { lo: alone.limit.lo.max(together.lo), hi: alone.limit.hi.max(together.hi) };
            Ok(Outcome { limit, ..alone })
        }
        None if alone.verdict() == Verdict::Fails => {
            let why = say!("backed-up-perhaps", value = (alone.value, "A"), limit = (alone.limit, "A"));
            Err(Gap::Unfit(Field::BackedUp, why))
        }
        None => Ok(alone),
    }
}

/// Rated residual current of additional protection, A: IEC 60364-4-41, 415.1.1.
const ADDITIONAL: f64 = 0.03;

/// True for rules that the cable's size decides.
pub(crate) fn depends_on_size(rule: &str) -> bool {
    rules().any(|one| one.name == rule && one.on_size)
}

fn measured(case: &Case) -> bool {
    case.slots.span(Field::Zs).is_some()
}

fn loop_outcome(case: &Case) -> Result<Outcome, Gap> {
    fault_loop::earthed(case)?;
    let (limit, _) = fault_loop::limit(case)?;
    // Where an RCD watches, the electrode is judged by the touch voltage.
    if !fault::by_electrode(case)
        && let Some(least) = fault_loop::electrode_alone(case)?
    {
        // Whatever the rest of the loop is, it adds to that.
        let outcome = Outcome { value: Span::point(least), limit };
        return if least > limit.hi { Ok(outcome) } else { Err(Gap::Missing(Field::Ze)) };
    }
    let mut outcome = Outcome { value: fault_loop::impedance(case)?, limit };
    // The plain sum proves; it refutes nothing.
    if outcome.verdict() != Verdict::Holds {
        outcome.value = fault_loop::any_angle(case)?;
    }
    undenied(case, outcome, Field::Ze)?;
    if outcome.verdict() != Verdict::Holds {
        rcd_in_doubt(case, outcome)?;
    }
    // A loop that reads more cold than the calculation has it warm is not the one that was calculated.
    if outcome.verdict() == Verdict::Holds
        && let Some(read) = case.given(ZS)?
        && read.numbers().lo > outcome.value.hi * FAR
    {
        let why = say!("zs-far-above", read = (read.numbers(), "Ω"), most = (outcome.value.hi, "Ω"));
        return Err(Gap::Unfit(Field::Zs, why));
    }
    Ok(outcome)
}

/// What a loop fails that an RCD of which something is not known, or that is blind, would open in time.
fn rcd_in_doubt(case: &Case, outcome: Outcome) -> Result<(), Gap> {
    if let Ok((limit, _)) = fault_loop::limit_by_any(case)
        && (Outcome { limit, ..outcome }).verdict() == Verdict::Holds
        && let Some(gap) = residual_form::wrong_type_gap(case)
    {
        return Err(gap);
    }
    if outcome.verdict() != Verdict::Fails {
        return Ok(());
    }
    if case.upstream_rcd && case.slots.taken(Field::UpstreamResidual) {
        let why = say!("loop-by-rcd-upstream", value = (outcome.value, "Ω"), limit = (outcome.limit, "Ω"));
        return Err(Gap::Unfit(Field::UpstreamResidual, why));
    }
    if case.incomer_in_doubt && matches!(case.feed, Ok(case::Feed::OneLine(_))) {
        return Err(Gap::Unfit(Field::IncomerResidual, say!("two-poles-of-three")));
    }
    Ok(())
}

/// So much more than calculated is no matter of an instrument. Common practice, no source.
const FAR: f64 = 1.3;

/// Nothing holds on readings of the supply that deny each other: one of them is wrong, and nobody knows which.
pub(crate) fn undenied(case: &Case, outcome: Outcome, field: Field) -> Result<(), Gap> {
    if case.beyond_breakers
        && case.device_kind.is_some_and(crate::supply_form::bound)
        && outcome.verdict() == Verdict::Holds
    {
        return Err(Gap::Unfit(Field::Voltage, say!("beyond-breakers")));
    }
    if case.denied && outcome.verdict() == Verdict::Holds {
        return Err(Gap::Unfit(field, say!("supply-readings-deny")));
    }
    Ok(())
}

fn fault_clause(case: &Case) -> Message {
    match (fault_loop::limit(case), case.systems) {
        _ if case.reduced == [YesNo::Yes] => {
            say!("fault-loop-reduced-clause")
        }
        (Ok((_, EndedBy::Residual)), [survey::EarthingSystem::Tt]) => say!("fault-loop-tt-rcd-clause"),
        (Ok((_, EndedBy::Overcurrent)), [survey::EarthingSystem::Tt]) => say!("fault-loop-tt-clause"),
        (_, [survey::EarthingSystem::It]) => say!("fault-loop-it-clause"),
        (Ok((_, EndedBy::Residual)), [_]) => {
            say!("fault-loop-rcd-clause")
        }
        (_, [_]) if case.device_kind == Some(DeviceKind::Fuse) => {
            say!("fault-loop-fuse-clause")
        }
        (_, [_]) if case.curves == [survey::Curve::D] && slow(case) => {
            say!("fault-loop-type-d-clause")
        }
        (_, [_]) => say!("fault-loop-clause"),
        _ => say!("fault-loop-no-system-clause"),
    }
}

/// A breaker that has longer than its instantaneous release takes.
fn slow(case: &Case) -> bool {
    let voltage = case.slots.span(Field::Voltage);
    let tt = case.systems == [survey::EarthingSystem::Tt];
    voltage.and_then(|voltage| fault_loop::longest_time(case, tt, voltage).ok()).is_some_and(|time| time.hi > 1.0)
}

fn ended_by(case: &Case) -> Message {
    match fault_loop::limit(case) {
        Ok((_, EndedBy::Residual)) => {
            let seeing = device::seeing(case).ok();
            let residual = seeing.and_then(device::least).filter(|residual| residual.hi.is_finite());
            match residual {
                Some(residual) => {
                    let rated = (residual * Span::point(1000.0), "mA");
                    match residual_form::watched(case) {
                        true => say!("opened-by-rcd-rated", rated = rated),
                        false => say!("opened-by-rcd-rated-upstream", rated = rated),
                    }
                }
                None => say!("opened-by-rcd"),
            }
        }
        _ => {
            let rated = case.slots.span(RATED.field);
            match (case.device_kind, case.curves, rated) {
                (Some(DeviceKind::Fuse | DeviceKind::RewirableFuse), _, Some(rated)) => {
                    say!("opened-by-fuse", rated = (rated, "A"))
                }
                (_, [curve], Some(rated)) => {
                    say!("opened-by-breaker-type", type = curve.words(), rated = (rated, ""))
                }
                (_, _, Some(rated)) => say!("opened-by-breaker", rated = (rated, "A")),
                _ => say!("opened-by-device"),
            }
        }
    }
}

/// A rule judged for a circuit: numbers only.
pub(crate) struct Judged {
    rule: &'static Rule,
    result: Result<Outcome, Gap>,
    /// Fields read, one bit each.
    used: u128,
    /// It is a recommendation.
    advice: bool,
    /// Rows of the tables it looked up, where somebody asked.
    tables: Message,
}

impl Judged {
    /// The rule's key in check records.
    pub(crate) fn name(&self) -> &'static str {
        self.rule.name
    }

    pub(crate) fn verdict(&self) -> Verdict {
        let verdict = self.result.as_ref().map_or(Verdict::Undecided, |outcome| outcome.verdict());
        if self.advice { as_advice(verdict) } else { verdict }
    }

    pub(crate) fn margin(&self) -> Option<[f64; 2]> {
        self.result.as_ref().ok().and_then(|outcome| outcome.margin())
    }
}

/// A verdict of what is only recommended.
pub(crate) const fn as_advice(verdict: Verdict) -> Verdict {
    match verdict {
        Verdict::Fails => Verdict::Advised,
        other => other,
    }
}

/// As many rules speak of most circuits at most.
const MOST: usize = 16;

/// Judges a circuit by every rule that has something to say, in the order of the rules.
pub(crate) fn judge<'c>(case: &'c Case) -> impl Iterator<Item = Judged> + use<'c> {
    let keeping = case.keep();
    rules().filter(|rule| (rule.applies)(case)).map(move |rule| {
        // Kept until the last rule is judged.
        let _ = &keeping;
        case.forget();
        trace::clear();
        let result = (rule.evaluate)(case);
        let tables = trace::take();
        Judged { rule, result, used: case.used_mask(), advice: (rule.advice)(case), tables }
    })
}

/// The readings that each check of a circuit waits for.
///
/// All of them are worked out together: what several checks rest on is then worked out once for each reading
/// that is supposed.
fn wanted(case: &Case, judged: &[Judged]) -> SmallVec<[Wanted; MOST]> {
    let mut wanted: SmallVec<[Wanted; MOST]> = judged.iter().map(|_| Wanted::new()).collect();
    let mut open: SmallVec<[verdict::Open; MOST]> = SmallVec::new();
    let mut missing: SmallVec<[Field; 8]> = SmallVec::new();
    for (place, one) in judged.iter().enumerate() {
        match &one.result {
            Ok(outcome) if outcome.verdict() == Verdict::Undecided => {
                open.push(verdict::Open { place, evaluate: one.rule.evaluate, outcome: *outcome, used: one.used });
            }
            Ok(_) => {}
            Err(Gap::Missing(first)) if !missing.contains(first) => missing.push(*first),
            Err(Gap::Missing(_)) => {}
            Err(Gap::Unfit(field, _)) => wanted[place].push((*field, 1.0)),
        }
    }
    if open.is_empty() && missing.is_empty() {
        return wanted;
    }
    let mut trial = case.for_trials();
    if !open.is_empty() {
        verdict::sensitivity(case, &mut trial, &open, &mut wanted);
    }
    for first in missing {
        case.supposed(&mut trial, first, |supposed| {
            for (one, wanted) in judged.iter().zip(&mut wanted) {
                if one.result == Err(Gap::Missing(first)) {
                    let fields = verdict::missing(supposed, one.rule.evaluate, first);
                    let share = 1.0 / fields.len() as f64;
                    wanted.extend(fields.into_iter().map(|field| (field, share)));
                }
            }
        });
    }
    wanted
}

/// Makes the records of circuits' checks, one circuit after the other on the same desk: what lies
/// on it is cleared, not thrown away.
pub(crate) struct Writer {
    judged: Vec<Judged>,
}

impl Default for Writer {
    fn default() -> Self {
        Self { judged: Vec::with_capacity(rules().count()) }
    }
}

impl Writer {
    /// Every check of one circuit, in the order of the rules: judged first, then put into records, which
    /// share their inputs, as they rest on the same few fields.
    pub(crate) fn check(&mut self, common: &Common, source: &Source, case: &Case, out: &mut Vec<Check>) {
        let _keeping = case.keep();
        self.judged.extend(judge(case));
        let wanted = wanted(case, &self.judged);
        let mut used = 0;
        for (judged, next) in self.judged.iter_mut().zip(&wanted) {
            if judged.result.is_err() {
                judged.used |= next.iter().fold(0, |mask, (field, _)| mask | 1 << *field as u128);
            }
            used |= judged.used;
        }
        let mut places = [0_u8; u128::BITS as usize];
        let mut inputs = Vec::with_capacity(used.count_ones() as usize);
        for field in case::fields(used) {
            places[field as usize] = inputs.len() as u8;
            inputs.push(common.input(source, case, field));
        }
        let inputs = Arc::new(Sketches::new(source.records(), inputs));
        out.reserve(self.judged.len());
        for (judged, next) in self.judged.drain(..).zip(&wanted) {
            let rule = judged.rule;
            let (verdict, margin) = (judged.verdict(), judged.margin());
            let place = |field: Field| usize::from(places[field as usize]);
            let which = case::fields(judged.used).fold(0, |which, field| which | 1 << place(field));
            let (sentence, inequality) = said(case, rule, judged.result, next);
            let next = next.iter().map(|(field, settles)| NextReading {
                path: inputs.path(place(*field)),
                what: field.about().ask.clone(),
                settles: *settles,
            });
            out.push(Check {
                rule: rule.name.into(),
                subject: Subject::Circuit(source.id),
                verdict,
                sentence,
                inequality,
                clause: (rule.clause)(case),
                margin,
                inputs: Inputs::sketched(&inputs, which),
                next: next.collect(),
                tables: judged.tables,
            });
        }
    }
}

/// Sentence and inequality of a rule, as it turned out.
fn said(case: &Case, rule: &'static Rule, result: Result<Outcome, Gap>, next: &[(Field, f64)]) -> (Message, Message) {
    match result {
        Ok(outcome) => {
            let verdict = outcome.verdict();
            let compared = Compared::of(outcome, verdict, rule.unit, rule.scale);
            let mut sentence = (rule.say)(&Said { case, outcome, verdict, compared: &compared });
            let relation = sentence.relation(&rule.symbols);
            let relation = relation.unwrap_or_else(|| compared.relation(rule.symbols.clone(), verdict));
            if let Some((first, _)) = next.first() {
                sentence = sentence.settled_by(&first.about().ask);
            }
            (sentence, relation)
        }
        Err(gap) => {
            let sentence = match gap {
                Gap::Unfit(_, why) => say!("not-settled", why = why),
                Gap::Missing(_) => {
                    let what = next.iter().map(|(field, _)| field.about().label.clone());
                    say!("not-settled-for-want-of", what = what.collect::<Vec<_>>())
                }
            };
            (sentence, Message::bare_relation(&rule.symbols))
        }
    }
}

/// Value and limit of a rule as they are shown: with as many digits as it takes to see which is larger.
#[derive(Clone)]
pub(crate) struct Compared {
    pub(crate) value: Argument,
    pub(crate) limit: Argument,
}

impl Compared {
    /// Of an outcome, in the unit shown.
    pub(crate) fn of(outcome: Outcome, verdict: Verdict, unit: &'static str, scale: f64) -> Self {
        let scaled = |span: Span| if scale == 1.0 { span } else { Span { lo: span.lo / scale, hi: span.hi / scale } };
        let (value, limit) = (scaled(outcome.value), scaled(outcome.limit));
        if unit == RCD_TYPE {
            return Self { value: types(value), limit: types(limit) };
        }
        let mut digits = 3;
        // Far apart they cannot read the same.
        if verdict == Verdict::Fails && value.lo - limit.hi < 0.01 * value.lo.abs() {
            while digits < 8 && shown::span_to(value, unit, digits) == shown::span_to(limit, unit, digits) {
                digits += 1;
            }
        }
        let shown = |span| Argument::Span { span, unit, digits: digits as u8 };
        Self { value: shown(value), limit: shown(limit) }
    }

    /// The sentence of this name, with verdict, value and limit in it and what else it names.
    pub(crate) fn said(
        self,
        id: &'static str,
        verdict: Verdict,
        more: impl IntoIterator<Item = (&'static str, Argument)>,
    ) -> Message {
        // Most say one or two things more: those fit their piece of memory.
        let [verdict, value, limit] = [("verdict", verdict.into()), ("value", self.value), ("limit", self.limit)];
        let mut more = more.into_iter();
        match [more.next(), more.next(), more.next()] {
            [None, ..] => Message::said(id, [verdict, value, limit]),
            [Some(a), None, _] => Message::said(id, [verdict, value, limit, a]),
            [Some(a), Some(b), None] => Message::said(id, [verdict, value, limit, a, b]),
            [Some(a), Some(b), Some(c)] => {
                Message::said_of(id, [verdict, value, limit, a, b, c].into_iter().chain(more))
            }
        }
    }

    /// The inequality with its numbers, as it turned out.
    pub(crate) fn relation(self, symbols: [impl Into<Argument>; 2], verdict: Verdict) -> Message {
        let [left, right]: [Argument; 2] = symbols.map(Into::into);
        say!("relation", verdict = verdict, left = left, value = self.value, right = right, limit = self.limit)
    }
}

/// The inequality of a check that has no numbers.
pub(crate) fn bare_relation(symbols: [impl Into<Argument>; 2]) -> Message {
    let [left, right]: [Argument; 2] = symbols.map(Into::into);
    say!("relation-bare", left = left, right = right)
}

/// Types of RCDs from the least to the most able.
fn types(span: Span) -> Argument {
    let (least, most) = (crate::residual::words(span.lo), crate::residual::words(span.hi));
    if least == most { least.into() } else { say!("rcd-types", least = least, most = most).into() }
}
