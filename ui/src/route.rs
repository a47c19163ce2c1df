//! Which screen is shown; kept in the address after `#`, so back and forward work.

use survey::ids::{BoardId, CircuitId, PlateId};

/// A screen.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Screen {
    /// Sites and boards.
    #[default]
    Boards,
    /// Role, theme, patterns.
    Settings,
    /// A part of one board.
    Board(BoardId, Part),
}

/// What is shown of a board.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Part {
    /// The drawing.
    #[default]
    Drawing,
    /// Name, enclosure, supply and incomer.
    Supply,
    /// A new circuit from this pole on.
    Add(String),
    /// One circuit.
    Circuit(CircuitId),
    /// Checks, doubts, conflicts.
    Findings,
    /// The plates, or one of them.
    Plate(Option<PlateId>),
    /// Papers.
    Papers,
    /// Photos.
    Photos,
    /// Notes.
    Notes,
}

impl Screen {
    /// Reads the part of an address after `#`; anything unknown is the list of boards.
    pub fn parse(hash: &str) -> Self {
        let mut parts = hash.trim_start_matches('#').split('/').filter(|part| !part.is_empty());
        match parts.next() {
            Some("settings") => Self::Settings,
            Some("board") => {
                let Some(board) = parts.next().and_then(|id| id.parse().ok()) else { return Self::Boards };
                let (name, argument) = (parts.next(), parts.next());
                let part = match name {
                    Some("supply") => Part::Supply,
                    Some("add") => Part::Add(argument.unwrap_or_default().to_owned()),
                    Some("circuit") => argument.and_then(|id| id.parse().ok()).map_or(Part::Drawing, Part::Circuit),
                    Some("findings") => Part::Findings,
                    Some("plate") => Part::Plate(argument.and_then(|id| id.parse().ok())),
                    Some("papers") => Part::Papers,
                    Some("photos") => Part::Photos,
                    Some("notes") => Part::Notes,
                    _ => Part::Drawing,
                };
                Self::Board(board, part)
            }
            _ => Self::Boards,
        }
    }

    /// The address, `#` included.
    pub fn href(&self) -> String {
        match self {
            Self::Boards => "#/".to_owned(),
            Self::Settings => "#/settings".to_owned(),
            Self::Board(board, part) => {
                let tail = match part {
                    Part::Drawing => String::new(),
                    Part::Supply => "/supply".to_owned(),
                    Part::Add(pole) => format!("/add/{pole}"),
                    Part::Circuit(id) => format!("/circuit/{id}"),
                    Part::Findings => "/findings".to_owned(),
                    Part::Plate(None) => "/plate".to_owned(),
                    Part::Plate(Some(id)) => format!("/plate/{id}"),
                    Part::Papers => "/papers".to_owned(),
                    Part::Photos => "/photos".to_owned(),
                    Part::Notes => "/notes".to_owned(),
                };
                format!("#/board/{board}{tail}")
            }
        }
    }

    /// Short name, for `data-screen`.
    pub fn name(&self) -> &'static str {
        match self {
            Self::Boards => "boards",
            Self::Settings => "settings",
            Self::Board(_, part) => match part {
                Part::Drawing => "board",
                Part::Supply => "supply",
                Part::Add(_) => "add",
                Part::Circuit(_) => "circuit",
                Part::Findings => "findings",
                Part::Plate(_) => "plate",
                Part::Papers => "papers",
                Part::Photos => "photos",
                Part::Notes => "notes",
            },
        }
    }

    /// The board it belongs to.
    pub fn board(&self) -> Option<BoardId> {
        match self {
            Self::Board(board, _) => Some(*board),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_screen_is_found_again_by_its_address() {
        let board: BoardId = "01900000-0000-7000-8000-000000000001".parse().unwrap();
        let circuit: CircuitId = "01900000-0000-7000-8000-000000000002".parse().unwrap();
        let plate: PlateId = "01900000-0000-7000-8000-000000000003".parse().unwrap();
        let parts = [
            Part::Drawing,
            Part::Supply,
            Part::Add("3L2".into()),
            Part::Circuit(circuit),
            Part::Findings,
            Part::Plate(None),
            Part::Plate(Some(plate)),
            Part::Papers,
            Part::Photos,
            Part::Notes,
        ];
        let screens = parts.into_iter().map(|part| Screen::Board(board, part));
        for screen in screens.chain([Screen::Boards, Screen::Settings]) {
            assert_eq!(Screen::parse(&screen.href()), screen);
        }
    }

    #[test]
    fn an_unknown_address_is_the_list_of_boards() {
        for bad in ["", "#", "#/nothing", "#/board/x", "#/board"] {
            assert_eq!(Screen::parse(bad), Screen::Boards, "{bad}");
        }
    }
}
