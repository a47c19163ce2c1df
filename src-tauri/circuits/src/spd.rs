//! Surge-protective devices: what opens behind one that failed.

use survey::{Message, Check, DeviceKind, Range, Subject, Verdict};

use crate::finding::{self, Rule};
use crate::shown;
use crate::source::Common;
use crate::verdict::Outcome;

/// Key of the rule here, for records without words.
pub(crate) const KEY: &str = "spd-backup";

const BACKUP: Rule = Rule {
    name: KEY,
    clause: Message::fixed("IEC 60364-5-53, 534.4.5 (from memory): an SPD that fails short is cut off by the overcurrent device that its \
             maker names, up to the fault current here (ISCCR)"),
    symbols: [Message::fixed("Ipf"), Message::fixed("ISCCR with the device upstream")],
    unit: "kA",
    scale: 1000.0,
    advice: false,
};

/// Rating in A up to which the makers of SPDs for boards mostly ask for no device but the one upstream: common practice,
/// no source.
const MOSTLY_ENOUGH: f64 = 125.0;

/// SPDs straight on the busbars, behind a device upstream larger than most of them are made for.
pub(crate) fn check(common: &Common, out: &mut Vec<Check>) {
    let board = common.board;
    let supply = &board.supply;
    let upstream = supply.upstream_kind.get().is_some_and(|kind| kind.opens_on_overcurrent());
    let Some(rated) = supply.upstream.range().filter(|rated| upstream && rated.lo().get() > MOSTLY_ENOUGH) else {
        return;
    };
    let fault = common.level.at_board(board).prospective().map(|extent| extent.largest.numbers());
    for (id, device) in board.live_devices().filter(|(_, device)| device.kind == Some(DeviceKind::Spd)) {
        let path = format!("/devices/{id}/backed_up");
        let place = device.at.map(|at| format!(" at {at}")).unwrap_or_default();
        let behind = shown::span(rated.numbers(), "A");
        let inputs = vec![
            finding::input("/supply/upstream", "rated current of the upstream device", &supply.upstream),
            finding::input(
                path.clone(),
                "fault current up to which the device upstream backs it up",
                &device.backed_up,
            ),
        ];
        let ask = "read in the SPD's data which device may stand before it at most, and up to which fault current (ISCCR); \
                   behind a larger one it needs a fuse or breaker of its own";
        let mut next = vec![finding::next(path, ask, 1.0)];
        let Some((limit, fault)) = device.backed_up.range().map(Range::numbers).zip(fault) else {
            if fault.is_none() {
                next.push(finding::next("/supply/ipf", "measure the prospective fault current at the board", 0.5));
            }
            let why =
                format!("the SPD{place} stands behind {behind} with no device of its own, more than most are made for");
            out.push(BACKUP.open(Subject::Board, why, inputs, next));
            continue;
        };
        let outcome = Outcome { value: fault, limit };
        out.push(BACKUP.judged_in_words(Subject::Board, outcome, inputs, next, |verdict, value, limit| match verdict {
            Verdict::Holds => format!(
                "A fault at the board draws {value}; behind {behind} the SPD{place} is cut off safely up to {limit}."
            ),
            Verdict::Fails | Verdict::Advised => format!(
                "A fault at the board draws {value}; behind {behind} the SPD{place} is cut off safely only up to {limit}: put \
                 the fuse or breaker that its maker names before it."
            ),
            Verdict::Undecided => format!(
                "A fault at the board draws {value}; behind {behind} the SPD{place} is cut off safely up to {limit}: undecided."
            ),
        }));
    }
}
