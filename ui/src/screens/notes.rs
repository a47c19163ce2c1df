//! Notes on the board.

use leptos::prelude::*;
use serde_json::{Value, json};
use survey::intent::Intent;

use crate::parts::plain::TextField;
use crate::sheet;
use crate::state::app;

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
            let circuits = view
                .rows
                .iter()
                .map(|row| (format!("/circuits/{}", row.id), format!("circuit {} {}", row.name, row.description)));
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
            <h2>"Notes"</h2>
            <section class="box">
                <div class="field">
                    <label class="name" for="note">"New note"</label>
                    <textarea
                        id="note"
                        rows="3"
                        data-note-new=""
                        prop:value=move || text.get()
                        on:input=move |event| text.set(event_target_value(&event))
                    ></textarea>
                </div>
                <div class="field">
                    <label class="name" for="note-about">"About"</label>
                    <select id="note-about" data-note-about="" on:change=move |event| about.set(event_target_value(&event))>
                        <option value="">"the board"</option>
                        {move || {
                            subjects
                                .get()
                                .into_iter()
                                .map(|(path, words)| view! { <option value=path>{words}</option> })
                                .collect_view()
                        }}
                    </select>
                </div>
                <button type="button" class="main" data-note-add="" on:click=add>"Keep the note"</button>
            </section>
            {move || {
                notes
                    .get()
                    .into_iter()
                    .map(|(id, about, role, day)| {
                        let subject = subjects
                            .with_untracked(|subjects| {
                                subjects.iter().find(|(path, _)| *path == about).map(|(_, words)| words.clone())
                            });
                        let link = (!about.is_empty())
                            .then(|| {
                                let go = about.clone();
                                view! {
                                    <button type="button" on:click=move |_| app.jump(&go)>
                                        {subject.unwrap_or_else(|| "Go there".to_owned())}
                                    </button>
                                }
                            });
                        let removed = format!("/notes/{id}/removed");
                        view! {
                            <section class="box" data-note=id.clone()>
                                <TextField path=format!("/notes/{id}/text") label="Note" />
                                <div class="row spread">
                                    <span class="soft">{format!("{role} {day}")}</span>
                                    {link}
                                    <button
                                        type="button"
                                        on:click=move |_| app.set(removed.clone(), json!(true))
                                    >
                                        "Remove"
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
