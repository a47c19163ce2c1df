//! The smallest cable that meets every rule, and why each smaller one does not.

use survey::{Amps, Board, Check, CircuitId, CpcForm, Range, SquareMillimetres, Verdict};

use crate::energy::by_line_size;
use crate::field::{CPC_SIZE, Field, NEUTRAL_SIZE, R1_R2, SIZE, ZS};
use crate::rules;
use crate::source::Source;
use crate::tables::Tables;
use crate::{case::Case, gather};

/// One size that was tried.
#[derive(Clone, Debug, PartialEq)]
pub struct Candidate {
    /// Size of the line conductor.
    pub size: SquareMillimetres,
    /// Size of the protective conductor taken with it, where it is a conductor: IEC 60364-5-54 table 54.2.
    pub cpc: Option<SquareMillimetres>,
    /// Checks that depend on the size and do not hold; empty: the size will do.
    pub against: Vec<Check>,
    /// Checks of let-through energy that the device's own data must settle; they do not refuse the size.
    pub open: Vec<Check>,
}

/// Sizes tried, smallest first, up to the first that will do.
#[derive(Clone, Debug, PartialEq)]
pub struct Sizing {
    /// The smallest size that meets every rule, if any does.
    pub chosen: Option<SquareMillimetres>,
    /// All sizes tried; the last one is the chosen one.
    pub tried: Vec<Candidate>,
    /// Design current the sizes were judged by, where the load is known.
    pub design_current: Option<Range<Amps>>,
}

/// Why sizes cannot be tried.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum SizingError {
    /// The circuit is not on the board.
    #[error("/circuits/{0}: no such circuit")]
    NoCircuit(CircuitId),
    /// The circuit has no cable yet.
    #[error("/circuits/{0}/cable: enter how the cable is to run first, its size may stay open")]
    NoCable(CircuitId),
    /// Material, insulation, method or poles are not settled.
    #[error("{path}: {ask} first")]
    Open {
        /// Path of the field.
        path: String,
        /// What would settle it.
        ask: &'static str,
    },
}

/// Tries every tabulated size for a circuit's cable as it is to run.
///
/// A size will do where every check that depends on it holds; an undecided check counts against
/// it, so the answer is safe for all that is not known yet. Readings taken on the cable that is
/// there today are left out. A protective core or separate conductor goes with the line's size.
///
/// # Errors
/// Where the cable's material, insulation, method or the device's poles are not known.
pub fn size_cable(board: &Board, circuit: CircuitId, tables: &Tables) -> Result<Sizing, SizingError> {
    let (common, circuits) = gather(board, tables);
    let (source, share) =
        circuits.iter().find(|(source, _)| source.id == circuit).ok_or(SizingError::NoCircuit(circuit))?;
    if source.cable.is_none() {
        return Err(SizingError::NoCable(circuit));
    }
    let case = common.case(source);
    let open = |field: Field| SizingError::Open { path: common.path(source, field), ask: field.about().ask };
    let feed = case.feed.clone().map_err(|_| open(if case.has_device { Field::Poles } else { Field::Device }))?;
    let ([material], [insulation], [method]) = (case.materials, case.insulations, case.methods) else {
        let field = match (case.materials.len(), case.insulations.len()) {
            (1, 1) => Field::Method,
            (1, _) => Field::Insulation,
            _ => Field::Material,
        };
        return Err(open(field));
    };
    let mut tried = Vec::new();
    let mut chosen = None;
    for size in tables.sizes(*material, *insulation, feed.loaded(), *method) {
        let candidate = candidate(&common, source, &case, size);
        let will_do = candidate.against.is_empty();
        tried.push(candidate);
        if will_do {
            chosen = Some(size);
            break;
        }
    }
    let design_current = share.filter(|share| share.known).map(|share| share.draw.current);
    Ok(Sizing { chosen, tried, design_current })
}

fn candidate(common: &crate::source::Common, source: &Source, case: &Case, size: SquareMillimetres) -> Candidate {
    let mut case = case.clone();
    case.put(SIZE, Some(Range::point(size)));
    // The neutral goes with the line's size.
    case.put(NEUTRAL_SIZE, None);
    case.put(R1_R2, None);
    case.put(ZS, None);
    let cpc = matches!(case.cpc, Some(CpcForm::Core | CpcForm::Separate))
        .then(|| SquareMillimetres::new(by_line_size(size.get())));
    if let Some(cpc) = cpc {
        case.put(CPC_SIZE, Some(Range::point(cpc)));
    }
    let mut checks = Vec::new();
    rules::Writer::default().check(common, source, &case, &mut checks);
    let (open, against) = checks
        .into_iter()
        .filter(|check| rules::depends_on_size(&check.rule) && check.verdict != Verdict::Holds)
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
        .partition(|check: &Check| rules::on_device_data(check));
    Candidate { size, cpc, against, open }
}
