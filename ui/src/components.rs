//! Components as the text of their elements, without a browser: what a person reads of a state.

#![cfg(test)]

use std::collections::BTreeMap;
use std::sync::Arc;

use any_spawner::{CustomExecutor, Executor, PinnedFuture, PinnedLocalFuture};
use api::{AboutReply, ConflictValue};
use leptos::prelude::*;
use serde_json::json;
use survey::arrangement::consequences;
use survey::ids::{BoardId, SiteId};
use survey::words::Catalogue;
use survey::{Board, Check, NextReading, Outlet, Subject, Verdict, say};

use crate::parts::board_drawing::BoardDrawing;
use crate::parts::checks::{self, Cautions};
use crate::parts::conflict::Conflicts;
use crate::parts::shell::Messages;
use crate::parts::surveyed::{rows, surveyed};
use crate::route::{Part, Screen};
use crate::sheet::View;
use crate::state::{App, Draft, Message};
use crate::words;

fn id() -> BoardId {
    "00000000-0000-0000-0000-0000000b0a2d".parse().expect("an id")
}

fn site() -> SiteId {
    "00000000-0000-0000-0000-00000000517e".parse().expect("an id")
}

/// A board of which a survey says this.
fn view(survey: serde_json::Value) -> View {
    let mut board = serde_json::to_value(Board::new(id(), site(), "T1")).expect("a board is JSON");
    for (key, value) in survey.as_object().expect("fields of a board") {
        board[key] = value.clone();
    }
    let read: Board = serde_json::from_value(board.clone()).expect("a board");
    let follows = consequences(&read);
    View {
        board,
        site_name: "Test works".to_owned(),
        drawing: survey::drawing::draw(&read, &follows),
        follows,
        plates: vec![],
        checks: vec![],
        readings: vec![],
        currents: api::Currents { lines: vec![], neutral: String::new(), unbalance: String::new() },
        rows: vec![],
        problems: vec![],
        conflicts: vec![],
        undo: None,
        redo: None,
        version: String::new(),
        state: String::new(),
    }
}

/// What happens once elements are on a page does not happen here.
struct Never;

impl CustomExecutor for Never {
    fn spawn(&self, _: PinnedFuture<()>) {}
    fn spawn_local(&self, _: PinnedLocalFuture<()>) {}
    fn poll_local(&self) {}
}

/// What a component becomes, made where the app's state is at hand and the words are there.
fn shown(view: Option<View>, make: impl FnOnce(App) -> AnyView) -> String {
    let catalogue = Catalogue::english();
    words::keep(json!({
        "language": catalogue.name(),
        "decimal": catalogue.decimal(),
        "messages": catalogue.patterns(),
    }));
    // The second test finds it there.
    let _there = Executor::init_custom_executor(Never);
    Owner::new().with(|| {
        let app = App::new(Screen::Board(id(), Part::Supply));
        app.view.set(view.map(Arc::new));
        provide_context(app);
        make(app).to_html()
    })
}

/// Words alone, without the elements around them.
fn words_of(html: &str) -> String {
    let mut words = String::new();
    for piece in html.split('<') {
        if let Some((_, text)) = piece.split_once('>') {
            words.push_str(text);
            words.push(' ');
        }
    }
    words.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn check(verdict: Verdict) -> Check {
    Check {
        rule: "cable-current".into(),
        subject: Subject::Board,
        verdict,
        sentence: "The <cable> carries 21 A.".into(),
        inequality: "In 25 A ≤ Iz 21 A".into(),
        clause: "IEC 60364-4-43, 433.1".into(),
        margin: None,
        inputs: vec![].into(),
        next: vec![NextReading { path: "/supply/ze".into(), what: say!("Supply-ze-ask"), settles: 0.42 }],
        tables: survey::Message::default(),
    }
}

#[test]
fn a_verdict_is_told_by_a_sign_and_a_word_not_by_colour_alone() {
    for (verdict, told) in [
        (Some(Verdict::Fails), "✗ fails"),
        (Some(Verdict::Advised), "~ beyond advice"),
        (Some(Verdict::Undecided), "? undecided"),
        (Some(Verdict::Holds), "✓ holds"),
        (None, "– no checks"),
    ] {
        let html = shown(None, |_| checks::badge(verdict));
        assert_eq!(words_of(&html), told);
        assert!(html.contains("aria-hidden=\"true\""), "the sign is not read out: {html}");
    }
}

#[test]
fn a_check_says_what_to_read_next_and_words_of_others_are_no_elements() {
    let html = shown(None, |_| checks::card(check(Verdict::Undecided), false));
    assert!(html.contains("The &lt;cable&gt; carries 21 A."), "{html}");
    assert!(html.contains("data-next=\"/supply/ze\"") && html.contains("42"), "{html}");
    assert!(
        html.contains("<details>") && words_of(&html).contains("In 25 A ≤ Iz 21 A IEC 60364-4-43, 433.1"),
        "{html}"
    );
    let settled = Check { next: vec![], ..check(Verdict::Holds) };
    assert!(!shown(None, |_| checks::card(settled, false)).contains("data-next"));
}

#[test]
fn two_values_of_one_field_are_both_there_with_who_said_them() {
    let value = |pick: &str, shown: &str, by: &str| ConflictValue {
        pick: pick.to_owned(),
        shown: shown.to_owned(),
        value: json!(shown),
        by: by.to_owned(),
    };
    let both = vec![value("a", "16 A", "Ann Field, surveyor"), value("b", "20 A", "")];
    let path = "/devices/x/rated".to_owned();
    let conflict = api::Conflict { path: path.clone(), label: "rated current".to_owned(), values: both };
    let with = || Some(View { conflicts: vec![conflict.clone()], ..view(json!({})) });
    let html = shown(with(), |_| Conflicts(crate::parts::conflict::ConflictsProps { path: path.clone() }).into_any());
    let told = words_of(&html);
    for part in ["Rated current", "16 A", "20 A", "Ann Field, surveyor"] {
        assert!(told.contains(part), "{part}: {told}");
    }
    assert!(html.contains("data-pick=\"a\"") && html.contains("data-pick=\"b\""), "{html}");
    // At another field it is not shown.
    let other = "/devices/y/rated".to_owned();
    let html = shown(with(), |_| Conflicts(crate::parts::conflict::ConflictsProps { path: other }).into_any());
    assert_eq!(words_of(&html), "");
}

#[test]
fn a_field_shows_what_is_stored_how_it_is_known_and_what_was_refused() {
    let ze = survey::field::at("/supply/ze").expect("the field");
    let field = |survey, draft: Option<Draft>| {
        shown(Some(view(survey)), |app| {
            if let Some(draft) = draft {
                app.drafts.update(|drafts| drop(drafts.insert((id(), "/supply/ze".to_owned()), draft)));
            }
            surveyed(ze, "/supply/ze".to_owned())
        })
    };
    let read = json!({ "supply": { "ze": {
        "known": "measured", "value": "0.35 ohm", "tolerance": "0.02 ohm", "instrument": "loop tester" } } });
    let html = field(read.clone(), None);
    assert!(html.contains("data-known=\"measured\""), "{html}");
    assert!(words_of(&html).contains("With loop tester, ± 0.02 Ω."), "{html}");
    let html = field(json!({}), None);
    assert!(html.contains("data-known=\"unknown\"") && !html.contains("data-unsaved"), "{html}");
    let draft = Draft { text: "999".to_owned(), known: "measured".to_owned(), ..Draft::default() };
    assert!(field(read.clone(), Some(draft.clone())).contains("data-unsaved"));
    let refused = Draft { error: Some("at most 100 Ω".to_owned()), ..draft };
    let html = field(read, Some(refused));
    assert!(words_of(&html).contains("at most 100 Ω") && html.contains("aria-invalid=\"true\""), "{html}");
}

#[test]
fn a_field_that_does_not_apply_is_hidden_unless_something_stands_in_it() {
    // The electrode is for TT alone.
    let supply = |system: &str, electrode: &str| {
        let mut supply = json!({ "system": { "known": "label", "value": system } });
        if !electrode.is_empty() {
            supply["electrode"] = json!({ "known": "measured", "value": electrode, "instrument": "earth tester" });
        }
        json!({ "supply": supply })
    };
    let fields = survey::Supply::FIELDS;
    let section = fields.iter().find(|field| field.name == "electrode").expect("the electrode").section;
    let hidden = |survey| {
        let html = shown(Some(view(survey)), |_| rows("/supply", fields, section));
        let at = html.find("data-surveyed=\"/supply/electrode\"").expect("the electrode's row");
        let row = &html[..at];
        row[row.rfind("<div").map_or(0, |at| row[..at].rfind("<div").unwrap_or(0))..].contains("hidden")
    };
    assert!(!hidden(supply("Tt", "")));
    assert!(hidden(supply("TnS", "")));
    assert!(!hidden(supply("TnS", "40 ohm")));
    assert!(!hidden(json!({})), "nobody knows whether it applies");
}

#[test]
fn the_first_caution_is_not_folded_away() {
    let about = |app: App| {
        let cautions = vec!["Isolate.".to_owned(), "Prove dead.".to_owned()];
        app.about.set(Some(AboutReply {
            version: String::new(),
            role: "surveyor".to_owned(),
            cautions: BTreeMap::from([(Outlet::Drilling.key().to_owned(), cautions)]),
            recovered: None,
            recovered_upto: None,
        }));
    };
    let html = shown(None, |app| {
        about(app);
        view! { <Cautions of=Outlet::Drilling /> }.into_any()
    });
    let (first, rest) = html.split_once("<details>").expect("the rest is folded");
    assert!(first.contains("Isolate.") && rest.contains("Prove dead."), "{html}");
    let html = shown(None, |app| {
        about(app);
        view! { <Cautions of=Outlet::Drilling full=true /> }.into_any()
    });
    assert!(!html.contains("<details>") && html.contains("Prove dead."), "{html}");
}

#[test]
fn bad_news_stays_until_it_is_dismissed_and_is_not_told_as_good() {
    let message = |text: &str| Some(Message { text: text.to_owned(), lines: vec!["why".to_owned()], upto: None });
    let html = shown(None, |app| {
        app.alert.set(message("Not saved."));
        view! { <Messages /> }.into_any()
    });
    assert!(words_of(&html).contains("✗ Not saved. why"), "{html}");
    assert!(!html.contains("✓") && html.contains("data-dismiss"), "{html}");
    let html = shown(None, |app| {
        app.status.set(message("Saved."));
        view! { <Messages /> }.into_any()
    });
    assert!(html.contains("✓") && !html.contains("data-dismiss"), "{html}");
}

#[test]
fn a_board_without_an_enclosure_has_no_drawing_and_one_with_it_shows_each_pole() {
    let html = shown(Some(view(json!({}))), |_| view! { <BoardDrawing /> }.into_any());
    assert!(!html.contains("<svg"), "{html}");
    let patterns = include_str!("../../seed-data/patterns.toml");
    let list = survey::pattern::PatternList::parse(patterns).expect("the shipped patterns");
    let pattern = list.iter().find(|pattern| pattern.key == "three-phase-4").or(list.first()).expect("a pattern");
    let enclosure = json!({ "enclosure": { "known": "label", "value": pattern } });
    let html = shown(Some(view(enclosure)), |_| view! { <BoardDrawing /> }.into_any());
    let poles = pattern.poles().count();
    assert!(poles > 0 && html.matches("data-pole=").count() == poles, "{poles}: {html}");
}
