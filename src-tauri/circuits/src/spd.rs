//! Surge-protective devices: what opens behind one that failed.

use survey::{Argument, Check, DeviceKind, Message, Range, Subject, say};

use crate::finding::{self, Rule};
use crate::source::Common;
use crate::verdict::Outcome;

/// Key of the rule here, for records without words.
pub(crate) const KEY: &str = "spd-backup";

const BACKUP: Rule = Rule {
    name: KEY,
    clause: say!("spd-backup-clause"),
    symbols: [Message::fixed("Ipf"), say!("supply-symbol-isccr")],
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
        let spd = device.at.map_or(say!("spd-backup-spd"), |at| say!("spd-backup-spd-at", place = at.to_string()));
        let behind = Argument::span(rated.numbers(), "A");
        let inputs = vec![
            finding::input("/supply/upstream", say!("supply-label-upstream"), &supply.upstream),
            finding::input(path.clone(), say!("spd-backup-label"), &device.backed_up),
        ];
        let mut next = vec![finding::next(path, say!("spd-backup-ask"), 1.0)];
        let Some((limit, fault)) = device.backed_up.range().map(Range::numbers).zip(fault) else {
            if fault.is_none() {
                next.push(finding::next("/supply/ipf", say!("supply-ask-ipf"), 0.5));
            }
            let why = say!("spd-backup-alone", spd = spd, behind = behind);
            out.push(BACKUP.open(Subject::Board, why, inputs, next));
            continue;
        };
        let outcome = Outcome { value: fault, limit };
        let more = [("spd", spd.into()), ("behind", behind)];
        out.push(BACKUP.judged_as(Subject::Board, outcome, inputs, next, "spd-backup", more));
    }
}
