//! Cautions: which are owed where. One place decides; every outlet asks it.
//!
//! The first of each list is never folded away. Isolate, lock off, prove dead, competent person, local rules: common
//! practice of electrical work, no source; the order of EN 50110-1, 6.2 (from memory).

use crate::message::Message;

/// A caution.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Caution {
    /// Before any work on a board.
    Work,
    /// What a result is.
    Aid,
    /// What is not known is not measured.
    NotAReading,
    /// Readings taken live, and of cores.
    Readings,
    /// The plate comes off first.
    PlateOff,
    /// What is behind the plate.
    Behind,
    /// A print is measured before it is used.
    PrintScale,
    /// At the drill.
    Drill,
    /// After the drill.
    Swarf,
    /// The plate is earthed again.
    PlateEarth,
    /// A marker sheet on a plate.
    MarkerLevel,
    /// What was measured on a photo.
    Photo,
    /// What is bought.
    Buy,
}

impl Caution {
    /// All of them.
    pub const ALL: &'static [Self] = &[
        Self::Work,
        Self::Aid,
        Self::NotAReading,
        Self::Readings,
        Self::PlateOff,
        Self::Behind,
        Self::PrintScale,
        Self::Drill,
        Self::Swarf,
        Self::PlateEarth,
        Self::MarkerLevel,
        Self::Photo,
        Self::Buy,
    ];

    /// What it says.
    #[must_use]
    pub const fn message(self) -> Message {
        Message::bare(match self {
            Self::Work => "caution-work",
            Self::Aid => "caution-aid",
            Self::NotAReading => "caution-not-a-reading",
            Self::Readings => "caution-readings",
            Self::PlateOff => "caution-plate-off",
            Self::Behind => "caution-behind",
            Self::PrintScale => "caution-print-scale",
            Self::Drill => "caution-drill",
            Self::Swarf => "caution-swarf",
            Self::PlateEarth => "caution-plate-earth",
            Self::MarkerLevel => "caution-marker-level",
            Self::Photo => "caution-photo",
            Self::Buy => "caution-buy",
        })
    }
}

/// Where something is shown, printed or handed out that a person may act on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Outlet {
    /// The picture of a board, one circuit, the supply: screens with verdicts.
    Board,
    /// The list of findings: on the screen, on the command line.
    Findings,
    /// A gland plate and where its entries go.
    Plate,
    /// Photos and what is measured on them.
    Photos,
    /// What is weighed before it is done: what would change, sizes, balance, fault currents.
    Weighed,
    /// The list of papers.
    Papers,
    /// What the program is.
    About,
    /// The circuit chart.
    CircuitChart,
    /// The paper of findings.
    FindingsPaper,
    /// Drilling templates and drawings of a plate.
    Drilling,
    /// The marker sheet.
    MarkerSheet,
    /// The order list.
    OrderList,
    /// The schedule of circuits.
    Schedule,
}

impl Outlet {
    /// All of them.
    pub const ALL: &'static [Self] = &[
        Self::Board,
        Self::Findings,
        Self::Plate,
        Self::Photos,
        Self::Weighed,
        Self::Papers,
        Self::About,
        Self::CircuitChart,
        Self::FindingsPaper,
        Self::Drilling,
        Self::MarkerSheet,
        Self::OrderList,
        Self::Schedule,
    ];

    /// How it is called where it is asked for.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Board => "board",
            Self::Findings => "findings",
            Self::Plate => "plate",
            Self::Photos => "photos",
            Self::Weighed => "weighed",
            Self::Papers => "papers",
            Self::About => "about",
            Self::CircuitChart => "circuit_chart",
            Self::FindingsPaper => "findings_paper",
            Self::Drilling => "drilling",
            Self::MarkerSheet => "marker_sheet",
            Self::OrderList => "order_list",
            Self::Schedule => "schedule",
        }
    }

    /// The cautions owed there, the first to be seen at once.
    #[must_use]
    pub const fn owed(self) -> &'static [Caution] {
        use Caution::{
            Aid, Behind, Buy, Drill, MarkerLevel, NotAReading, Photo, PlateEarth, PlateOff, PrintScale, Readings,
            Swarf, Work,
        };
        match self {
            Self::Board | Self::Findings => &[Work, Readings, Aid, NotAReading],
            Self::Plate => &[Work, PlateOff, Behind, Aid, NotAReading],
            Self::Photos => &[Work, Photo],
            Self::Weighed | Self::Papers => &[Work, Aid, NotAReading],
            Self::About => &[Work, Aid, NotAReading, Readings, PlateOff, Photo],
            Self::CircuitChart => &[Work, Aid],
            Self::FindingsPaper => &[Work, Readings, Aid],
            Self::Drilling => &[Work, PlateOff, Behind, PrintScale, Drill, Swarf, PlateEarth],
            Self::MarkerSheet => &[Work, PrintScale, MarkerLevel],
            Self::OrderList => &[Work, Buy],
            Self::Schedule => &[Work, Aid],
        }
    }
}

#[cfg(all(test, feature = "words"))]
mod tests {
    use super::*;

    #[test]
    fn every_outlet_begins_with_the_work_itself() {
        for outlet in Outlet::ALL {
            let first = outlet.owed()[0].message().to_string().to_lowercase();
            for word in ["isolate", "lock off", "prove dead", "competent person", "local rules"] {
                assert!(first.contains(word), "{outlet:?} lacks {word:?}: {first}");
            }
        }
    }

    #[test]
    fn each_caution_is_owed_somewhere() {
        for caution in Caution::ALL {
            assert!(Outlet::ALL.iter().any(|outlet| outlet.owed().contains(caution)), "{caution:?}");
        }
        let drilled: Vec<_> = Outlet::ALL.iter().filter(|outlet| outlet.owed().contains(&Caution::PlateOff)).collect();
        assert!(drilled.contains(&&Outlet::Plate) && drilled.contains(&&Outlet::Drilling));
    }
}
