//! What follows from the incomer arrangement and the supply: the one place for these rules.

use std::collections::BTreeMap;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::board::{Arrangement, Board, ConductorColours, DeviceKind, Poles, SupplyPhases};
use crate::message::Message;
use crate::pattern::{Pattern, Phases};
use crate::pole::{Phase, PoleAt};
use crate::problem::Problem;
use crate::say;
use crate::terminal;

/// What a pole carries.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
pub enum Conductor {
    /// The one line of a single-phase supply.
    L,
    /// Line 1.
    L1,
    /// Line 2.
    L2,
    /// Line 3.
    L3,
}

impl Conductor {
    /// The mark on the conductor, IEC 60445.
    #[must_use]
    pub const fn mark(self) -> &'static str {
        match self {
            Self::L => "L",
            Self::L1 => "L1",
            Self::L2 => "L2",
            Self::L3 => "L3",
        }
    }
}

/// How the incoming neutral reaches the neutral bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum NeutralRoute {
    /// Straight to the neutral bar's own incoming terminal: it is not switched.
    Direct,
    /// Through the incomer's neutral pole.
    ThroughIncomer,
    /// The arrangement is not known.
    Unknown,
}

/// What to do with the neutral bar's own incoming terminal.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum DirectNeutralTerminal {
    /// It carries the incoming neutral.
    CarriesIncoming,
    /// It stays empty: a neutral landed here would bypass the incomer.
    LeaveEmpty,
    /// The enclosure has none.
    None,
    /// The arrangement is not known.
    Unknown,
}

/// A warning or information label owed on the board.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Label {
    /// Short key.
    pub key: String,
    /// Words to put on it.
    pub text: Message,
    /// Where it goes.
    pub place: Message,
    /// Why it is owed and where that stands.
    pub source: Message,
}

/// Everything that follows from arrangement, supply and enclosure.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Consequences {
    /// Phases of the supply, as given or as the arrangement implies.
    pub supply: Option<SupplyPhases>,
    /// The incomer arrangement, if known.
    pub arrangement: Option<Arrangement>,
    /// What each pole carries; a pole that is not live is not listed.
    pub live: Vec<(PoleAt, Conductor)>,
    /// The three busbars must be joined by a phase link.
    pub phase_link: bool,
    /// How the incoming neutral runs.
    pub neutral: NeutralRoute,
    /// What to do with the direct neutral terminal.
    pub direct_neutral_terminal: DirectNeutralTerminal,
    /// Marks of the incoming conductors, each with the terminal that takes it.
    pub incoming: Vec<(String, Message)>,
    /// Modules of the incomer's space that need blanks.
    pub incomer_blanks: u8,
    /// Poles with no device: each needs a blank.
    pub blanks: Vec<PoleAt>,
    /// Labels owed.
    pub labels: Vec<Label>,
    /// What does not go together.
    pub problems: Vec<Problem>,
}

impl Consequences {
    /// What a pole carries; `None` where it is not live or not known.
    #[must_use]
    pub fn conductor(&self, pole: PoleAt) -> Option<Conductor> {
        self.live.iter().find(|(at, _)| *at == pole).map(|(_, conductor)| *conductor)
    }

    /// The same as a map, for many look-ups.
    #[must_use]
    pub fn conductors(&self) -> BTreeMap<PoleAt, Conductor> {
        self.live.iter().copied().collect()
    }
}

/// Poles of an incomer arrangement, the neutral among them; `None` for lugs.
#[must_use]
pub const fn incomer_poles(arrangement: Arrangement) -> u8 {
    match arrangement {
        Arrangement::ThreePole => 3,
        Arrangement::FourPole | Arrangement::FourPoleRcd => 4,
        Arrangement::TwoPole | Arrangement::TwoPoleRcd => 2,
        Arrangement::Lugs => 0,
    }
}

/// Derives everything from the board as it stands.
#[must_use]
pub fn consequences(board: &Board) -> Consequences {
    let arrangement = board.incomer.arrangement.get().copied();
    let pattern = board.enclosure.get();
    let implied = match arrangement {
        Some(Arrangement::TwoPole | Arrangement::TwoPoleRcd) => Some(SupplyPhases::Single),
        Some(Arrangement::ThreePole | Arrangement::FourPole | Arrangement::FourPoleRcd) => Some(SupplyPhases::Three),
        Some(Arrangement::Lugs) | None => pattern.map(|pattern| match pattern.phases {
            Phases::Single => SupplyPhases::Single,
            Phases::Three => SupplyPhases::Three,
        }),
    };
    let supply = board.supply.phases.get().copied().or(implied);
    let phase_link =
        pattern.is_some_and(|pattern| pattern.phases == Phases::Three) && supply == Some(SupplyPhases::Single);
    let neutral = match arrangement {
        Some(Arrangement::ThreePole | Arrangement::Lugs) => NeutralRoute::Direct,
        Some(_) => NeutralRoute::ThroughIncomer,
        None => NeutralRoute::Unknown,
    };
    let direct_neutral_terminal = match (pattern.map(|pattern| pattern.direct_neutral_terminal), neutral) {
        (Some(false), _) => DirectNeutralTerminal::None,
        (_, NeutralRoute::Direct) => DirectNeutralTerminal::CarriesIncoming,
        (Some(true), NeutralRoute::ThroughIncomer) => DirectNeutralTerminal::LeaveEmpty,
        _ => DirectNeutralTerminal::Unknown,
    };
    let live = pattern.map(|pattern| live_poles(pattern, supply)).unwrap_or_default();
    let incomer_blanks = match (pattern, arrangement) {
        (Some(pattern), Some(arrangement)) => pattern.incomer_modules.saturating_sub(incomer_poles(arrangement)),
        _ => 0,
    };
    let blanks = pattern
        .map(|pattern| {
            let taken = terminal::occupancy(board, pattern).poles;
            pattern.poles().filter(|pole| !taken.contains_key(pole)).collect()
        })
        .unwrap_or_default();
    Consequences {
        supply,
        arrangement,
        live,
        phase_link,
        neutral,
        direct_neutral_terminal,
        incoming: incoming(arrangement, supply),
        incomer_blanks,
        blanks,
        labels: labels(board, arrangement, supply, phase_link),
        problems: problems(board, pattern, arrangement, supply, phase_link),
    }
}

fn live_poles(pattern: &Pattern, supply: Option<SupplyPhases>) -> Vec<(PoleAt, Conductor)> {
    let carries = |pole: PoleAt| match (supply, pole.phase) {
        (None, _) => None,
        (Some(SupplyPhases::Single), _) => Some(Conductor::L),
        // A single-phase enclosure on one line of a three-phase supply.
        (Some(SupplyPhases::Three), None) => Some(Conductor::L),
        (Some(SupplyPhases::Three), Some(phase)) => Some(match phase {
            Phase::L1 => Conductor::L1,
            Phase::L2 => Conductor::L2,
            Phase::L3 => Conductor::L3,
        }),
    };
    pattern.poles().filter_map(|pole| carries(pole).map(|conductor| (pole, conductor))).collect()
}

fn incoming(arrangement: Option<Arrangement>, supply: Option<SupplyPhases>) -> Vec<(String, Message)> {
    let pole = |conductor: &'static str| (conductor.to_owned(), say!("terminal-incomer-pole", conductor = conductor));
    let lug = |conductor: &'static str| (conductor.to_owned(), say!("terminal-busbar-lug", conductor = conductor));
    let direct = || ("N".to_owned(), say!("terminal-neutral-direct"));
    let lines = ["L1", "L2", "L3"];
    let mut ends: Vec<(String, Message)> = match (arrangement, supply) {
        (None, _) => return Vec::new(),
        (Some(Arrangement::ThreePole), _) => lines.map(pole).into_iter().chain([direct()]).collect(),
        (Some(Arrangement::FourPole | Arrangement::FourPoleRcd), _) => {
            lines.into_iter().chain(["N"]).map(pole).collect()
        }
        (Some(Arrangement::TwoPole | Arrangement::TwoPoleRcd), _) => ["L", "N"].map(pole).to_vec(),
        (Some(Arrangement::Lugs), Some(SupplyPhases::Single)) => {
            vec![("L".to_owned(), say!("terminal-busbar-lug-only")), direct()]
        }
        (Some(Arrangement::Lugs), _) => lines.map(lug).into_iter().chain([direct()]).collect(),
    };
    ends.push(("PE".to_owned(), say!("terminal-earth-main")));
    ends
}

/// Nominal voltage to earth above which a notice is owed, V: BS 7671 514.10.1, from memory. A nominal 240 V as
/// measured is still 230 V.
const NOTICE_ABOVE: f64 = 253.0;

/// Line to line over line to earth.
const ROOT_3: f64 = 1.732_050_807_568_877_2;

fn labels(
    board: &Board,
    arrangement: Option<Arrangement>,
    supply: Option<SupplyPhases>,
    phase_link: bool,
) -> Vec<Label> {
    let mut labels = Vec::new();
    let mut owe = |key: &str, text: Message, place: Message, source: Message| {
        labels.push(Label { key: key.to_owned(), text, place, source });
    };
    owe("chart", say!("label-chart"), say!("label-chart-place"), say!("label-chart-source"));
    owe("inspection", say!("label-inspection"), say!("label-on-board"), say!("label-inspection-source"));
    let has = |kinds: &[DeviceKind]| {
        board.live_devices().any(|(_, device)| device.kind.is_some_and(|kind| kinds.contains(&kind)))
    };
    let incomer_rcd = matches!(arrangement, Some(Arrangement::FourPoleRcd | Arrangement::TwoPoleRcd));
    if incomer_rcd || has(&[DeviceKind::Rcbo, DeviceKind::Rcd]) {
        owe("rcd-test", say!("label-rcd-test"), say!("label-rcd-test-place"), say!("label-rcd-test-source"));
    }
    // Owed where the nominal voltage to earth is above 230 V; 230/400 V is not.
    if let Some(voltage) = board.supply.voltage.range().map(|voltage| voltage.hi().get())
        && voltage > NOTICE_ABOVE
    {
        let text = match supply {
            // To the volt: that is how such a notice is lettered.
            Some(SupplyPhases::Three) => say!("label-voltage-between", voltage = ((voltage * ROOT_3).round(), "V")),
            _ => say!("label-voltage"),
        };
        owe("voltage", text, say!("label-voltage-place"), say!("label-voltage-source"));
    }
    if board.live_circuits().any(|(_, circuit)| circuit.high_protective_current) {
        owe(
            "protective-current",
            say!("label-protective-current"),
            say!("label-protective-current-place"),
            say!("label-protective-current-source"),
        );
    }
    if arrangement == Some(Arrangement::ThreePole) {
        owe("solid-neutral", say!("label-solid-neutral"), say!("label-at-incomer"), say!("label-common-practice"));
    }
    if phase_link {
        owe("phase-link", say!("label-phase-link"), say!("label-phase-link-place"), say!("label-common-practice"));
    }
    if arrangement == Some(Arrangement::Lugs) {
        let from = if board.supply.fed_from.is_empty() { "…" } else { &board.supply.fed_from };
        owe(
            "isolate-elsewhere",
            say!("label-isolate-elsewhere", from = from.to_owned()),
            say!("label-on-cover"),
            say!("label-isolate-elsewhere-source"),
        );
    }
    if board.supply.colours.get() == Some(&ConductorColours::Mixed) {
        owe("two-colours", say!("label-two-colours"), say!("label-on-board"), say!("label-two-colours-source"));
    }
    if has(&[DeviceKind::Spd]) {
        owe("surge", say!("label-surge"), say!("label-on-chart"), say!("label-surge-source"));
    }
    labels
}

fn problems(
    board: &Board,
    pattern: Option<&Pattern>,
    arrangement: Option<Arrangement>,
    supply: Option<SupplyPhases>,
    phase_link: bool,
) -> Vec<Problem> {
    let mut problems = Vec::new();
    let at = "/incomer/arrangement";
    if let (Some(arrangement), Some(supply)) = (arrangement, board.supply.phases.get().copied()) {
        let fits = match arrangement {
            Arrangement::TwoPole | Arrangement::TwoPoleRcd => supply == SupplyPhases::Single,
            Arrangement::ThreePole | Arrangement::FourPole | Arrangement::FourPoleRcd => supply == SupplyPhases::Three,
            Arrangement::Lugs => true,
        };
        if !fits {
            problems.push(Problem::doubt(
                at,
                arrangement.words(),
                say!("problem-incomer-supply", incomer = arrangement.words(), supply = supply.words()),
                say!("remedy-incomer-supply"),
            ));
        }
    }
    if let (Some(pattern), Some(arrangement)) = (pattern, arrangement) {
        if pattern.incomer_modules < incomer_poles(arrangement) {
            problems.push(Problem::doubt(
                at,
                arrangement.words(),
                say!("problem-incomer-room", poles = u32::from(pattern.incomer_modules)),
                say!("remedy-incomer-room"),
            ));
        }
        if pattern.phases == Phases::Single && supply == Some(SupplyPhases::Three) {
            problems.push(Problem::doubt(
                "/supply/phases",
                SupplyPhases::Three.words(),
                say!("problem-one-line"),
                say!("remedy-one-line"),
            ));
        }
    }
    if phase_link {
        for (id, device) in board.live_devices() {
            if matches!(device.poles, Some(Poles::P2 | Poles::P3 | Poles::P3N)) {
                problems.push(Problem::doubt(
                    format!("/devices/{id}/poles"),
                    device.poles.map(|poles| poles.words().to_string()).unwrap_or_default(),
                    say!("problem-linked"),
                    say!("remedy-linked"),
                ));
            }
        }
    }
    problems
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::known::{Fact, Known, Provenance};
    use crate::validate::tests::board_with;

    fn decided<T>(value: T) -> Fact<T> {
        Fact::of(value, Provenance::new(Known::Decided))
    }

    /// BS 7671 514.10.1 and 543.7.1.205: above 230 V to earth; more than 10 mA in a protective conductor.
    #[test]
    fn notices_owed_by_voltage_and_protective_current() {
        let mut board = board_with("three-phase-8");
        board.supply.phases = decided(SupplyPhases::Three);
        let has = |board: &Board, key| consequences(board).labels.iter().any(|label| label.key == key);
        board.supply.voltage =
            crate::known::Reading::of(crate::units::Volts::new(230.0), Provenance::new(Known::Label));
        assert!(!has(&board, "voltage") && !has(&board, "protective-current"));
        board.supply.voltage =
            crate::known::Reading::of(crate::units::Volts::new(400.0), Provenance::new(Known::Label));
        assert!(has(&board, "voltage"));
        let text = consequences(&board).labels.into_iter().find(|label| label.key == "voltage").unwrap().text;
        assert!(text.contains("693\u{a0}V"), "{text}");
        let circuit = crate::board::Circuit { high_protective_current: true, ..Default::default() };
        board.circuits.insert(crate::ids::CircuitId(uuid::Uuid::from_u128(5)), circuit);
        assert!(has(&board, "protective-current"));
    }

    #[test]
    fn every_arrangement_settles_neutral_link_blanks_and_labels() {
        use Arrangement as A;
        use DirectNeutralTerminal as D;
        use NeutralRoute as N;
        for (arrangement, supply, neutral, direct, link, blanks, owed, not_owed) in [
            (A::ThreePole, SupplyPhases::Three, N::Direct, D::CarriesIncoming, false, 1, "solid-neutral", "rcd-test"),
            (A::FourPole, SupplyPhases::Three, N::ThroughIncomer, D::LeaveEmpty, false, 0, "chart", "solid-neutral"),
            (A::FourPoleRcd, SupplyPhases::Three, N::ThroughIncomer, D::LeaveEmpty, false, 0, "rcd-test", "phase-link"),
            (A::TwoPole, SupplyPhases::Single, N::ThroughIncomer, D::LeaveEmpty, true, 2, "phase-link", "voltage"),
            (A::TwoPoleRcd, SupplyPhases::Single, N::ThroughIncomer, D::LeaveEmpty, true, 2, "rcd-test", "voltage"),
            (
                A::Lugs,
                SupplyPhases::Three,
                N::Direct,
                D::CarriesIncoming,
                false,
                4,
                "isolate-elsewhere",
                "solid-neutral",
            ),
        ] {
            let mut board = board_with("three-phase-8");
            board.incomer.arrangement = decided(arrangement);
            board.supply.phases = decided(supply);
            let found = consequences(&board);
            assert_eq!((found.neutral, found.direct_neutral_terminal), (neutral, direct), "{arrangement:?}");
            assert_eq!((found.phase_link, found.incomer_blanks), (link, blanks), "{arrangement:?}");
            let has = |key| found.labels.iter().any(|label| label.key == key);
            assert!(has(owed) && !has(not_owed), "{arrangement:?}: {:?}", found.labels);
            assert_eq!(found.problems, vec![], "{arrangement:?}");
            let conductors = found.conductors();
            let second: PoleAt = "3L2".parse().unwrap();
            assert_eq!(conductors[&second], if link { Conductor::L } else { Conductor::L2 });
            assert_eq!(found.blanks.len(), 24);
        }
    }

    #[test]
    fn a_two_pole_incomer_on_three_phases_is_a_doubt() {
        let mut board = board_with("three-phase-8");
        board.incomer.arrangement = decided(Arrangement::TwoPole);
        board.supply.phases = decided(SupplyPhases::Three);
        assert_eq!(consequences(&board).problems.len(), 1);
    }
}
