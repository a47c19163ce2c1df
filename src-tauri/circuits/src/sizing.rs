//! The smallest cable that is made and meets every rule, and why each smaller one does not.

use survey::{Amps, Board, Check, CircuitId, Construction, CpcForm, Message, Range, SquareMillimetres, Verdict, say};

use crate::as_found;
use crate::energy::by_line_size;
use crate::field::{CPC_SIZE, Field, NEUTRAL_SIZE, R1_R2, SIZE, ZS};
use crate::finding;
use crate::rules;
use crate::source::Source;
use crate::tables::Tables;
use crate::{case::Case, gather};

/// One cable that was tried.
#[derive(Clone, Debug, PartialEq)]
pub struct Candidate {
    /// Size of the line conductor.
    pub size: SquareMillimetres,
    /// Size of the protective conductor that is made with it, where it is a conductor.
    pub cpc: Option<SquareMillimetres>,
    /// Checks that it breaks, or whose recommendation it goes beyond.
    pub against: Vec<Check>,
    /// Checks that are undecided for want of a reading.
    pub open: Vec<Check>,
}

impl Candidate {
    /// The answer: holds; undecided, it does only if the readings of its open checks allow it; fails.
    #[must_use]
    pub fn verdict(&self) -> Verdict {
        match (self.against.is_empty(), self.open.is_empty()) {
            (false, _) => Verdict::Fails,
            (true, false) => Verdict::Undecided,
            (true, true) => Verdict::Holds,
        }
    }
}

/// Cables tried, smallest first, up to the first that holds.
#[derive(Clone, Debug, PartialEq)]
pub struct Sizing {
    /// The smallest size with which every check that depends on it holds, if any does.
    pub chosen: Option<SquareMillimetres>,
    /// A smaller size that nothing known speaks against: it does only if its open checks turn out well.
    pub only_if: Option<SquareMillimetres>,
    /// All cables tried; the last one is the chosen one.
    pub tried: Vec<Candidate>,
    /// Design current the sizes were judged by, where the load is known.
    pub design_current: Option<Range<Amps>>,
}

/// Why sizes cannot be tried.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum SizingError {
    /// The circuit is not on the board.
    #[error("/circuits/{0}: {words}", words = say!("trial-no-circuit"))]
    NoCircuit(CircuitId),
    /// The circuit has no cable yet.
    #[error("/circuits/{0}/cable: {words}", words = say!("sizing-no-cable"))]
    NoCable(CircuitId),
    /// Material, insulation, method or poles are not settled.
    #[error("{path}: {words}", words = say!("sizing-first", ask = ask.clone()))]
    Open {
        /// Path of the field.
        path: String,
        /// What would settle it.
        ask: Message,
    },
}

/// Tries the cables that are made as the circuit's cable is to be (`cable_make.csv`).
///
/// A cable holds where every check that depends on it holds; where none speaks against it but some are
/// undecided it does *only if* their readings allow it. Readings taken on the cable that is there today
/// are left out.
///
/// # Errors
/// Where the cable's material, insulation, method or the device's poles are not known.
pub fn size_cable(board: &Board, circuit: CircuitId, tables: &Tables) -> Result<Sizing, SizingError> {
    let crate::Gathered { common, circuits, .. } = gather(board, tables);
    let (source, share) =
        circuits.iter().find(|(source, _)| source.id == circuit).ok_or(SizingError::NoCircuit(circuit))?;
    if source.cable.is_none() {
        return Err(SizingError::NoCable(circuit));
    }
    let case = common.case(source);
    let open = |field: Field| SizingError::Open { path: common.path(source, field).into(), ask: finding::ask(field) };
    let feed = case.feed.clone().map_err(|_| open(if case.has_device { Field::Poles } else { Field::Device }))?;
    let ([material], [insulation], [method]) = (case.materials, case.insulations, case.methods) else {
        let field = match (case.materials.len(), case.insulations.len()) {
            (1, 1) => Field::Method,
            (1, _) => Field::Insulation,
            _ => Field::Material,
        };
        return Err(open(field));
    };
    let tabulated = tables.sizes(*material, *insulation, feed.loaded(), *method);
    let construction = case.construction.unwrap_or(match case.cpc {
        Some(CpcForm::Separate) => Construction::SingleCore,
        _ => Construction::Multicore,
    });
    let mut tried: Vec<Candidate> = Vec::new();
    for (size, cpc) in tables.made(construction, case.cpc, by_line_size) {
        let size = SquareMillimetres::new(size);
        if !tabulated.contains(&size) || crate::as_laid::too_thin(source, size.get(), cpc) {
            continue;
        }
        let candidate = candidate(&common, source, &case, size, cpc.map(SquareMillimetres::new));
        let holds = candidate.verdict() == Verdict::Holds;
        tried.push(candidate);
        if holds {
            break;
        }
    }
    let first = |verdict| tried.iter().find(|one| one.verdict() == verdict).map(|one| one.size);
    let (chosen, only_if) = (first(Verdict::Holds), first(Verdict::Undecided));
    let design_current = share.filter(|share| share.known).map(|share| share.draw.current);
    Ok(Sizing { chosen, only_if, tried, design_current })
}

fn candidate(
    common: &crate::source::Common,
    source: &Source,
    case: &Case,
    size: SquareMillimetres,
    cpc: Option<SquareMillimetres>,
) -> Candidate {
    let mut case = case.clone();
    case.put(SIZE, Some(Range::point(size)));
    // The neutral goes with the line's size.
    case.put(NEUTRAL_SIZE, None);
    case.put(R1_R2, None);
    case.put(ZS, None);
    if let Some(cpc) = cpc {
        case.put(CPC_SIZE, Some(Range::point(cpc)));
    }
    let mut checks = Vec::new();
    rules::Writer::default().check(common, source, &case, &mut checks);
    as_found::ring_cable(common, source, &case, &mut checks);
    let (open, against) = checks
        .into_iter()
        .filter(|check| {
            (rules::depends_on_size(&check.rule) || check.rule == as_found::RING_CABLE.name)
                && check.verdict != Verdict::Holds
        })
        .map(|mut check| {
            check.inputs.edit(|input| {
                if input.path.ends_with("/size") {
                    input.value = size.to_string().into();
                    input.known = survey::Known::Decided;
                }
                if let Some(cpc) = cpc.filter(|_| input.path.ends_with("/cpc_size")) {
                    input.value = cpc.to_string().into();
                    input.known = survey::Known::Decided;
                }
            });
            check
        })
        .partition(|check: &Check| check.verdict == Verdict::Undecided);
    Candidate { size, cpc, against, open }
}
