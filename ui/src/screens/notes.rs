//! Notes on the board.

use leptos::prelude::*;
use serde_json::{Value, json};
use survey::Seen;
use survey::intent::Intent;

use crate::parts::plain::{SwitchField, TextField};
use crate::sheet;
use crate::state::app;
use crate::words::{said, t, tr};

/// The notes of the board.
#[component]
pub fn Notes() -> impl IntoView {
    let app = app();
    let text = RwSignal::new(String::new());
    let about = RwSignal::new(String::new());
    let notes = Memo::new(move |_| {
        app.of_view(|view| {
            let text = |note: &Value, key: &str| note[key].as_str().unwrap_or_default().to_owned();
            let day = |note: &Value| note["at"].as_str().and_then(|at| at.get(..10)).unwrap_or_default().to_owned();
            // Ids grow with time: the newest first.
            let notes = sheet::live(&view.board, "notes").rev();
            notes
                .map(|(id, note)| (id.to_owned(), text(note, "about"), text(note, "role"), day(note)))
                .collect::<Vec<_>>()
        })
        .unwrap_or_default()
    });
    let subjects = Memo::new(move |_| {
        app.of_view(|view| {
            let circuits = view.rows.iter().map(|row| {
                (
                    format!("/circuits/{}", row.id),
                    tr("ui-notes-circuit", &[("circuit", format!("{} {}", row.name, row.description).into())]),
                )
            });
            let plates = view.plates.iter().map(|plate| (format!("/plates/{}", plate.id), plate.name.clone()));
            circuits.chain(plates).collect::<Vec<_>>()
        })
        .unwrap_or_default()
    });
    let add = move |_| {
        let words = text.get_untracked().trim().to_owned();
        if words.is_empty() {
            return;
        }
        app.edit_then(Intent::AddNote { text: words, about: about.get_untracked() }, move |result| {
            if result.is_ok() {
                let _ = text.try_set(String::new());
            }
        });
    };
    view! {
        <div class="single">
            <h2>{t("ui-notes-seen")}</h2>
            <Observations subjects />
            <h3>{t("ui-notes")}</h3>
            <section class="box">
                <div class="field">
                    <label class="name" for="note">{t("ui-notes-new")}</label>
                    <textarea
                        id="note"
                        rows="3"
                        data-note-new=""
                        prop:value=move || text.get()
                        on:input=move |event| text.set(event_target_value(&event))
                    ></textarea>
                </div>
                {about_field("note-about", subjects, about)}
                <button type="button" class="main" data-note-add="" on:click=add>{t("ui-notes-keep")}</button>
            </section>
            {move || {
                notes
                    .get()
                    .into_iter()
                    .map(|(id, about, role, day)| {
                        let subject = subjects.with_untracked(|subjects| subject_of(subjects, &about));
                        let link = (!about.is_empty())
                            .then(|| {
                                let go = about.clone();
                                view! {
                                    <button type="button" on:click=move |_| app.jump(&go)>
                                        {subject.unwrap_or_else(|| t("ui-go-there").to_owned())}
                                    </button>
                                }
                            });
                        let removed = format!("/notes/{id}/removed");
                        view! {
                            <section class="box" data-note=id.clone()>
                                <TextField path=format!("/notes/{id}/text") />
                                <div class="row spread">
                                    <span class="soft">{format!("{role} {day}")}</span>
                                    {link}
                                    <button
                                        type="button"
                                        on:click=move |_| app.set(removed.clone(), json!(true))
                                    >
                                        {t("ui-remove")}
                                    </button>
                                </div>
                            </section>
                        }
                    })
                    .collect_view()
            }}
        </div>
    }
    .into_any()
}

/// The name of a subject, where it is one of the list.
fn subject_of(subjects: &[(String, String)], about: &str) -> Option<String> {
    subjects.iter().find(|(path, _)| path == about).map(|(_, words)| words.clone())
}

/// Picks what something is about: the board, a circuit, a plate.
fn about_field(id: &'static str, subjects: Memo<Vec<(String, String)>>, about: RwSignal<String>) -> AnyView {
    view! {
        <div class="field">
            <label class="name" for=id>{t("ui-notes-about")}</label>
            <select id=id data-about="" on:change=move |event| about.set(event_target_value(&event))>
                <option value="">{t("ui-notes-the-board")}</option>
                {move || {
                    subjects
                        .get()
                        .into_iter()
                        .map(|(path, words)| view! { <option value=path>{words}</option> })
                        .collect_view()
                }}
            </select>
        </div>
    }
    .into_any()
}

/// What was seen that should not stay so: picked from a list, about a circuit or the board.
#[component]
fn Observations(subjects: Memo<Vec<(String, String)>>) -> impl IntoView {
    let app = app();
    let seen = RwSignal::new(None::<Seen>);
    let about = RwSignal::new(String::new());
    let place = RwSignal::new(String::new());
    let list = Memo::new(move |_| {
        app.of_view(|view| {
            let text = |one: &Value, key: &str| one[key].as_str().unwrap_or_default().to_owned();
            let words = |key: &str| Seen::ALL.iter().find(|one| one.key() == key).map_or("", |one| said(one.words()));
            let found = sheet::live(&view.board, "observations").rev();
            found.map(|(id, one)| (id.to_owned(), words(&text(one, "seen")), text(one, "about"))).collect::<Vec<_>>()
        })
        .unwrap_or_default()
    });
    let add = move |_| {
        let Some(what) = seen.get_untracked() else { return };
        let intent = Intent::AddObservation {
            seen: what,
            about: about.get_untracked(),
            place: place.get_untracked().trim().to_owned(),
        };
        app.edit_then(intent, move |result| {
            if result.is_ok() {
                let _ = place.try_set(String::new());
            }
        });
    };
    let pick = move |event| {
        let key = event_target_value(&event);
        seen.set(Seen::ALL.iter().copied().find(|one| one.key() == key));
    };
    view! {
        <section class="box">
            <div class="field">
                <label class="name" for="seen">{t("ui-notes-not-right")}</label>
                <select id="seen" data-seen-new="" on:change=pick>
                    <option value="">{t("ui-pick-one")}</option>
                    {Seen::ALL
                        .iter()
                        .map(|one| view! { <option value=one.key()>{said(one.words())}</option> })
                        .collect_view()}
                </select>
            </div>
            {about_field("seen-about", subjects, about)}
            <div class="field">
                <label class="name" for="seen-place">{t("ui-notes-where")}</label>
                <input
                    id="seen-place"
                    type="text"
                    data-seen-place=""
                    prop:value=move || place.get()
                    on:input=move |event| place.set(event_target_value(&event))
                />
            </div>
            <button
                type="button"
                class="main"
                data-seen-add=""
                disabled=move || seen.get().is_none()
                on:click=add
            >
                {t("ui-notes-record")}
            </button>
        </section>
        {move || {
            list.get()
                .into_iter()
                .map(|(id, words, about)| {
                    let subject = subjects.with(|subjects| subject_of(subjects, &about));
                    let removed = format!("/observations/{id}/removed");
                    view! {
                        <section class="box" data-seen=id.clone()>
                            <p>
                                <strong>{crate::state::capital(words)}</strong>
                                {subject.map(|subject| format!(": {subject}"))}
                            </p>
                            <TextField path=format!("/observations/{id}/place") />
                            <SwitchField path=format!("/observations/{id}/put_right") />
                            <button type="button" on:click=move |_| app.set(removed.clone(), json!(true))>
                                {t("ui-remove")}
                            </button>
                        </section>
                    }
                })
                .collect_view()
        }}
    }
    .into_any()
}
