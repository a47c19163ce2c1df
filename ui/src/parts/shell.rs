//! Frame around every screen: title, undo, navigation, messages.

use leptos::prelude::*;

use crate::call::pending;
use crate::route::{Part, Screen};
use crate::sheet;
use crate::state::{App, Message, app, sign};
use crate::words::{t, tr};

/// A line drawing of 24 by 24; the words beside it say what it means.
fn icon(path: &'static str) -> AnyView {
    view! {
        <svg class="icon" viewBox="0 0 24 24" aria-hidden="true">
            <path d=path></path>
        </svg>
    }
    .into_any()
}

const MENU: &str = "M4 6h16M4 12h16M4 18h16";
const COG: &str = "M12 9a3 3 0 1 0 0 6a3 3 0 1 0 0-6M12 3v3M12 18v3M3 12h3M18 12h3M5.6 5.6l2.2 2.2M16.2 16.2l2.2 2.2M5.6 18.4l2.2-2.2M16.2 7.8l2.2-2.2";
const UNDO: &str = "M9 5L4 10l5 5M4 10h10a6 5 0 0 1 0 10h-3";
const REDO: &str = "M15 5l5 5l-5 5M20 10h-10a6 5 0 0 0 0 10h3";
const BOARD: &str = "M5 3h14v18h-14zM9 6h6M8 11h3M13 11h3M8 14h3M13 14h3M8 17h3M13 17h3";
const LIST: &str = "M4 6l1.5 1.5L8 5M4 12l1.5 1.5L8 11M4 18l1.5 1.5L8 17M11 6h9M11 12h9M11 18h9";
const PLATE: &str =
    "M3 6h18v12h-18zM8 9.5a2.5 2.5 0 1 0 0 5a2.5 2.5 0 1 0 0-5M16 9.5a2.5 2.5 0 1 0 0 5a2.5 2.5 0 1 0 0-5";
const EARTH: &str = "M12 3v9M5 12h14M8 16h8M10.5 20h3";
const PAPER: &str = "M6 3h9l4 4v14h-13zM15 3v4h4M9 12h7M9 16h7";
const PHOTO: &str = "M3 7h5l2-3h4l2 3h5v12h-18zM12 9.5a3.5 3.5 0 1 0 0 7a3.5 3.5 0 1 0 0-7";
const PEN: &str = "M4 20l1-4L16 5l3 3L8 19zM14 7l3 3";

/// Title, undo and redo, settings.
#[component]
pub fn Header() -> impl IntoView {
    let app = app();
    let title = move || {
        let open = app.screen.with(|screen| screen.board().is_some());
        if !open {
            return t("ui-waywright").to_owned();
        }
        app.of_view(|view| sheet::text(&view.board, "/reference").to_owned())
            .unwrap_or_else(|| t("ui-opening").to_owned())
    };
    let under = move || {
        let open = app.screen.with(|screen| screen.board().is_some());
        if !open {
            return String::new();
        }
        app.of_view(|view| {
            let parts = [view.site_name.as_str(), sheet::text(&view.board, "/place")];
            parts.into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join(" · ")
        })
        .unwrap_or_default()
    };
    let on_board = move || app.screen.with(|screen| screen.board().is_some());
    let undo = Memo::new(move |_| app.of_view(|view| view.undo.clone()).flatten());
    let redo = Memo::new(move |_| app.of_view(|view| view.redo.clone()).flatten());
    let pending = pending();
    let waiting = move || pending.get() > 0;
    view! {
        <header class="top">
            {move || {
                on_board()
                    .then(|| view! { <a class="button back" href="#/" aria-label=t("ui-all-boards")>{icon(MENU)}</a> })
            }}
            <div class="title">
                <h1>{title}</h1>
                <p>{under}</p>
            </div>
            {move || waiting().then(|| view! { <span class="waiting" aria-hidden="true">{t("ui-working")}</span> })}
            {move || {
                on_board()
                    .then(|| {
                        view! {
                            <button
                                type="button"
                                data-undo=""
                                aria-disabled=move || undo.with(Option::is_none).to_string()
                                aria-label=move || undo.get().map_or_else(|| t("ui-undo-nothing-left").to_owned(), |what| tr("ui-undo-what", &[("what", what.into())]))
                                title=move || undo.get().unwrap_or_default()
                                on:click=move |_| app.undo()
                            >
                                {icon(UNDO)}
                                <span>{t("ui-undo")}</span>
                            </button>
                            <button
                                type="button"
                                data-redo=""
                                aria-disabled=move || redo.with(Option::is_none).to_string()
                                aria-label=move || redo.get().map_or_else(|| t("ui-redo-nothing-left").to_owned(), |what| tr("ui-redo-what", &[("what", what.into())]))
                                title=move || redo.get().unwrap_or_default()
                                on:click=move |_| app.redo()
                            >
                                {icon(REDO)}
                                <span>{t("ui-redo")}</span>
                            </button>
                        }
                    })
            }}
            <a class="button" href="#/settings" aria-label=t("ui-settings")>{icon(COG)}</a>
        </header>
    }
    .into_any()
}

/// The parts of a board, within a thumb's reach.
#[component]
pub fn Navigation() -> impl IntoView {
    let app = app();
    let board = Memo::new(move |_| app.screen.with(Screen::board));
    let link = move |part: Part, drawn: &'static str, words: &'static str, names: &'static [&'static str]| {
        let href = app.href(part);
        let here = move || app.screen.with(|screen| names.contains(&screen.name()));
        let count = move || {
            if names[0] != "findings" {
                return None;
            }
            let open = app.of_view(|view| {
                let fails = view.checks.iter().filter(|check| check.verdict == survey::Verdict::Fails).count();
                fails + view.conflicts.len()
            })?;
            (open > 0).then(
                || view! { <span class="count">{format!("{open} {}", sign(Some(survey::Verdict::Fails)))}</span> },
            )
        };
        view! {
            <a href=href data-nav=names[0] aria-current=move || here().then_some("page")>
                {icon(drawn)}
                <span>{words}</span>
                {count}
            </a>
        }
        .into_any()
    };
    move || {
        board.get().map(|_| {
            view! {
                <nav class="parts" aria-label=t("ui-parts")>
                    {link(Part::Drawing, BOARD, t("ui-nav-board"), &["board", "circuit", "add"])}
                    {link(Part::Findings, LIST, t("ui-nav-findings"), &["findings"])}
                    {link(Part::Plate(None), PLATE, t("ui-nav-plates"), &["plate"])}
                    {link(Part::Supply, EARTH, t("ui-nav-supply"), &["supply"])}
                    {link(Part::Papers, PAPER, t("ui-nav-papers"), &["papers"])}
                    {link(Part::Photos, PHOTO, t("ui-nav-photos"), &["photos"])}
                    {link(Part::Notes, PEN, t("ui-nav-notes"), &["notes"])}
                </nav>
            }
        })
    }
}

/// What was saved, what went wrong.
#[component]
pub fn Messages() -> impl IntoView {
    let app = app();
    view! {
        <div class="messages">
            <div role="status" aria-live="polite" data-message="status">
                {move || app.status.get().map(|message| said(app, message, false))}
            </div>
            <div role="alert" aria-live="assertive" data-message="alert">
                {move || app.alert.get().map(|message| said(app, message, true))}
            </div>
        </div>
    }
    .into_any()
}

fn said(app: App, message: Message, bad: bool) -> AnyView {
    let lines = message.lines.into_iter().map(|line| view! { <li>{line}</li> }).collect_view();
    view! {
        <div class=if bad { "message bad" } else { "message good" }>
            <div>
                <p>
                    <span aria-hidden="true">{if bad { "✗ " } else { "✓ " }}</span>
                    {message.text}
                </p>
                <ul>{lines}</ul>
            </div>
            {bad.then(|| {
                view! {
                    <button type="button" data-dismiss="" on:click=move |_| app.dismiss(message.upto)>
                        {t("ui-dismiss")}
                    </button>
                }
            })}
        </div>
    }
    .into_any()
}
